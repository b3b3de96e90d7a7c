"""Watches: what a gauge reads on a face of a plan, for each height of the face."""

from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np

from metrolib import checks
from metrolib.errors import InputError, NotDeterminedError
from metrolib.heights.contact_rows import carriage, gauge, micrometer
from metrolib.heights.frame import fit_motion, rigid_columns
from metrolib.heights.rows import At, Extra
from metrolib.heights.stations import MERGE
from metrolib.rebuild.findings import UNKNOWN
from metrolib.rebuild.stages.gauges import WATCHING, Gauge
from metrolib.survey.machine import Machine

#: The row function of each reading kind.
_ROWS = dict(zip(WATCHING, (micrometer, carriage, gauge), strict=True))


@dataclass(frozen=True, eq=False)
class Watch:
    """What a gauge reads at the stations of a plan.

    Attributes
    ----------
    gauge : Gauge
    stations : ndarray of int, shape (m,)
        Where it can read, as places in the arrays of the plan.
    now : ndarray, shape (m,)
        What it would read on the face as it stands if its scale were right [mm].
    reference_u : ndarray, shape (m,)
        Standard uncertainty of what the reading is taken from, against the plan's frame [mm].
    scale, scale_u : float
        Relative error of its scale, and its standard uncertainty.
    zero_at : float or None
        Where it is set to zero [mm].
    """

    gauge: Gauge
    stations: np.ndarray
    now: np.ndarray
    reference_u: np.ndarray
    scale: float
    scale_u: float
    zero_at: float | None

    def reading(self, taken):
        """Return what it reads when so much has come off, shape (m,) [mm].

        Parameters
        ----------
        taken : ndarray, shape (m,)
            [mm]
        """
        return (self.now - self.gauge.traverse.sign * taken) / (1 - self.scale)

    def u(self, reading):
        """Return the standard uncertainty of the height at which a reading stops, shape (m,)."""
        return np.sqrt(
            self.reference_u**2 + (self.scale_u * reading) ** 2 + self.gauge.instrument.u**2
        )


def watch(plan, gauge):
    """Work out what a gauge reads on a plan's face as it stands.

    Parameters
    ----------
    plan : RemovalPlan
    gauge : Gauge

    Returns
    -------
    Watch

    Raises
    ------
    InputError
        If the face is none of the plan's, a reference is cut by the plan or has no stations beside
        those of the face, or the place of its zero is no station.
    NotDeterminedError
        If the readings do not tie the face to the reference.
    """
    _check(plan, gauge)
    mine = np.flatnonzero((plan.face == gauge.face) & ~plan.left_out)
    mine = mine[plan.y[mine] == plan.faces[gauge.face].y]
    terms = _terms(plan, gauge, plan.x[mine])
    sign = gauge.traverse.sign
    own = np.zeros((mine.size, plan.heights.x.size))
    own[np.arange(mine.size), plan.group.index[mine]] = sign
    # the first term is the face under the stylus; what the others name is what it is read from
    rest, reached = _weights(plan.heights, [term for term in terms[1:] if isinstance(term, At)])
    if not reached.any():
        raise InputError(
            f"gauge on {gauge.face!r}: none of its {mine.size} stations lies between stations of "
            f"{_names(gauge)}, so there is nothing to measure from; measure that too"
        )
    rows, zero_at = own + rest, None
    if gauge.absolute:
        zero, zero_u = _zero(plan, gauge, terms)
    else:
        first = _zero_station(plan, gauge, mine, reached)
        zero_at = float(plan.x[mine[first]])
        rows, zero, zero_u = rows - rows[first], 0.0, 0.0
    scale, scale_u = _scale(plan.heights, gauge)
    now = rows @ plan.heights.values + zero
    _refuse_untied(plan, gauge, rows[reached])
    reference = (rows - own) @ _less_motion(plan)
    variance = ((reference @ plan.heights.cov) * reference).sum(axis=1) + zero_u**2
    return Watch(
        gauge,
        mine[reached],
        now[reached],
        np.sqrt(np.maximum(variance[reached], 0.0)),
        scale,
        scale_u,
        zero_at,
    )


def _check(plan, gauge):
    """Refuse a gauge that cannot watch a face of this plan."""
    checks.choice("face of the gauge", gauge.face, plan.faces)
    checks.choice("kind of the gauge", gauge.traverse.kind, _ROWS)
    if not gauge.division > 0:
        raise checks.wrong(
            f"gauge on {gauge.face!r}",
            "its instrument needs a resolution above 0",
            gauge.division,
            "give the division that is read",
        )
    for name in gauge.rests_on & {*plan.faces}:
        cut = plan.depth[(plan.face == name) & ~plan.left_out]
        if cut.max(initial=0.0) > 0:
            raise InputError(
                f"gauge on {gauge.face!r}: {name!r}, which it is read from, is cut by the plan "
                f"itself by up to {1000 * cut.max():.1f} µm; measure from a face outside the plan"
            )


def _names(gauge):
    """Write the faces that a gauge is read from."""
    return " and ".join(sorted(map(repr, gauge.rests_on))) or "any face"


def _terms(plan, gauge, x):
    """Return the terms of readings at these places, as the adjustment writes them."""
    faces = plan.heights.faces
    survey = SimpleNamespace(
        machine=Machine("", faces=faces), instruments={gauge.traverse.instrument: gauge.instrument}
    )
    count = x.size
    readings = SimpleNamespace(face=np.full(count, gauge.face, dtype=object), x=x)
    return _ROWS[gauge.traverse.kind](gauge.traverse, readings, survey)


def _weights(heights, terms):
    """Return terms as weights of all heights, and which rows find stations on either side."""
    count = np.size(terms[0].x) if terms else 0
    rows, reached = np.zeros((count, heights.x.size)), np.full(count, bool(terms))
    for term in terms:
        names = np.broadcast_to(np.asarray(term.face, dtype=object), count)
        coefficient = np.broadcast_to(term.coefficient, count)
        for name in dict.fromkeys(names):
            here = names == name
            line = np.flatnonzero((heights.face == name) & (heights.y == heights.faces[name].y))
            line = line[np.argsort(heights.x[line], kind="stable")]
            if not line.size:
                reached[here] = False
                continue
            found = _interpolation(heights.x[line], np.asarray(term.x)[here])
            rows[np.ix_(here, line)] += coefficient[here][:, None] * np.nan_to_num(found)
            reached[here] &= ~np.isnan(found).any(axis=1)
    return rows, reached


def _interpolation(x, at):
    """Return straight-line weights of stations for places; NaN beyond the ends."""
    inside = (at >= x[0] - MERGE) & (at <= x[-1] + MERGE)
    columns = [np.interp(at, x, unit) for unit in np.eye(x.size)]
    return np.where(inside[:, None], np.column_stack(columns), np.nan)


def _zero(plan, gauge, terms):
    """Return the zero of the instrument as the survey found it, and its standard uncertainty."""
    for term in terms:
        if isinstance(term, Extra) and term.name in plan.heights.extras:
            found = plan.heights.extras[term.name]
            return found.nominal_value, found.std_dev
    return 0.0, gauge.instrument.factor * gauge.instrument.calibration_uncertainty


def _scale(heights, gauge):
    """Return the relative error of the instrument's scale, and its standard uncertainty."""
    name = f"scale of {gauge.instrument.name}"
    if name in heights.extras:
        return heights.extras[name].nominal_value, heights.extras[name].std_dev
    return 0.0, gauge.instrument.sensitivity_uncertainty


def _zero_station(plan, gauge, mine, reached):
    """Return which of the stations an indicator is set to zero at."""
    if gauge.zero_at is None:
        depth = np.where(reached, plan.depth[mine], np.inf)
        return int(depth.argmin())
    near = np.abs(plan.x[mine] - gauge.zero_at) + np.where(reached, 0.0, np.inf)
    if near.min() > MERGE:
        at = ", ".join(f"{x:g}" for x in plan.x[mine[reached]])
        raise checks.wrong(
            "zero_at", "no station that it reads lies there", gauge.zero_at, f"use one of {at}"
        )
    return int(near.argmin())


def _less_motion(plan):
    """Return what takes the rigid motion of the plan's frame out of all heights, shape (N, N)."""
    heights, decision = plan.heights, plan.decision
    columns = rigid_columns(heights.faces, heights.face, heights.x, heights.y)
    first = np.isin(heights.face, decision.datum) & ~heights.left_out
    then = np.isin(heights.face, decision.faces) & ~heights.left_out
    return np.eye(heights.x.size) - columns @ fit_motion(columns, first, then)


def _refuse_untied(plan, gauge, rows):
    """Refuse a reading that the survey does not determine."""
    u = np.sqrt(np.maximum(((rows @ plan.heights.cov) * rows).sum(axis=1), 0.0))
    if u.max() > UNKNOWN:
        raise NotDeterminedError(
            f"gauge on {gauge.face!r}: what it reads there is not determined (u = "
            f"{u.max():.2f} mm, the limit is {UNKNOWN:g} mm); take a "
            f"{gauge.traverse.kind} reading from {_names(gauge)} first"
        )
