"""Planned surveys for the tests: readings that are still to be taken, and the layouts they make."""

from dataclasses import replace
from pathlib import Path

import numpy as np

from metrolib.survey.instruments import Instrument
from tests.heights.build import LEVEL, Leg, flat, survey

SURVEYS = Path(__file__).parents[2] / "sample_surveys"
MICROMETER = Instrument("micrometer", "mm", resolution=0.0, repeatability=0.003)
#: The weak priors of heights and zeros take a share of about this off a standard uncertainty.
EXACT = 1e-5

NOISY = 1e-6  # wanted and never reached: as many readings are added as may be


def planned(faces, legs, straightedges=()):
    """Return a survey whose readings are all still to be taken."""
    made = survey(faces, legs, straightedges)
    made.planned = replace(made.readings, value=np.full(len(made.readings), np.nan))
    made.readings = made.readings.select(np.zeros(len(made.readings), dtype=bool))
    return made


def leg(name, kind, instrument, x, on="flat", keys=None, **settings):
    x = np.asarray(x, dtype=float)
    return Leg(name, kind, instrument, x, np.zeros(x.size), settings, on, keys=keys or {})


SIX_STEPS = np.arange(0, 1200, 200.0)


def stepped(name="along", x=SIX_STEPS, face="flat", **keys):
    return leg(name, "level along", LEVEL, x, face, keys, foot_spacing=200.0)


def with_more(made, traverse, face, x):
    """Add planned readings by hand."""
    old = made.planned
    columns = {
        "traverse": traverse,
        "face": face,
        "x": x,
        "value": np.nan,
        "repeat": 9,
        "order": old.order.max() + 1,
        "note": "",
        "line": old.line.max() + 1,
    }
    rows = {
        key: np.append(getattr(old, key), np.array([value], dtype=getattr(old, key).dtype))
        for key, value in columns.items()
    }
    changed = planned([flat()], [stepped()])
    vars(changed).update(vars(made))
    changed.planned = type(old)(**rows)
    return changed
