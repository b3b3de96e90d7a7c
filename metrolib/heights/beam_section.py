"""The section of a straightedge as a beam: what it weighs per length and how stiff it is."""

from dataclasses import dataclass

from metrolib import checks
from metrolib.survey.materials import material as known

#: Standard acceleration of free fall [m/s²] (3rd General Conference on Weights and Measures, 1901).
GRAVITY = 9.80665


@dataclass(frozen=True, eq=False)
class BeamSection:
    """The section of a uniform straightedge as a beam, as it stands.

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

    >>> casting = BeamSection(area=2400, second_moment=5.2e6, modulus=115_000, density=7200)
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
        >>> round(BeamSection.rectangle(60, 12).second_moment)
        216000
        """
        _above_zero(height=height, width=width)
        return cls(width * height, width * height**3 / 12, **_of(material))

    @classmethod
    def of(cls, straightedge):
        """Return the section that a survey tells of a straightedge, or None.

        Parameters
        ----------
        straightedge : Straightedge

        Returns
        -------
        BeamSection or None
            None where the survey tells nothing of its section, which leaves sag out.

        Examples
        --------
        >>> from metrolib.survey.instruments import Straightedge
        >>> ribbed = Straightedge("ribbed", 1000, 0.004, height=100, width=50, web=10, flange=15)
        >>> round(BeamSection.of(ribbed).area)
        2200
        """
        edge = straightedge
        material = {"modulus": edge.modulus, "density": edge.density}
        if edge.area is not None:
            return cls(edge.area, edge.second_moment, **material)
        if edge.height is None or edge.width is None:
            return None
        web, flange = edge.web, edge.flange
        if web is None:
            web, flange = edge.width, edge.height / 4  # a full web: a rectangle
        return cls(*_i_shape(edge.height, edge.width, web, flange), **material)

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
            If a size is not above zero, the flanges leave no height, or the web is wider than they.

        Examples
        --------
        >>> round(BeamSection.i_section(100, 50, web=10, flange=15).area)
        2200
        """
        return cls(*_i_shape(height, width, web, flange), **_of(material))


def _i_shape(height, width, web, flange):
    """Return area and second moment of two equal flanges and a web between them."""
    _above_zero(height=height, width=width, web=web, flange=flange)
    inner = height - 2 * flange
    checks.quantity("flange: height left between the flanges", inner, above=0)
    checks.quantity("web: width of the flanges beside it", width - web, at_least=0)
    area = 2 * width * flange + inner * web
    return area, (width * height**3 - (width - web) * inner**3) / 12


def _above_zero(**sizes):
    """Refuse sizes that none has."""
    for name, size in sizes.items():
        checks.quantity(name, size, above=0)


def _of(name):
    """Return modulus, with its uncertainty, and density of a material."""
    from uncertainties import ufloat

    found = known(name)
    return {"modulus": ufloat(found.modulus, found.modulus_u), "density": found.density}
