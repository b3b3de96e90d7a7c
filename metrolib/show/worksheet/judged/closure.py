"""Closure: whether the instrument, back where the traverse began, reads what it read there."""

from dataclasses import dataclass, replace

import numpy as np

from metrolib.heights.stations import MERGE
from metrolib.show.worksheet.judged.slip_names import decimals
from metrolib.show.worksheet.typed import unit_sign
from metrolib.units import show_length

#: Coverage factor of what is allowed (a level of confidence near 95 %).
_K = 2


@dataclass(frozen=True)
class Closure:
    """How a traverse closes.

    Attributes
    ----------
    traverse : str
    kind : str
        ``"station"``: the first station was read again at the end; ``"way"``: the same steps were
        taken out and back.
    misclosure : float
        The last reading less the first, or what the way back adds to the way out [mm or mm/m].
    u : float
        Its standard uncertainty from the readings alone [mm or mm/m].
    drift_u : float
        Standard uncertainty of the drift that the survey counts with [mm or mm/m].
    words : str
    """

    traverse: str
    kind: str
    misclosure: float
    u: float
    drift_u: float
    words: str

    @property
    def allowed(self):
        """How large it may be, at two standard uncertainties [mm or mm/m]."""
        return _K * float(np.hypot(self.u, self.drift_u))

    @property
    def within(self):
        """Whether instrument and drift allow it."""
        return abs(self.misclosure) <= self.allowed

    def __str__(self):
        return self.words


def closure(survey, traverse):
    """Return how a traverse closes.

    Parameters
    ----------
    survey : Survey
    traverse : str
        Its name.

    Returns
    -------
    Closure or None
        None as long as it has not come back.

    Notes
    -----
    Back at the first station, the misclosure is the last reading there less the first ones, with
    ``u² = u_reading² (1 + 1/n)`` and the drift that the traverse is given beside it.

    Where a level was stepped out and, lying the same way round, back over the same steps in another
    traverse, both add up to a height of the last station over the first. The difference of the two
    heights has ``u = L/1000 sqrt(2 n) u_reading`` for n steps of length L; a zero error falls out.
    Turned end for end on the way back, the level tells its zero instead, and nothing closes.
    """
    own = survey.traverses[traverse]
    readings = survey.readings.of(traverse)
    found = _station(survey, own, readings)
    return _way(survey, own, readings) if found is None else found


def _station(survey, traverse, readings):
    """Return the closure at the first station, or None."""
    if len(readings) < 3:
        return None
    here = (np.abs(readings.x - readings.x[0]) <= MERGE) & (readings.face == readings.face[0])
    away = np.flatnonzero(~here)
    if not here[-1] or not away.size:
        return None
    first = np.flatnonzero(here[: away[0]])
    instrument = survey.instruments[traverse.instrument]
    again = readings.value[away[-1] + 1 :]
    off = instrument.factor * float(again.mean() - readings.value[first].mean())
    u = instrument.u * float(np.sqrt(1 / first.size + 1 / again.size))
    found = Closure(
        traverse.name, "station", off, u, instrument.factor * traverse.drift_uncertainty, ""
    )
    digits, sign = decimals(instrument), unit_sign(instrument.unit)

    def written(size):
        return f"{size / instrument.factor:.{max(digits, 1)}f} {sign}"

    return replace(found, words=_words(found, f"back at {readings.x[0]:g} mm", written))


def _way(survey, traverse, readings):
    """Return the closure of the way out and back, or None."""
    out = _way_out(survey, traverse, readings)
    if out is None:
        return None
    other, there = out
    instrument = survey.instruments[traverse.instrument]
    lift = traverse.settings["foot_spacing"] / 1e3
    count = len(readings)
    steps = readings.value.sum() - there.value.sum()
    off = -instrument.factor * lift * float(steps) * traverse.sign
    u = instrument.u * lift * float(np.sqrt(2 * count))
    drift = instrument.factor * lift * count
    drift *= float(np.hypot(traverse.drift_uncertainty, other.drift_uncertainty)) / np.sqrt(3)
    found = Closure(traverse.name, "way", off, u, drift, "")
    unit = survey.display
    where = f"back at the beginning of {other.name!r}"
    return replace(found, words=_words(found, where, lambda size: show_length(size, unit)))


def _way_out(survey, traverse, readings):
    """Return the earlier traverse over the same steps with its readings, or None."""
    if traverse.kind != "level along" or not len(readings):
        return None
    for other in survey.traverses.values():
        there = survey.readings.of(other.name)
        same = (other.instrument, other.state, other.kind, other.sign, _laid(other)) == (
            traverse.instrument,
            traverse.state,
            traverse.kind,
            traverse.sign,
            _laid(traverse),
        )
        if other.name == traverse.name or not same or len(there) != len(readings):
            continue
        steps = np.sort(there.x), np.sort(readings.x)
        if np.allclose(*steps, atol=MERGE) and there.order.max() < readings.order.min():
            return other, there
    return None


def _laid(traverse):
    """Return how a level lies, in a form that can be compared; not turned unless it says so."""
    return repr(sorted({"turned": False, **traverse.settings}.items()))


def _words(found, where, written):
    """Say how it closes and whether that is well."""
    off = abs(found.misclosure)
    said = f"Closure: {where} the misclosure is {written(off)}"
    if found.within:
        return (
            f"{said}, within the {written(found.allowed)} that instrument and drift allow "
            "(two standard uncertainties)."
        )
    cause = (
        "the set-up or the bed moved, or warmed, under way; take the traverse again"
        if found.drift_u
        else "the set-up or the bed moved, or warmed, under way; take the traverse again, or give "
        "it a drift_uncertainty in survey.toml and the adjustment shares it out"
    )
    return (
        f"{said}, more than the {written(found.allowed)} that instrument and drift allow "
        f"(two standard uncertainties): {cause}."
    )
