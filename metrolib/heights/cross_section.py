"""The cross-section of a straightedge: what it weighs per length and how stiff it is."""

from dataclasses import dataclass

from metrolib import checks
from metrolib.survey.materials import material as known

#: Standard acceleration of free fall [m/s²] (3rd General Conference on Weights and Measures, 1901).
GRAVITY = 9.80665


@dataclass(frozen=True, eq=False)
class CrossSection:
    """The cross-section of a uniform straightedge, as it stands.

    Each number may be an `uncertainties` number.

    Attributes
    ----------
    area : float
        [mm²]
    second_moment : float
        Second moment of area about the horizontal axis through its centroid [mm⁴].
    modulus : float
        Young's modulus [N/mm²].
    density : float
        [kg/m³]

    Raises
    ------
    InputError
        If a number is not above zero.

    Examples
    --------
    A ribbed casting whose drawing gives the numbers:

    >>> casting = CrossSection(area=2400, second_moment=5.2e6, modulus=115_000, density=7200)
    >>> round(casting.load, 4)
    0.1695
    """

    area: object
    second_moment: object
    modulus: object
    density: object

    def __post_init__(self):
        """Refuse what no section has."""
        for name in ("area", "second_moment", "modulus", "density"):
            checks.quantity(name, getattr(self, name), above=0)

    @property
    def load(self):
        """Weight per length [N/mm]."""
        return self.density * 1e-9 * GRAVITY * self.area

    @property
    def stiffness(self):
        """Young's modulus times second moment of area [N mm²]."""
        return self.modulus * self.second_moment

    @classmethod
    def rectangle(cls, height, width, material="steel"):
        """Return a plain rectangular section.

        Parameters
        ----------
        height, width : float or `uncertainties` number
            As it stands [mm].
        material : str
            A name in `MATERIALS`; modulus comes with its uncertainty.

        Examples
        --------
        >>> round(CrossSection.rectangle(60, 12).second_moment)
        216000
        """
        return cls(width * height, width * height**3 / 12, **_of(material))

    @classmethod
    def i_section(cls, height, width, *, web, flange, material="grey iron"):
        """Return a section with two equal flanges and a web between them.

        Parameters
        ----------
        height, width : float or `uncertainties` number
            Over all [mm].
        web, flange : float or `uncertainties` number
            Thickness of the upright and of each of the level parts [mm].
        material : str
            A name in `MATERIALS`.

        Raises
        ------
        InputError
            If the flanges leave no height, or the web is wider than they.

        Examples
        --------
        >>> round(CrossSection.i_section(100, 50, web=10, flange=15).area)
        2200
        """
        inner = height - 2 * flange
        checks.quantity("flange: height left between the flanges", inner, above=0)
        checks.quantity("web: width of the flanges beside it", width - web, at_least=0)
        area = 2 * width * flange + inner * web
        second_moment = (width * height**3 - (width - web) * inner**3) / 12
        return cls(area, second_moment, **_of(material))


def _of(name):
    """Return modulus, with its uncertainty, and density of a material."""
    from uncertainties import ufloat

    found = known(name)
    return {"modulus": ufloat(found.modulus, found.modulus_u), "density": found.density}
