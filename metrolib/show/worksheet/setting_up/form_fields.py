"""Form fields: what is asked of a machine and its readings, and how it is typed."""

import re
from collections.abc import Callable
from dataclasses import dataclass

from metrolib.errors import InputError
from metrolib.show.worksheet.typed import SPELLINGS, unit_sign
from metrolib.survey.columns import number
from metrolib.survey.machine import NORMALS, LeftOut
from metrolib.units import LENGTHS, SLOPES, to_millimetres

_AMOUNT = re.compile(r"\s*(?P<number>\S*?[\d.,])\s*(?P<unit>[^\d\s.,].*?)?\s*")
_WRITTEN = {spelling: unit for unit in LENGTHS for spelling in SPELLINGS[unit]}
_STRETCH = re.compile(r"(?P<start>\S+)\s*(?:to|-|–)\s*(?P<end>[\d.,+-]+)[\s:]*(?P<reason>.*)")


def typed_number(text, *, above=None, at_least=None):
    """Return the number that somebody typed, with decimal point or comma.

    Raises
    ------
    InputError
        If it is none, or beyond its limit; the error's words go beside the field.

    Examples
    --------
    >>> typed_number("0,25")
    0.25
    """
    value = number(text.strip(), None)
    if value is None:
        raise InputError(f"{text.strip()!r} is no number; write digits with one decimal mark")
    if above is not None and value <= above:
        raise InputError(f"{text.strip()} is too small; it must be above {above:g}")
    if at_least is not None and value < at_least:
        raise InputError(f"{text.strip()} is too small; it must be at least {at_least:g}")
    return value


def typed_length(text, *, above=None):
    """Return a length that somebody typed, in mm; another unit stands behind the number.

    Examples
    --------
    >>> typed_length("1200"), typed_length('1,5 in'), typed_length('2"')
    (1200.0, 38.1, 50.8)
    """
    found = _AMOUNT.fullmatch(text)
    unit = found["unit"] if found else None
    if unit is not None and unit not in _WRITTEN:
        raise InputError(f"{text.strip()!r} has no known unit; write mm, in or thou behind it")
    value = typed_number(found["number"] if found else text, above=above)
    return round(float(to_millimetres(value, _WRITTEN[unit])), 9) if unit else value


def _width(text):
    return typed_length(text, above=0)


def _positive(text):
    return typed_number(text, above=0)


def _from_zero(text):
    return typed_number(text, at_least=0)


def _per_cent(text):
    share = typed_number(text.strip().removesuffix("%"), at_least=0) / 100
    if share >= 1:
        raise InputError(f"{text.strip()} is too much; 3 means that it is known to 3 %")
    return share


def _word(text):
    """Return a name or a note."""
    return text.strip()


def _name(text):
    if not text.strip() or text.strip().startswith("#"):
        raise InputError("a name is needed, which does not begin with #; write one")
    return text.strip()


def typed_normal(text):
    """Return the direction that a face looks in: a word of `NORMALS`, or degrees.

    Examples
    --------
    >>> typed_normal("down"), typed_normal("-45")
    (180.0, -45.0)
    """
    word = text.strip()
    if word in NORMALS:
        return NORMALS[word]
    try:
        value = typed_number(word.rstrip("°").removesuffix("deg"))
    except InputError:
        raise InputError(f"{word!r} is no direction; write up, down or degrees") from None
    if not -360 <= value <= 360:
        raise InputError(f"{word} is more than once round; write degrees from -180 to 180")
    return value


def typed_left_out(text):
    """Return the stretches that somebody wants left out, as `LeftOut` each.

    Examples
    --------
    >>> typed_left_out("610 to 640 oil hole; 800-812,5: dent")[1]
    LeftOut(x_from=800.0, x_to=812.5, reason='dent')
    """
    return tuple(_stretch(piece) for piece in text.split(";") if piece.strip())


def _stretch(piece):
    found = _STRETCH.fullmatch(piece.strip())
    if not found or not found["reason"].strip():
        said = f"{piece.strip()!r} cannot be read"
        raise InputError(f"{said}; write from, to and why, such as 610 to 640 oil hole")
    start, end = typed_number(found["start"]), typed_number(found["end"])
    if start > end:
        raise InputError(f"{piece.strip()!r} ends before it begins; write the lower place first")
    return LeftOut(start, end, found["reason"].strip())


@dataclass(frozen=True)
class Field:
    """One thing that is asked.

    Attributes
    ----------
    key : str
    label : str
    take : callable
        Turns the typed text into a value, or raises `InputError`.
    hint : str
        Unit, or what to write.
    choices : tuple of (str, str), optional
        Where only some can be chosen: words and value of each.
    wide : bool
        Whether the answer is a longer text.
    """

    key: str
    label: str
    take: Callable = _word
    hint: str = ""
    choices: tuple[tuple[str, str], ...] | None = None
    wide: bool = False


#: Of a face whose normal is given in degrees.
ANOTHER_ANGLE = "another angle"

_DIRECTIONS = (
    ("up", "up"),
    ("down", "down"),
    ("toward +y", "plus y"),
    ("toward -y", "minus y"),
    ("45 degrees to +y", "45"),
    ("45 degrees to -y", "-45"),
    ("another angle", ANOTHER_ANGLE),
)

FACE = (
    Field("name", "name", _name, wide=True),
    Field("normal", "looks", choices=_DIRECTIONS),
    Field("angle", "its normal leans by", typed_normal, "degrees toward +y"),
    Field("y", "its middle at y", typed_length, "mm"),
    Field("width", "width", _width, "mm"),
    Field("x_from", "from x", typed_length, "mm"),
    Field("x_to", "to x", typed_length, "mm"),
    Field(
        "nominal_height", "height on the machine's drawing", typed_length, "mm, along its normal"
    ),
    Field("left_out", "left out", typed_left_out, "such as 610 to 640 oil hole", wide=True),
)


def _signed(*units):
    return tuple(("divisions" if unit == "division" else unit_sign(unit), unit) for unit in units)


INSTRUMENT = (
    Field("name", "name", _name, wide=True),
    Field("unit", "read in", choices=_signed("division", *LENGTHS, *SLOPES)),
    Field("sensitivity", "one division is", _positive),
    Field("sensitivity_unit", "of", choices=_signed(*SLOPES, *LENGTHS)),
    Field("resolution", "smallest step that you read", _from_zero, "in its unit"),
    Field("repeatability", "repeats to", _from_zero, "standard deviation of ten set-downs"),
    Field("sensitivity_uncertainty", "its scale is known to", _per_cent, "%"),
    Field("calibration_uncertainty", "its zero is known to", _from_zero, "in its unit"),
    Field("reading_range", "reads at most", _positive, "in its unit; empty: no limit"),
)

EDGE = (
    Field("length", "length", _width, "mm"),
    Field("profile_uncertainty", "straight to within", _from_zero, "mm, standard uncertainty"),
    Field("height", "height of its section", _width, "mm"),
    Field("width", "width of its section", _width, "mm"),
)


@dataclass(frozen=True)
class Kind:
    """How one reading kind is asked for.

    Attributes
    ----------
    words : str
        What is done, in the words of the bench.
    tool : str
        Which of the example instruments reads it.
    roles : tuple of str
        What each of its faces is for; none where all faces are read.
    vee : tuple of bool
        For each of them, whether a vee as a whole may stand for it.
    pitch : str
        What its pitch is.
    """

    words: str
    tool: str
    roles: tuple[str, ...]
    vee: tuple[bool, ...]
    pitch: str = "a station every"


_FEET = "its feet apart, and a station every"

#: The reading kinds, as a newcomer is asked for them.
ASKED = {
    "level along": Kind("level stepped along", "block level", ("along",), (True,), _FEET),
    "level across": Kind("level across", "block level", ("from", "to"), (True, True)),
    "micrometer": Kind("micrometer over", "micrometer", ("face", "opposite"), (False, False)),
    "carriage": Kind(
        "indicator on a carriage", "dial indicator", ("feet ride on", "stylus on"), (True, False)
    ),
    "gauge": Kind(
        "indicator on a bridge",
        "dial indicator",
        ("rests on", "and on", "reads"),
        (True, True, False),
    ),
    "straightedge": Kind("indicator along a straightedge", "dial indicator", ("on",), (False,)),
    "feeler gap": Kind("feelers under a straightedge", "feelers", ("on",), (False,)),
    "wire": Kind("taut wire and microscope", "wire microscope", ("over",), (False,)),
    "comparison": Kind("heights from one plane", "dial indicator", (), ()),
}
