"""Cutting the flanks of a vee: what each depth does to the saddle, and the depths for a wish."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.form import wording
from metrolib.form.vee import seat_motion, unit_normals, vee_normals
from metrolib.units import show_length

_UPRIGHT = 1e-9  # a flank whose normal rises by less stands upright


@dataclass(frozen=True, eq=False)
class VeeCut:
    """Depths off the two flanks of a vee, and how the saddle moves for them.

    Each is a float, an `uncertainties` number, or an array of either, one for each station.

    Attributes
    ----------
    depths : tuple of two
        Off flank A and flank B, along their normals [mm].
    drop : float, `uncertainties` number or ndarray
        How far the saddle comes down [mm].
    shift : float, `uncertainties` number or ndarray
        How far it goes toward +y [mm].
    normals : (float, float)
        Of the flanks [deg].
    """

    depths: tuple
    drop: object
    shift: object
    normals: tuple[float, float]

    def on(self, normal=0.0):
        """Return what must come off another face of that normal, so that the saddle does not roll.

        Parameters
        ----------
        normal : float
            Of the other face [deg]: 0 for a flat, which must lose the drop itself.

        Returns
        -------
        float, `uncertainties` number or ndarray
            [mm]; below zero where the saddle leaves the face, so that nothing comes off.
        """
        angle = np.deg2rad(checks.number("normal", normal))
        return self.drop * float(np.cos(angle)) - self.shift * float(np.sin(angle))

    def in_words(self, unit="um"):
        """Return the sentence that a rebuilder would write down.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        off = wording.listing(
            f"{_said(depth, unit)} off the flank at {normal:g} deg"
            for depth, normal in zip(self.depths, self.normals, strict=True)
        )
        return (
            f"{off}: the saddle drops by {_said(self.drop, unit)} and goes "
            f"{_said(self.shift, unit, sign=True)} toward +y; a flat beside the vee must lose the "
            "drop itself, or the roll of the saddle changes"
        )

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        rows = [
            (f"off the flank at {normal:g} deg", _said(depth, "um"))
            for depth, normal in zip(self.depths, self.normals, strict=True)
        ]
        rows += [
            ("drop of the saddle", _said(self.drop, "um")),
            ("shift toward +y", _said(self.shift, "um", sign=True)),
            ("off a flat beside the vee", _said(self.on(), "um")),
        ]
        return wording.table("Cut of a vee", rows)


def vee_cut(normals, *, depths=None, drop=None, shift=None):
    r"""Turn depths off the flanks of a vee into drop and shift of the saddle, or the reverse.

    Parameters
    ----------
    normals : (float, float)
        Directions of the outward normals of flank A and B [deg], as for `vee`.
    depths : (A, B), optional
        What comes off each flank along its normal [mm]: floats, `uncertainties` numbers, or arrays
        with one for each station.
    drop, shift : float, `uncertainties` number or ndarray, optional
        Instead of `depths`: how far the saddle is to come down, and to go toward +y [mm]; a shift
        that is not given is none.

    Returns
    -------
    VeeCut

    Raises
    ------
    InputError
        If the flanks make no vee, a depth is below zero, both or none of depths and drop are given,
        or the shift asked for needs metal put on.

    Notes
    -----
    A saddle that keeps touching both flanks moves by :math:`n_i \cdot (h, v) = -t_i`. Of a vee with
    the half angle θ, t off both flanks lets it down by :math:`t / \sin\theta`; t off one flank by
    half of that, and it steps :math:`t / (2 \cos\theta)` sideways, away from a ridge's flank that
    was cut. So flats and vees must be cut by different depths if the saddle is not to roll:
    ``found.on(0)`` is the flat's. For small depths against the width of the flanks; angles stay.

    Examples
    --------
    A saddle that is to come straight down by 0.1 mm on a 90 deg ridge:

    >>> from metrolib.rebuild.removal.vee_cut import vee_cut
    >>> print(vee_cut((-45, 45), drop=0.1))
    70.7 µm off the flank at -45 deg and 70.7 µm off the flank at 45 deg: the saddle drops by
    100.0 µm and goes +0.0 µm toward +y; a flat beside the vee must lose the drop itself, or the
    roll of the saddle changes
    >>> one_flank = vee_cut((-45, 45), depths=(0.1, 0))
    >>> round(one_flank.drop, 4), round(one_flank.shift, 4)
    (0.0707, 0.0707)
    """
    normals, _ = vee_normals(normals)
    if (depths is None) == (drop is None) or (depths is not None and shift is not None):
        raise checks.wrong(
            "depths",
            "either depths or drop is needed",
            "none" if depths is None else "both",
            "give one",
        )
    if depths is None:
        drop, shift = _number("drop", drop), _number("shift", 0.0 if shift is None else shift)
        _same_stations(drop=drop, shift=shift)
        depths = tuple(drop * up - shift * across for across, up in unit_normals(normals).tolist())
        if min(map(_least, depths)) < -1e-12:
            raise _metal_put_on(normals, depths)
    else:
        if not hasattr(depths, "__len__") or len(depths) != 2:
            raise checks.wrong("depths", "two are needed", depths, "one for each flank")
        depths = tuple(_number("depths", depth) for depth in depths)
        _same_stations(**dict(zip(("off A", "off B"), depths, strict=True)))
        if min(map(_least, depths)) < 0:
            raise checks.wrong(
                "depths", "nothing can be put on", min(map(_least, depths)), "give them above zero"
            )
        (a, b), (c, d) = seat_motion(normals).tolist()
        shift, drop = -(depths[0] * a + depths[1] * b), depths[0] * c + depths[1] * d
    return VeeCut(depths, drop, shift, normals)


def _metal_put_on(normals, depths):
    """Return the error for a move that no removal brings, with how far short it falls."""
    short = min(range(2), key=lambda i: _least(depths[i]))
    up = unit_normals(normals)[:, 1]
    remedy = "ask for a smaller shift or a deeper drop"
    if up.min() > _UPRIGHT:
        deeper = max(-_least(depth) / slope for depth, slope in zip(depths, up, strict=True))
        remedy = (
            f"ask for a smaller shift, or let the saddle drop {show_length(deeper, 'um')} deeper"
        )
    return checks.wrong(
        "shift",
        f"the flank at {normals[short]:g} deg would have to grow by "
        f"{show_length(-_least(depths[short]), 'um')}",
        f"depths {wording.listing(show_length(_least(depth), 'um') for depth in depths)}",
        remedy,
    )


def _same_stations(**numbers):
    """Refuse arrays of different lengths; one number goes with any."""
    checks.same_length(**{name: each for name, each in numbers.items() if np.ndim(each) > 0})


def _number(argument, value):
    """Return a number, or an array of numbers, that is finite; uncertain ones as they are."""
    if np.ndim(value) == 0:
        return checks.quantity(argument, value)
    array = np.asarray(value)
    checks.vector(argument, _nominal(array))
    return array


def _nominal(value):
    """Return the plain numbers, shape of `value` or (1,)."""
    return np.array([wording.nominal(one) for one in np.atleast_1d(np.asarray(value))])


def _least(value):
    """Return the least of one number or several."""
    return float(_nominal(value).min())


def _said(value, unit, *, sign=False):
    """Say a length, or between which two the lengths at several stations lie."""
    numbers = _nominal(value)
    ends = [show_length(one, unit, sign=sign) for one in (numbers.min(), numbers.max())]
    if ends[0] == ends[1]:
        sure = "" if np.ndim(value) else wording.expanded(value, unit)
        return f"{ends[0]}{sure}"
    return " to ".join(ends)
