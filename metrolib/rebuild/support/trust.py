"""Trust: below which size a form is not to be believed today, for sag and heat."""

from dataclasses import dataclass

from metrolib import checks
from metrolib.form import wording
from metrolib.units import show_length


@dataclass(frozen=True, eq=False)
class TrustLimit:
    """The size of form below which nothing is to be trusted today.

    Attributes
    ----------
    value : float
        [mm]
    error : float or `uncertainties` number
        All errors together: what is read too high in the middle against the ends [mm].
    corrected : bool
        Whether the error is taken off the readings.
    """

    value: float
    error: object
    corrected: bool

    def in_words(self, unit="um"):
        """Return the sentence that a rebuilder would write down.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        error = wording.nominal(self.error)
        shows = "crown" if error >= 0 else "hollow"
        done = "which is taken off the readings" if self.corrected else "left in the readings"
        return (
            f"do not trust a crown or hollow below {show_length(self.value, unit)} today: a false "
            f"{shows} of {wording.measured_length(wording.magnitude(self.error), unit)} is "
            f"expected, {done}"
        )

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return wording.table(
            "Not to be trusted today",
            [
                ("below", show_length(self.value, "um")),
                ("expected error, middle against ends", wording.measured_length(self.error)),
                ("taken off the readings", "yes" if self.corrected else "no"),
            ],
        )


def trust_limit(*errors, corrected=False):
    """Tell below which size a crown or hollow is not to be trusted today.

    Parameters
    ----------
    *errors : ThermalBow, SagOnSupports, float or `uncertainties` number
        All that act together; of a number, what is read too high in the middle [mm].
    corrected : bool
        Take the expected error as taken off the readings: only its uncertainty remains.

    Returns
    -------
    TrustLimit

    Raises
    ------
    InputError
        If nothing is given.

    Notes
    -----
    The errors add with their signs, E = sum of e. The limit is |E| + 2 u(E), or 2 u(E) where E is
    taken off. Numbers from one thermometer or one material keep their correlation.

    Examples
    --------
    >>> from uncertainties import ufloat
    >>> from metrolib import thermal_bow
    >>> bed = thermal_bow(2000, 300, ufloat(1.0, 0.2), 10.5)
    >>> print(trust_limit(bed))
    do not trust a crown or hollow below 24.5 µm today: a false crown of 17.5 µm, U = 7.0 µm \
(k = 2) is expected, left in the readings
    """
    if not errors:
        raise checks.wrong("errors", "at least one is needed", "none", "give the bows of today")
    total = sum(checks.quantity("errors", getattr(item, "error", item)) for item in errors)
    sure = 2 * (wording.uncertainty(total) or 0.0)
    size = 0.0 if corrected else abs(wording.nominal(total))
    return TrustLimit(size + sure, total, corrected)
