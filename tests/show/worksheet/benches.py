"""Small surveys at the bench, as texts, and the same after so many readings."""

import warnings
from dataclasses import replace

import numpy as np

from metrolib.errors import DoubtfulReadingsWarning
from metrolib.heights.adjust import adjust
from metrolib.survey.folder import survey_from_texts

LEVEL = """
[machine]
name = "made for a test"
[faces.way]
y = 0.0
width = 40.0
x_from = 0.0
x_to = 1200.0
left_out = [{ x_from = 990, x_to = 1010, reason = "oil hole" }]
[faces.ledge]
y = 0.0
width = 20.0
x_from = 0.0
x_to = 1200.0
normal = "down"
nominal_height = 0.0
[instruments.level]
unit = "division"
sensitivity = 0.02
sensitivity_unit = "mm/m"
resolution = 0.1
repeatability = 0.1
[instruments.micrometer]
unit = "mm"
resolution = 0.001
repeatability = 0.002
[traverses.out]
kind = "level along"
instrument = "level"
face = "way"
foot_spacing = 100
[traverses.back]
kind = "level along"
instrument = "level"
face = "way"
foot_spacing = 100
turned = true
[traverses."over the ledge"]
kind = "micrometer"
instrument = "micrometer"
face = "way"
opposite_face = "ledge"
"""


def survey(rows, toml=LEVEL, columns="traverse,x,reading,repeat"):
    """Return a survey of rows (traverse, x, reading or None, repeat)."""
    lines = [columns]
    for traverse, x, value, *repeat in rows:
        shown = "" if value is None else f"{value:.9g}"
        lines.append(f"{traverse},{x:g},{shown},{repeat[0] if repeat else 1}")
    return survey_from_texts(toml, "\n".join(lines) + "\n")


def stepped(values, traverse="out", start=0.0, pitch=100.0):
    """Return rows of one traverse at a steady pitch."""
    return [(traverse, start + pitch * i, value) for i, value in enumerate(values)]


def heights_of(made):
    """Adjust what is there, without the warning."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DoubtfulReadingsWarning)
        return adjust(made)


def until(made, count):
    """Return a survey as it stands after so many readings, the others planned."""
    readings, every = made.readings, np.arange(len(made.readings))
    later = readings.select(every[count:])
    later = replace(later, value=np.full(len(later), np.nan))
    return replace(made, readings=readings.select(every[:count]), planned=later)
