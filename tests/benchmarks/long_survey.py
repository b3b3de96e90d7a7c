"""Surveys of any length for the benchmarks: levels along some ways both ways round, and across."""

import numpy as np

from metrolib.survey.machine import Face
from tests.heights.build import LEVEL, Leg, noisy, survey, worn

STEP, APART = 200.0, 150.0  # mm


def long_survey(ways, stations, times=1):
    """Return a survey of some parallel ways; once, it has about three readings a station."""
    x = np.arange(stations) * STEP
    faces = [
        Face(f"way {i}", APART * i, 40.0, -100.0, x[-1] + 100.0, nominal_height=10.0 * i)
        for i in range(ways)
    ]
    rng = np.random.default_rng(1)
    z = [worn(0.1, rng.uniform(x[0], x[-1]), x[-1] / 4)(x) for _ in faces]
    legs = []
    for i, face in enumerate(faces):
        for turned in (False, True):
            settings = {"foot_spacing": STEP, "turned": turned}
            slope = np.diff(z[i]) / (STEP / 1e3)
            name = f"along {face.name} turned {turned}"
            legs.append(_leg(name, "level along", x[:-1], slope, settings, face.name, times))
    for i, (face, other) in enumerate(zip(faces[:-1], faces[1:], strict=True)):
        for turned in (False, True):
            here = np.arange(int(turned), stations, 2)
            slope = 10.0 / (APART / 1e3) + (z[i + 1] - z[i])[here] / (APART / 1e3)
            settings = {"face": face.name, "other_face": other.name, "turned": turned}
            name = f"across {face.name} turned {turned}"
            legs.append(_leg(name, "level across", x[here], slope, settings, "", times))
    return survey(faces, legs)


def _leg(name, kind, x, slope, settings, face, times):
    """Return a traverse that is run several times."""
    seed = list(name.encode())
    value = noisy(np.tile(slope, times), LEVEL, seed)
    repeat = np.repeat(np.arange(1, times + 1), len(x))
    return Leg(name, kind, LEVEL, np.tile(x, times), value, settings, face, repeat)


def write(survey, folder):
    """Write a long survey into a folder; return its readings file."""
    lines = ["[machine]", 'name = "a long one"', ""]
    for face in survey.machine.faces.values():
        lines += [
            f'[faces."{face.name}"]',
            f"y = {face.y}\nwidth = {face.width}\nx_from = {face.x_from}\nx_to = {face.x_to}",
            f"nominal_height = {face.nominal_height}\n",
        ]
    lines += ["[instruments.level]", 'unit = "mm/m"', "resolution = 0.0"]
    lines += [f"repeatability = {LEVEL.repeatability}\n"]
    for traverse in survey.traverses.values():
        lines += [f'[traverses."{traverse.name}"]', f'kind = "{traverse.kind}"']
        lines += ['instrument = "level"']
        lines += [f"{key} = {_toml(value)}" for key, value in traverse.settings.items()]
        own = survey.readings.of(traverse.name).face[0]
        lines += [f'face = "{own}"\n' if own else ""]
    (folder / "survey.toml").write_text("\n".join(lines))
    readings = survey.readings
    columns = (readings.traverse, readings.x, readings.value, readings.repeat)
    rows = [f"{name},{x:g},{value:.4f},{n}" for name, x, value, n in zip(*columns, strict=True)]
    file = folder / "readings.csv"
    file.write_text("\n".join(["traverse,x,reading,repeat", *rows, ""]))
    return file


def _toml(value):
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{value}"' if isinstance(value, str) else value
