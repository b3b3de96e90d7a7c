"""Survey folders for the browser tests: ways under a level, planned, some of them read."""

import csv

STATIONS = 20
PITCH = 100  # mm

_HEAD = """
[machine]
name = "Bench"

[instruments."level"]
unit = "division"
sensitivity = 0.02
sensitivity_unit = "mm/m"
resolution = 0.1
repeatability = 0.3
range = 30
"""

_DECISION = """
[decision]
faces = ["way 1"]
clean_up = 0.02
confidence = 0.95
"""

_FACE = """
[faces."way {number}"]
y = {y}
width = 40.0
x_from = 0.0
x_to = 2000.0
normal = "up"
"""

_TRAVERSE = """
[traverses."{name}"]
kind = "level along"
instrument = "level"
face = "way {number}"
foot_spacing = 100
state = "levelled"
"""


def plan(folder, traverses, read=None):
    """Write a survey folder in which each traverse has a face and a planned row per station.

    `read` has the readings, one a station, of traverses that are read already.
    """
    read = read or {}
    folder.mkdir(parents=True)
    parts = [_HEAD]
    rows = ["traverse,face,x,reading,repeat,note\n"]
    for number, name in enumerate(traverses, start=1):
        parts.append(_FACE.format(number=number, y=100.0 * number))
        parts.append(_TRAVERSE.format(number=number, name=name))
        readings = read.get(name, [""] * STATIONS)
        rows += [f"{name},way {number},{PITCH * at},{readings[at]},1,\n" for at in range(STATIONS)]
    (folder / "survey.toml").write_text("".join([*parts, _DECISION]), encoding="utf-8")
    (folder / "readings.csv").write_text("".join(rows), encoding="utf-8")
    return folder


def rows_on_disk(folder, traverse):
    """Return the rows of a traverse as readings.csv has them now."""
    with open(folder / "readings.csv", encoding="utf-8", newline="") as file:
        return [row for row in csv.DictReader(file) if row["traverse"] == traverse]


def readings_on_disk(folder, traverse):
    """Return the readings of a traverse on disk as numbers, by (x, repeat)."""
    return {
        (int(row["x"]), int(row["repeat"] or 1)): float(row["reading"])
        for row in rows_on_disk(folder, traverse)
        if row["reading"]
    }


def events_on_disk(folder, traverse):
    """Return what the history on disk says of a traverse."""
    with open(folder / "history.csv", encoding="utf-8-sig", newline="") as file:
        return [row for row in csv.DictReader(file) if row["traverse"] == traverse]
