"""Survey folders for the browser tests: a straight way under a level, planned and not yet read."""

import csv

STATIONS = 20
PITCH = 100  # mm

_HEAD = """
[machine]
name = "Bench"

[faces."front way"]
y = 0.0
width = 40.0
x_from = 0.0
x_to = 2000.0
normal = "up"

[instruments."level"]
unit = "division"
sensitivity = 0.02
sensitivity_unit = "mm/m"
resolution = 0.1
repeatability = 0.3
range = 30
"""

_TRAVERSE = """
[traverses."{name}"]
kind = "level along"
instrument = "level"
face = "front way"
foot_spacing = 100
state = "levelled"
"""


def plan(folder, traverses):
    """Write a survey folder in which each traverse has a planned row for each station."""
    folder.mkdir(parents=True)
    toml = _HEAD + "".join(_TRAVERSE.format(name=name) for name in traverses)
    (folder / "survey.toml").write_text(toml, encoding="utf-8")
    rows = [f"{name},front way,{PITCH * at},,1,\n" for name in traverses for at in range(STATIONS)]
    text = "traverse,face,x,reading,repeat,note\n" + "".join(rows)
    (folder / "readings.csv").write_text(text, encoding="utf-8")
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
