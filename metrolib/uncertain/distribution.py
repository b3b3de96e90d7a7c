"""What the draws say of one result, beside what the linear law says."""

from dataclasses import dataclass, field
from functools import cached_property
from html import escape

import numpy as np

from metrolib.uncertain.intervals import normal_interval, numerical_tolerance, standard_error
from metrolib.units import show_length


@dataclass(frozen=True, eq=False)
class Distribution:
    """How a result scatters when the heights are drawn within their joint uncertainty.

    Lengths are in mm; those of a slope in mm/m.

    Attributes
    ----------
    value : float
        The result on the heights as measured.
    mean, u : float
        Mean and standard deviation of the draws.
    symmetric : (float, float)
        The interval with as many draws below as above it.
    shortest : (float, float)
        The shortest interval with the same share of the draws.
    coverage : float
        That share.
    draws : int
    samples : ndarray, shape (draws,)
        The result of each draw, in ascending order.
    linear_u : float
        Standard uncertainty of `value` by the linear law.
    digits : int
        Significant digits that are meant of the uncertainty.
    settled : bool or None
        Whether mean, u and the ends of the symmetric interval are known to `digits` digits of u;
        None where there are fewer than two batches of draws to tell it from.
    seed : int
        With it the same draws come again.
    quantity : str
        ``"length"`` or ``"slope"``.
    """

    value: float
    mean: float
    u: float
    symmetric: tuple[float, float]
    shortest: tuple[float, float]
    coverage: float
    draws: int
    samples: np.ndarray = field(repr=False)
    linear_u: float
    digits: int
    settled: bool | None
    seed: int
    quantity: str = "length"

    @property
    def bias(self):
        """How much more the draws give on average than the heights as measured."""
        return self.mean - self.value

    @property
    def linear_interval(self):
        """The interval of the linear law: `value` more or less k `linear_u`, k of a normal law."""
        return normal_interval(self.value, self.linear_u, self.coverage)

    @property
    def tolerance(self):
        """Half a unit of the last meant digit of `u` (JCGM 101:2008, 7.9.2)."""
        return numerical_tolerance(self.u, self.digits)

    @cached_property
    def apart(self):
        """How far the ends of the linear and the symmetric interval lie apart (8.1.3), (2,)."""
        ends = zip(self.linear_interval, self.symmetric, strict=True)
        return tuple(abs(linear - drawn) for linear, drawn in ends)

    @property
    def agrees(self):
        """Whether the linear law holds here, by JCGM 101:2008, clause 8, to `digits` digits."""
        return max(self.apart) <= self.tolerance

    @cached_property
    def ends_u(self):
        """Standard uncertainty of the symmetric interval's ends, for the number of draws, (2,)."""
        return tuple(
            standard_error(self.samples, share)
            for share in ((1 - self.coverage) / 2, (1 + self.coverage) / 2)
        )

    @property
    def clear(self):
        """Whether more draws would hardly change what `agrees` says: it clears 2 `ends_u`."""
        margins = [
            (self.tolerance - apart, 2 * u)
            for apart, u in zip(self.apart, self.ends_u, strict=True)
        ]
        if self.agrees:
            return all(margin >= reach for margin, reach in margins)
        return any(margin < -reach for margin, reach in margins)

    def in_words(self, unit="um"):
        """Return what the draws say, in one sentence.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``; a slope is always said in mm/m.
        """
        bias = self._said(self.bias, unit, sign=True)
        if abs(self.bias) > self.tolerance:
            bias += ", which the measured value is likely to hold too"
        holds = "holds" if self.agrees else "does not hold"
        return (
            f"{self.draws} draws: mean {self._said(self.mean, unit)} (bias {bias}), "
            f"u = {self._said(self.u, unit)}; {self.coverage * 100:.10g} % of them between "
            f"{self._between(self.symmetric, unit)} (shortest: "
            f"{self._between(self.shortest, unit)}); the linear law, "
            f"{self._between(self.linear_interval, unit)}, {holds} to {self._figures()} of u"
            f"{self._doubt()}"
        )

    def _said(self, number, unit, *, sign=False):
        if self.quantity == "slope":
            return f"{number + 0.0:{'+' if sign else ''}.4f} mm/m"
        return show_length(number, unit, sign=sign)

    def _between(self, interval, unit):
        return " and ".join(self._said(end, unit) for end in interval)

    def _figures(self):
        return "1 digit" if self.digits == 1 else f"{self.digits} digits"

    def _doubt(self):
        if self.settled is False:
            return f"; too few draws to be sure of {self._figures()}"
        return "" if self.clear else "; more draws may say otherwise of the law"

    def __str__(self):
        return self.in_words()

    def _repr_html_(self):
        rows = [
            ("as measured", self._said(self.value, "um")),
            ("mean of the draws", self._said(self.mean, "um")),
            ("bias", self._said(self.bias, "um", sign=True)),
            ("u of the draws", self._said(self.u, "um")),
            ("u of the linear law", self._said(self.linear_u, "um")),
            ("symmetric interval", self._between(self.symmetric, "um")),
            ("shortest interval", self._between(self.shortest, "um")),
            ("interval of the linear law", self._between(self.linear_interval, "um")),
            ("linear law", f"{'holds' if self.agrees else 'does not hold'} to {self._figures()}"),
            ("draws", f"{self.draws}{self._doubt()}"),
        ]
        body = "".join(f"<tr><th>{escape(a)}</th><td>{escape(b)}</td></tr>" for a, b in rows)
        title = f"Draws, coverage {self.coverage * 100:.10g} %"
        return f"<table><caption>{title}</caption>{body}</table>"
