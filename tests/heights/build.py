"""Surveys and checks for the tests: a survey from parts, and what must hold of its heights.

Nothing here knows how the library turns readings into equations.
"""

from dataclasses import dataclass, field
from types import SimpleNamespace

import numpy as np
from scipy.stats import chi2

from metrolib.survey.decision import Decision
from metrolib.survey.instruments import Instrument
from metrolib.survey.machine import Face, Machine
from metrolib.survey.readings import Readings, Traverse

LEVEL = Instrument("level", "mm/m", resolution=0.0, repeatability=0.004)
INDICATOR = Instrument("indicator", "mm", resolution=0.0, repeatability=0.001)


@dataclass
class Leg:
    """One traverse and what was read on it, in the unit of its instrument."""

    name: str
    kind: str
    instrument: Instrument
    x: np.ndarray
    value: np.ndarray
    settings: dict = field(default_factory=dict)
    face: object = ""
    repeat: object = 1
    order: object = None
    keys: dict = field(default_factory=dict)  # state, setup, sign, drift_uncertainty


def survey(faces, legs, straightedges=()):
    """Put a survey together."""
    columns = {key: [] for key in ("traverse", "face", "x", "value", "repeat", "order")}
    traverses = {}
    for leg in legs:
        count = len(leg.x)
        traverses[leg.name] = Traverse(
            leg.name,
            leg.kind,
            leg.instrument.name,
            **leg.keys,
            settings=dict(leg.settings),
        )
        order = np.arange(count) if leg.order is None else leg.order
        columns["traverse"].append(np.full(count, leg.name, dtype=object))
        columns["face"].append(np.broadcast_to(np.asarray(leg.face, dtype=object), count))
        columns["x"].append(np.asarray(leg.x, dtype=float))
        columns["value"].append(np.asarray(leg.value, dtype=float))
        columns["repeat"].append(np.broadcast_to(leg.repeat, count))
        columns["order"].append(order)
    joined = {key: np.concatenate(parts) for key, parts in columns.items()}
    total = len(joined["x"])
    readings = Readings(**joined, note=np.full(total, "", object), line=np.arange(2, total + 2))
    return SimpleNamespace(
        machine=Machine("test machine", faces={face.name: face for face in faces}),
        instruments={leg.instrument.name: leg.instrument for leg in legs},
        straightedges={edge.name: edge for edge in straightedges},
        traverses=traverses,
        readings=readings,
        decision=Decision(),
        options={},
        display="um",
    )


def flat(name="flat", y=0.0, nominal=0.0, normal=0.0, **keys):
    return Face(name, y, 40.0, -1000.0, 4000.0, normal=normal, nominal_height=nominal, **keys)


def worn(depth, middle, spread, bow=0.0):
    """Return a true form: a smooth dip of some depth, and a bow over a metre."""

    def form(x):
        return -depth * np.exp(-(((np.asarray(x) - middle) / spread) ** 2)) + bow * (x / 1e3) ** 2

    return form


def noisy(values, instrument, seed):
    """Add the noise that the instrument promises, in its own unit."""
    rng = np.random.default_rng(seed)
    values = np.asarray(values, dtype=float)
    return values + rng.normal(size=values.shape) * instrument.u / instrument.factor


def free_of(columns):
    """Return an orthonormal basis of all functions of the heights that ignore some motions."""
    full, size, _ = np.linalg.svd(np.column_stack(columns), full_matrices=True)
    return full[:, int((size > 1e-9 * size[0]).sum()) :]


def errors(heights, truth, motions=None):
    """Return the errors of everything that is free of the motions, and their covariance.

    `truth` gives for each face its true height at x; `motions` turns (face names, x, y) into
    columns; by default each face may be lifted and tilted for itself, which leaves its form.
    """
    true = np.array(
        [truth[face](x) for face, x in zip(heights.face, heights.x, strict=True)], dtype=float
    )
    if motions is None:
        columns = [
            (heights.face == face) * power
            for face in dict.fromkeys(heights.face)
            for power in (np.ones(heights.x.size), heights.x / 1e3)
        ]
    else:
        columns = motions(heights.face, heights.x, heights.y)
    basis = free_of(columns)
    return basis.T @ (heights.values - true), basis.T @ heights.cov @ basis


def together(normals):
    """Return motions of the machine as a whole, for faces of some normals [deg]."""

    def columns(face, x, y):
        angle = np.deg2rad([normals.get(name, 0.0) for name in face])
        up, across = np.cos(angle), np.sin(angle)
        return [up, up * x / 1e3, up * y / 1e3, across, across * x / 1e3]

    return columns


def assert_exact(heights, truth, motions=None):
    error, _ = errors(heights, truth, motions)
    assert error.size
    assert np.abs(error).max() < 1e-9


def assert_within_uncertainty(heights, truth, motions=None):
    """Each within four of its standard uncertainties, and together a plausible chi-square."""
    error, cov = errors(heights, truth, motions)
    assert error.size
    assert (np.abs(error) < 4 * np.sqrt(np.diag(cov))).all()
    square = error @ np.linalg.solve(cov, error)
    low, high = chi2.ppf([1e-4, 1 - 1e-4], error.size)
    assert low < square < high
