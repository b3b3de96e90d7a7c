"""Wording: the parts of a blank survey.toml, with comments that say what to write where."""

import json

HEAD = """\
# The survey of one machine. Everything behind a # is a comment; write your own.
# Lengths are in mm unless a unit stands with them. x runs along the ways, y across them.
# The readings go into readings.csv: one row each, in the column `reading`, in the unit of the
# instrument. Rows without a reading are still to be taken; add or remove rows as you like.

display = {display}    # how lengths are shown: "um" or "thou"

[machine]
name = {machine}
note = {note}    # its story: what it does, what is known about its wear

# ---- faces: one table for each flat top, vee flank, underside or side face ----
"""

FACE = """
[faces.{name}]
y = {y:.12g}    # of its middle, across the ways
width = {width:.12g}
x_from = {x_from:.12g}
x_to = {x_to:.12g}
normal = {normal}    # "up", "down", "plus y", "minus y", or degrees (45: a flank leaning to +y)
nominal_height = {nominal_height:.12g}    # what the drawing says, along its own normal
left_out = [{left_out}]    # such as {{ x_from = 610, x_to = 640, reason = "oil hole" }}
note = {note}
"""

INSTRUMENTS_HEAD = """
# ---- instruments: replace these examples by yours ----
# resolution: smallest step that you read. repeatability: standard uncertainty of setting it down
# and reading it once (set it down ten times at one place and take the standard deviation).
"""

#: What stands behind a value that nobody has given.
EXAMPLE = "an example value: put yours"

STRAIGHTEDGE_NAME = "straightedge"

STRAIGHTEDGE = """
[straightedges.{name}]
length = {length:.12g}
profile_uncertainty = {profile_uncertainty:.12g}    # standard uncertainty of its sole against a \
straight line, mm
height = {height:.12g}    # of its section, for the sag between its supports
width = {width:.12g}
# web, flange    # added, of an I-section; or area (mm2) and second_moment (mm4) instead of sizes
# material = "grey iron"    # "steel" when left out; or modulus (N/mm2) and density (kg/m3)
"""

TRAVERSES_HEAD = """
# ---- traverses: readings taken one after another in one set-up ----
# state: how the machine stood, "free", "levelled" or "bolted".
# sign: -1 where the reading falls when the metal is higher.
# temperature (degC), approach, supports and setup may be added to each.
"""

TRAVERSE = """
[traverses.{name}]
kind = {kind}
instrument = {instrument}
{keys}state = "levelled"
sign = 1
note = ""
"""

DECISION = """
# ---- what is to be decided ----

[decision]
faces = [{faces}]    # those that end together
together = "coplanar"    # or "parallel": each face may be lowered by its own amount
datum = []    # faces that the target is held parallel to; empty leaves it free
# tilt_along = 0.0    # how far it may tilt against the datum, mm/m
# tilt_across = 0.0
clean_up = 0.0    # least that must come off everywhere, mm
band = 0.0    # what may stay above the target, mm
# crown = 0.01    # how much higher than a plane the middle of the ways ends, mm
confidence = 0.95    # that every place cleans up; "none" plans without a guard
minimise = "volume"    # or "deepest cut"
untouchable = []    # faces from which nothing may come off
# greatest_cut = {{ {first} = 0.3 }}    # most that may come off a face, mm

[options."dress the high spots"]    # each option changes some of the keys above
band = 0.02

# ---- methods: your own ways to take metal off, in order of work; optional ----

# [methods."fine file"]
# leaves = 0.025    # allowance that it leaves above the target, mm
# per_pass = 0.005    # what one pass takes off, mm, and its standard uncertainty
# per_pass_uncertainty = 0.001
# rate = 0.8    # metal removed in an hour, cm3, and its standard uncertainty
# rate_uncertainty = 0.2
"""


def quoted(text):
    r"""Return a text as TOML writes it.

    Examples
    --------
    >>> print(quoted('1" flat'))
    "1\" flat"
    """
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def instrument_text(instrument, examples=()):
    """Return the table of an instrument.

    Parameters
    ----------
    instrument : Instrument
    examples : container of str
        Keys whose value nobody has given: a comment says so.
    """
    lines = [f"\n[instruments.{quoted(instrument.name)}]"]
    for key, value, words in _instrument_keys(instrument):
        said = [words] * bool(words) + [EXAMPLE] * (key in examples)
        comment = f"    # {'; '.join(said)}" if said else ""
        written = quoted(value) if isinstance(value, str) else f"{value:.12g}"
        lines.append(f"{key} = {written}{comment}")
    if instrument.sensitivity is not None and instrument.reading_range is None:
        lines.append("# range = 20    # largest reading that it can show")
    return "\n".join(lines) + "\n"


def _instrument_keys(instrument):
    """Yield key, value and comment of each line of an instrument's table."""
    yield "unit", instrument.unit, ""
    if instrument.sensitivity is not None:
        yield "sensitivity", instrument.sensitivity, "what one division means ..."
        yield "sensitivity_unit", instrument.sensitivity_unit, "... in this unit"
    yield "resolution", instrument.resolution, ""
    yield "repeatability", instrument.repeatability, ""
    if instrument.measures == "length" or instrument.calibration_uncertainty:
        words = "of an error common to all its readings"
        yield "calibration_uncertainty", instrument.calibration_uncertainty, words
    if instrument.sensitivity is not None or instrument.sensitivity_uncertainty:
        words = "how sure the sensitivity is: 0.03 is 3 %"
        yield "sensitivity_uncertainty", instrument.sensitivity_uncertainty, words
    if instrument.reading_range is not None:
        yield "range", instrument.reading_range, "largest reading that it can show"
