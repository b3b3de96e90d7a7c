"""A square plate of 4 x 4 steps surveyed along eight lines, through `adjust`.

The pattern of J. C. Moody, How to Calibrate Surface Plates in the Plant, The Tool Engineer, October
1955, with readings constructed for an exact answer [um of rise per step]; not Moody's own figures,
which were not found. The least-squares heights were recomputed by two routes when the data were
gathered.
"""

from dataclasses import replace

import numpy as np
import pytest

from metrolib.heights.adjust import adjust
from metrolib.survey.instruments import Instrument
from tests.heights.build import Leg, flat, survey

STEP = 100.0
LINES = {  # start and end in steps; readings exact and with noise
    "d1": ((0, 0), (4, 4), [-3, 2, 6, 9], [-2, 2, 7, 10]),
    "d2": ((4, 0), (0, 4), [-2, -3, -3, -2], [-2, -2, -2, -3]),
    "S": ((0, 0), (4, 0), [-3, 2, 6, 9], [-4, 1, 5, 10]),
    "N": ((0, 4), (4, 4), [-3, 2, 6, 9], [-2, 1, 6, 10]),
    "W": ((0, 0), (0, 4), [1, -1, -3, -5], [0, 0, -4, -5]),
    "E": ((4, 0), (4, 4), [1, -1, -3, -5], [2, -2, -3, -6]),
    "CW": ((2, 0), (2, 4), [5, 3, 1, -1], [6, 2, 2, -1]),
    "CE": ((0, 2), (4, 2), [1, 6, 10, 13], [1, 6, 10, 13]),
}
GRID = [(x, y) for y in range(5) for x in range(5)]
TRUE = [8, 0, -3, -2, 2, 9, 2, 0, 2, 7, 8, 2, 1, 4, 10, 5, 0, 0, 4, 11, 0, -4, -3, 2, 10]
LEAST_SQUARES = [  # of the noisy readings, its own plane taken off
    *(6.96, -2.236667, -6.433333, -6.996667, -2.56),
    *(6.736667, 0.39, -2.306667, -2.37, 3.716667),
    *(6.513333, -0.333333, -2.18, 0.406667, 5.993333),
    *(2.506667, -1.84, -2.786667, 0.4, 7.486667),
    *(-2.5, -5.946667, -6.393333, -2.206667, 5.98),
]


def plate(noisy):
    """Return the heights as readings of a level whose zero is another on each line."""
    legs = []
    for number, (name, (start, end, exact, rough)) in enumerate(LINES.items()):
        start, end = STEP * np.array(start), STEP * np.array(end)
        pitch = float(np.hypot(*(end - start))) / 4
        level = Instrument(f"level {pitch:.0f}", "um/m", 0.0, 1000 / pitch)  # 1 um per step
        slope = np.array(rough if noisy else exact) / (pitch / 1000) + 20 * number
        settings = {"face": "plate", "foot_spacing": pitch, "line": {"from": start, "to": end}}
        keys = {"setup": f"line {name}"}
        legs.append(
            Leg(name, "level along", level, pitch * np.arange(4), slope, settings, keys=keys)
        )
    face = replace(flat("plate"), width=400.0)
    return adjust(survey([face], legs))


def on_grid(heights):
    """Return the heights by place in steps [mm]."""
    return {
        (round(x / STEP), round(y / STEP)): z
        for x, y, z in zip(heights.x, heights.y, heights.values, strict=True)
    }


def test_stations_of_eight_lines_meet():
    heights = plate(noisy=False)
    assert heights.x.size == 25
    assert not heights.not_determined


@pytest.mark.parametrize("noisy", [False, True])
def test_heights_up_to_a_plane(noisy):
    heights = plate(noisy)
    places = on_grid(heights)
    expected = dict(zip(GRID, LEAST_SQUARES if noisy else TRUE, strict=True))
    x, y = np.array(list(places)).T
    gap = np.array([places[at] * 1000 - expected[at] for at in places])
    plane = np.column_stack([np.ones(x.size), x, y])
    gap -= plane @ np.linalg.lstsq(plane, gap, rcond=None)[0]
    assert np.abs(gap).max() < (2e-6 if noisy else 1e-6)


def test_lines_that_close_leave_something_to_check():
    tested = plate(noisy=True).checks
    # 32 readings, 25 heights less a plane, 8 zeros: the two centre lines must close
    assert tested.dof == pytest.approx(32 - (25 - 3) - 8, abs=1e-3)
    assert tested.agrees
