"""Typed: what a hand typed at the prompt -> a number in the unit of the instrument."""

import re
from dataclasses import dataclass

from metrolib import checks
from metrolib.errors import InputError
from metrolib.units import LENGTHS, SLOPES

#: The units that may be typed behind a number, each with its spellings.
SPELLINGS = {
    "division": ("div", "divs", "division", "divisions"),
    "mm": ("mm",),
    "um": ("um", "µm", "μm", "mu"),
    "thou": ("thou", "mil"),
    "in": ("in", '"', "inch"),
    "mm/m": ("mm/m",),
    "um/m": ("um/m", "µm/m", "μm/m"),
    "arcsec": ("arcsec", "sec", "''", "″"),
    "arcmin": ("arcmin", "min", "'", "′"),
    "in/ft": ("in/ft",),
    "thou/ft": ("thou/ft",),
}

#: How a unit is written beside the field.
SIGNS = {"division": "div", "um": "µm", "um/m": "µm/m"}

_BY_SPELLING = {word: unit for unit, words in SPELLINGS.items() for word in words}
_NUMBER = re.compile(r"([+-]?)(\d+[.,]?\d*|[.,]\d+)", re.ASCII)
_PARTS = re.compile(r"([+-]?\s*[\d.,]*)\s*(.*)", re.ASCII | re.DOTALL)


@dataclass(frozen=True)
class Typed:
    """A reading as it was typed.

    Attributes
    ----------
    value : float
        In the unit of the instrument.
    text : str
        As typed.
    unit : str
        In which it was typed: ``"division"``, a length or a slope.
    digits : str
        The number in the unit of the instrument as readings.csv keeps it, with a decimal point;
        where no unit was converted, with the digits that were typed.
    """

    value: float
    text: str
    unit: str
    digits: str


def typed_reading(text, instrument, unit=None):
    """Read what was typed for a reading.

    Parameters
    ----------
    text : str
        Digits with at most one decimal point or comma and a sign before them, blanks around; a
        unit may stand behind.
    instrument : Instrument
    unit : str, optional
        Unit of a number without one; that of the instrument when not given.

    Returns
    -------
    Typed

    Raises
    ------
    InputError
        If it is no plain number, the instrument cannot have the unit, or the reading is beyond
        its range.

    Examples
    --------
    >>> from metrolib.survey.instruments import Instrument
    >>> dial = Instrument("dial indicator", "um", 1, 0.8, reading_range=400)
    >>> typed_reading("-3,5", dial).value, round(typed_reading("2 thou", dial).value, 6)
    (-3.5, 50.8)
    """
    if not isinstance(text, str):
        raise checks.wrong("reading", "a text is needed", repr(text)[:60], "give it in quotes")
    digits, word = _parted(text)
    own = instrument.unit
    unit = _unit(word, instrument) if word else unit or own
    if unit not in units_of(instrument):
        raise _wrong_unit(unit, instrument)
    value = float(digits)
    if unit != own:
        value = float(f"{value * in_own(unit, instrument):.9g}")
        digits = _plain(value)
    check_range(value, instrument)
    return Typed(value, text, unit, digits)


def units_of(instrument):
    """Return the units in which a reading of an instrument may be typed, its own first."""
    others = SLOPES if instrument.measures == "slope" else LENGTHS
    return tuple(dict.fromkeys((instrument.unit, *others)))


def in_own(unit, instrument):
    """Return how much one of a unit is in the unit of an instrument."""
    return 1.0 if unit == instrument.unit else {**LENGTHS, **SLOPES}[unit] / instrument.factor


def unit_sign(unit):
    """Return how a unit is written, such as ``"µm"`` or ``"div"``."""
    return SIGNS.get(unit, unit)


def check_range(value, instrument):
    """Refuse a reading that the instrument cannot show."""
    limit = instrument.reading_range
    if limit is not None and abs(value) > limit:
        sign = unit_sign(instrument.unit)
        raise InputError(
            f"reading: {value:g} {sign} is beyond the range of {instrument.name!r},"
            f" ±{limit:g} {sign}; read it again"
        )


def _parted(text):
    """Return the digits, with a decimal point, and what stands behind them."""
    plain = text.replace("\N{MINUS SIGN}", "-").strip()
    if not plain:
        raise InputError("reading: nothing is typed; type the number that the instrument shows")
    number, word = (part.strip() for part in _PARTS.fullmatch(plain).groups())
    number = number.replace(" ", "")
    if number.count(".") + number.count(",") > 1:
        raise checks.wrong(
            "reading", "two decimal marks", repr(text), "type one, without marks for thousands"
        )
    if not _NUMBER.fullmatch(number):
        raise checks.wrong(
            "reading", "this is no number", repr(text)[:60], "type digits, such as -3.5 or 3,5"
        )
    if word[:1].isdigit():
        raise checks.wrong("reading", "a blank inside the number", repr(text)[:60], "take it out")
    sign, size = _NUMBER.fullmatch(number).groups()
    return sign.replace("+", "") + _tidy(size.replace(",", ".")), word


def _tidy(size):
    """Return a number without a sign with a digit on either side of its decimal point."""
    return f"0{size}" if size.startswith(".") else size.removesuffix(".")


def _unit(word, instrument):
    unit = _BY_SPELLING.get(word) or _BY_SPELLING.get(word.casefold())
    if unit is None:
        words = ", ".join(unit_sign(one) for one in units_of(instrument))
        raise checks.wrong(
            "reading", "this is no unit", repr(word)[:40], f"use one of {words}, or leave it out"
        )
    return unit


def _wrong_unit(unit, instrument):
    words = ", ".join(unit_sign(one) for one in units_of(instrument))
    return InputError(
        f"reading: {instrument.name!r} shows no {unit_sign(unit)}; use one of {words}, or leave"
        " the unit out"
    )


def _plain(value):
    """Return a number without an exponent."""
    return f"{value:.12f}".rstrip("0").rstrip(".") if value % 1 else f"{value:.0f}"
