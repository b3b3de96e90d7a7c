"""Heat: the bow of a body that is warmer on one side, and growth between readings."""

from dataclasses import dataclass

from metrolib import checks
from metrolib.form import wording
from metrolib.survey.materials import material

#: What the body is, and how its bow shows on the way: +1, a bow upward looks like a crown.
_SHOWS = {"bed": 1, "straightedge": -1}

#: The sign rule, said beside every bow.
SIGN_RULE = (
    "a bed warmer on top bows up, a false crown; a straightedge warmed on its back bows up, "
    "a false hollow"
)


@dataclass(frozen=True, eq=False)
class ThermalBow:
    """The bow of a bed or a straightedge that is warmer on one side.

    Attributes
    ----------
    value : float or `uncertainties` number
        How far the middle stands above the line through the ends [mm]; below zero, under it.
    error : float or `uncertainties` number
        What is read too high of a way in the middle, against the ends [mm]: above zero, a false
        crown; below, a false hollow.
    of : str
        ``"bed"`` or ``"straightedge"``.
    length, height : float or `uncertainties` number
        [mm]
    difference : float or `uncertainties` number
        Temperature on top less that underneath [K].
    expansion : float or `uncertainties` number
        [µm/m per K]
    """

    value: object
    error: object
    of: str
    length: object
    height: object
    difference: object
    expansion: object

    def in_words(self, unit="um"):
        """Return the sentence that a rebuilder would write down.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        difference = wording.nominal(self.difference)
        if difference == 0:
            return (
                f"the {self.of} is as warm on top as underneath: no bow is expected"
                f"{wording.expanded(self.value, unit)}"
            )
        shows = "crown" if wording.nominal(self.error) > 0 else "hollow"
        return (
            f"the {self.of} is {abs(difference):.2f} K {'warmer' if difference > 0 else 'colder'} "
            f"on top than underneath and bows {'up' if difference > 0 else 'down'} by "
            f"{wording.measured_length(wording.magnitude(self.value), unit)}: the way shows a "
            f"false {shows} of that size ({SIGN_RULE})"
        )

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return wording.table(
            f"Thermal bow of the {self.of}",
            [
                ("middle above the ends", wording.measured_length(self.value)),
                ("way read too high in the middle", wording.measured_length(self.error)),
                ("warmer on top by", f"{wording.nominal(self.difference):.2f} K"),
                ("sign", SIGN_RULE),
            ],
        )


def thermal_bow(length, height, difference, expansion, *, of="bed"):
    """Find the bow of a body that is warmer on top than underneath.

    Parameters
    ----------
    length, height : float or `uncertainties` number
        Of the body as it lies [mm].
    difference : float or `uncertainties` number
        Temperature of its top less that of its underside [K]. Two thermometers with an unknown
        difference of their own belong in its uncertainty.
    expansion : float, `uncertainties` number or str
        [µm/m per K], or a name in `MATERIALS`, whose uncertainty comes with it.
    of : {"bed", "straightedge"}
        A bow of the bed is the way's own; one of the straightedge shows on the way turned over.

    Returns
    -------
    ThermalBow

    Raises
    ------
    InputError
        If a size or the expansion is not above zero, or a word is unknown.

    Notes
    -----
    bow = alpha difference length² / (8 height), for a temperature that changes evenly from top to
    bottom in a body that is free to bend: its layers then stay unstressed, and its curvature is
    alpha difference / height. A bed held down by its bolts bows less; one that warms in a spot
    bows otherwise. The error is the same with the straightedge sole up or sole down.

    Examples
    --------
    A bed of grey iron, 2 m long and 300 mm deep, one kelvin warmer on top:

    >>> print(thermal_bow(2000, 300, 1.0, 10.5))
    the bed is 1.00 K warmer on top than underneath and bows up by 17.5 µm: the way shows a false \
crown of that size (a bed warmer on top bows up, a false crown; a straightedge warmed on its back \
bows up, a false hollow)
    """
    checks.choice("of", of, _SHOWS)
    length = checks.quantity("length", length, above=0)
    height = checks.quantity("height", height, above=0)
    difference = checks.quantity("difference", difference)
    expansion = _expansion(expansion)
    bow = expansion * 1e-6 * difference * length**2 / (8 * height)
    return ThermalBow(bow, _SHOWS[of] * bow, of, length, height, difference, expansion)


@dataclass(frozen=True, eq=False)
class Expansion:
    """What a size changes between two readings because the temperature did.

    Attributes
    ----------
    value : float or `uncertainties` number
        The later size less the earlier one [mm].
    length : float or `uncertainties` number
        [mm]
    first, second : float or `uncertainties` number
        Temperatures [degC].
    expansion : float or `uncertainties` number
        [µm/m per K]
    """

    value: object
    length: object
    first: object
    second: object
    expansion: object

    def in_words(self, unit="um"):
        """Return the sentence that a rebuilder would write down.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        grows = "grows" if wording.nominal(self.value) >= 0 else "shrinks"
        first, second, length = map(wording.nominal, (self.first, self.second, self.length))
        by = wording.measured_length(wording.magnitude(self.value), unit)
        verb = "take that off" if grows == "grows" else "add that to"
        return (
            f"from {first:.2f} to {second:.2f} °C a size of {length:.10g} mm {grows} by {by}; "
            f"{verb} the later reading before the two are compared"
        )

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return wording.table(
            "Growth between two readings",
            [
                ("later less earlier size", wording.measured_length(self.value)),
                ("length", f"{wording.nominal(self.length):.10g} mm"),
                ("from", f"{wording.nominal(self.first):.2f} °C"),
                ("to", f"{wording.nominal(self.second):.2f} °C"),
            ],
        )


def expansion_between(length, first, second, expansion):
    """Find what a size changes between two readings because the temperature did.

    Parameters
    ----------
    length : float or `uncertainties` number
        [mm]
    first, second : float or `uncertainties` number
        Temperatures of the part at the two readings [degC].
    expansion : float, `uncertainties` number or str
        [µm/m per K], or a name in `MATERIALS`.

    Returns
    -------
    Expansion

    Raises
    ------
    InputError
        If the length or the expansion is not above zero, or the material is unknown.

    Notes
    -----
    value = alpha length (second - first). A micrometer or gauge that warms with the part takes its
    own growth off: then the difference of the two expansions counts.

    Examples
    --------
    A headstock of 250 mm that is 15 K warmer after an hour's run:

    >>> print(expansion_between(250, 20, 35, 10.5))
    from 20.00 to 35.00 °C a size of 250 mm grows by 39.4 µm; take that off the later reading \
before the two are compared
    """
    length = checks.quantity("length", length, above=0)
    first, second = checks.quantity("first", first), checks.quantity("second", second)
    expansion = _expansion(expansion)
    value = expansion * 1e-6 * length * (second - first)
    return Expansion(value, length, first, second, expansion)


def _expansion(given):
    """Return an expansion [µm/m per K], of a material by name with its uncertainty."""
    if isinstance(given, str):
        from uncertainties import ufloat

        found = material(given)
        return ufloat(found.expansion, found.expansion_u)
    return checks.quantity("expansion [µm/m per K]", given, above=0)
