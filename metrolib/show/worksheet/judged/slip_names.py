"""Slips of the hand: which usual mistake would turn the reading expected into the one taken."""

import math

#: Graduations that are easily miscounted, by the unit that is read.
_GRADUATIONS = {
    "division": {"a whole division": 1.0},
    "mm": {
        "half a millimetre, a turn of the thimble": 0.5,
        "a tenth of a millimetre": 0.1,
        "a hundredth of a millimetre": 0.01,
    },
    "in": {"a turn of the thimble, 0.025 in": 0.025, "a thou": 0.001},
}

#: Within so many standard uncertainties of what is expected the corrected reading fits.
_FITS = 3.0


def usual_slip(value, expected, u, instrument):
    """Return what may have happened, and the reading that would have been right.

    Parameters
    ----------
    value, expected : float
        Taken, and what the others make one expect [unit of the instrument].
    u : float
        Standard uncertainty of their difference [unit of the instrument].
    instrument : Instrument

    Returns
    -------
    (str, float) or None
        What happened in a few words, and the reading as it should then be; None where no usual
        slip brings the reading to what is expected.

    Examples
    --------
    >>> from metrolib.survey.instruments import Instrument
    >>> level = Instrument("level", "division", 0.1, 0.2, sensitivity=0.05, sensitivity_unit="mm/m")
    >>> usual_slip(6.4, -6.1, 0.3, level)
    ('the sign', -6.4)
    >>> usual_slip(26.51, 26.148, 0.004, Instrument("micrometer", "mm", 0.001, 0.003))
    ('two digits changed places', 26.15)
    """
    off = abs(value - expected)
    fits = []
    for words, meant in _candidates(value, expected, instrument):
        left = abs(meant - expected)
        # a slip is named where it explains nearly all, and not where zero would do as well
        if left <= min(_FITS * u, off / 4) and abs(meant) > _FITS * u:
            fits.append((left, words, meant))
    if not fits:
        return None
    _, words, meant = min(fits)
    return words, meant


def _candidates(value, expected, instrument):
    """Yield each usual slip with the reading that was then meant."""
    yield "the sign", -value
    yield "a factor of ten", value / 10
    yield "a factor of ten", value * 10
    for words, step in _GRADUATIONS.get(instrument.unit, {}).items():
        yield words, value + math.copysign(step, expected - value)
    for swapped in _swapped(value, decimals(instrument)):
        yield "two digits changed places", swapped


def decimals(instrument):
    """Return the digits after the decimal point that readings of an instrument have."""
    for digits in range(7):
        step = instrument.resolution * 10**digits
        if step > 0 and abs(step - round(step)) < 1e-6 * step:
            return digits
    return 3


def _swapped(value, digits):
    """Yield the number with each two neighbouring digits exchanged."""
    text = f"{abs(value):.{digits}f}"
    at = [i for i, letter in enumerate(text) if letter.isdigit()]
    for i, j in zip(at, at[1:], strict=False):
        letters = list(text)
        letters[i], letters[j] = letters[j], letters[i]
        if text[i] != text[j]:
            yield math.copysign(float("".join(letters)), value)
