"""A straightedge shorter than the way: how much bow it hides."""

from dataclasses import dataclass

from metrolib import checks
from metrolib.form import wording


@dataclass(frozen=True, eq=False)
class HiddenBow:
    """What a straightedge shorter than the way cannot show.

    Attributes
    ----------
    value : float or `uncertainties` number
        Bow of the way, its sagitta over the whole length, up to which the straightedge prints all
        over wherever it is laid [mm].
    length, straightedge : float
        Of the way, and of the straightedge [mm].
    film : float or `uncertainties` number
        Thickness of the film of blue, or of the thinnest feeler [mm].
    """

    value: object
    length: float
    straightedge: float
    film: object

    def needed_for(self, bow):
        """Return the shortest straightedge that shows a bow of this size over the way [mm].

        Parameters
        ----------
        bow : float
            [mm]

        Raises
        ------
        InputError
            If it is below the film, which hides it under any straightedge.

        Examples
        --------
        >>> round(hidden_bow(1500, 500, 0.003).needed_for(0.010))
        822
        """
        bow = checks.number("bow", bow, above=0)
        if bow < wording.nominal(self.film):
            raise checks.wrong(
                "bow",
                f"the film of {wording.length(self.film, 'um')} hides it under any straightedge",
                wording.length(bow, "um"),
                "use a thinner film, or another instrument",
            )
        return self.length * (wording.nominal(self.film) / bow) ** 0.5

    def in_words(self, unit="um"):
        """Return the sentence that a rebuilder would write down.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        film = wording.length(self.film, unit)
        hidden = wording.measured_length(self.value, unit)
        if self.straightedge >= self.length:
            return (
                f"the straightedge covers the way: with a film of {film} it hides no more than "
                f"{hidden} of bow"
            )
        return (
            f"a straightedge of {self.straightedge:.10g} mm on a way of {self.length:.10g} mm "
            f"prints all over with a film of {film} even where the way is bowed by {hidden}, up or "
            f"down; watch the long wave with a level, and let each placing lap the last by half "
            f"or more"
        )

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return wording.table(
            "Hidden bow",
            [
                ("hidden", wording.measured_length(self.value)),
                ("way", f"{self.length:.10g} mm"),
                ("straightedge", f"{self.straightedge:.10g} mm"),
                ("film", wording.length(self.film, "um")),
            ],
        )


def hidden_bow(length, straightedge, film):
    """Tell how much uniform bow a short straightedge hides.

    Parameters
    ----------
    length : float
        Of the way [mm].
    straightedge : float
        Its length [mm].
    film : float or `uncertainties` number
        Thickness of the film of blue, or of the thinnest feeler that is tried [mm].

    Returns
    -------
    HiddenBow

    Raises
    ------
    InputError
        If a size is not above zero.

    Notes
    -----
    An arc has a sagitta in proportion to its chord squared. Where it is below the film over the
    straightedge, on a hollow in its middle and on a crown at its ends, the print is full: over the
    way this hides film (length / straightedge)². A straightedge that covers the way hides the film
    alone. Lapping does not help: every placing sees the same arc.

    Examples
    --------
    >>> print(round(hidden_bow(1500, 500, 0.003).value, 4))
    0.027
    """
    length = checks.number("length", length, above=0)
    straightedge = checks.number("straightedge", straightedge, above=0)
    film = checks.quantity("film", film, above=0)
    times = max(length / straightedge, 1.0)
    return HiddenBow(film * times**2, length, straightedge, film)
