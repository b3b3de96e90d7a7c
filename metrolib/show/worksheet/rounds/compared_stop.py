"""Compared stop: what is told at the prompt where no reading by itself says when to stop."""

import numpy as np

from metrolib.heights.stations import MERGE
from metrolib.rebuild.removal.conditions import named
from metrolib.rebuild.stages.gauges import WATCHING, Gauge
from metrolib.rebuild.stages.watches import watch
from metrolib.units import show_length

_NONE = 5e-5  # a difference below this is none [mm]
_SLOPES = "it reads slopes, which tell no depth"
_EDGE = "the straightedge is set up anew each time"

#: Why a reading kind has no stop reading.
_WHY = {
    "level along": _SLOPES,
    "level across": _SLOPES,
    "straightedge": _EDGE,
    "feeler gap": _EDGE,
    "wire": "the wire is stretched anew each time",
    "comparison": "it is set up anew each time",
}


def watch_of(survey, traverse, plan):
    """Return what a traverse reads on the face of a plan that it watches.

    An indicator is taken as set to zero at the first of its stations that the plan has.

    Parameters
    ----------
    survey : Survey
    traverse : Traverse
    plan : RemovalPlan

    Returns
    -------
    Watch or None
        None where it watches no face of the plan.

    Raises
    ------
    MetrolibError
        If what it is read from is cut as well, or is not known.
    """
    face = traverse.settings.get("face")
    if traverse.kind not in WATCHING or face not in plan.faces:
        return None
    instrument = survey.instruments[traverse.instrument]
    seen = watch(plan, Gauge(face, traverse, instrument))
    if seen.gauge.absolute:
        return seen
    known = plan.x[seen.stations]
    first = next((x for x in _in_order(survey, traverse) if _near(known, x).any()), None)
    return watch(plan, Gauge(face, traverse, instrument, first))


def compared_words(stops, zero_at, station, method, unit):
    """Say how an indicator whose zero is set anew reads here beside its first station.

    Parameters
    ----------
    stops : StopReadings
        Of the indicator, for the present method.
    zero_at : float
        Place of its first station [mm].
    station : int
        As a place in the arrays of the plan.
    method : Method or None
    unit : str
        Display unit.
    """
    here = int(np.flatnonzero(stops.stations == station)[0])
    first = int(np.flatnonzero(_near(stops.x, zero_at))[0])
    if here == first:
        return "Its zero is set anew each time: the other places are compared with this one."
    more = float(stops.exact[here] - stops.exact[first])
    than = f"about {show_length(abs(more), unit)} {'more' if more > 0 else 'less'} here than"
    told = "the same here as" if abs(more) < _NONE else than
    done = "finished" if method is None else f"done with {method.name!r}"
    return (
        "No stop reading by itself, for its zero is set anew each time: where both are "
        f"{done}, it reads {told} at {zero_at:g} mm."
    )


def why_none(survey, traverse, plan):
    """Say why a traverse has no stop reading; empty where nothing general can be said."""
    why = _WHY.get(traverse.kind, "")
    if traverse.kind in WATCHING:
        rests_on = Gauge("", traverse, survey.instruments[traverse.instrument]).rests_on
        cut = sorted(
            name for name in rests_on if np.nanmax(plan.depth[plan.face == name], initial=0) > 0
        )
        why = f"{named(cut)}, which it is read from, must be cut as well" if cut else ""
    return why and f"No stop reading: {why}."


def _in_order(survey, traverse):
    """Return the places of a traverse, read or planned, in the order of the rows [mm]."""
    parts = [part.of(traverse.name) for part in (survey.readings, survey.planned)]
    x, line = (np.concatenate([getattr(part, what) for part in parts]) for what in ("x", "line"))
    return x[np.argsort(line)].tolist()


def _near(places, x):
    return np.abs(places - x) <= MERGE
