"""Materials: how they grow with heat, how stiff and how heavy they are, and who says so."""

from dataclasses import dataclass
from types import MappingProxyType

from metrolib import checks


@dataclass(frozen=True)
class Material:
    """A material, with what a bench may count on.

    Attributes
    ----------
    name : str
    expansion : float
        Linear expansion near 20 degC [µm/m per K].
    expansion_u : float
        Its standard uncertainty where no certificate comes with the part [µm/m per K].
    modulus : float
        Young's modulus [N/mm²].
    modulus_u : float
        [N/mm²]
    density : float
        [kg/m³]
    source : str
    """

    name: str
    expansion: float
    expansion_u: float
    modulus: float
    modulus_u: float
    density: float
    source: str


_ROOT_3 = 3**0.5  # a half-width of limits over this is a standard uncertainty (JCGM 100, 4.3.7)

#: The materials known by name. Give your own numbers where a certificate says more.
MATERIALS = MappingProxyType(
    {
        material.name: material
        for material in (
            Material(
                "steel",
                11.5,
                1.0 / _ROOT_3,
                206_000.0,
                3_000.0,
                7_850.0,
                "expansion 11.5 ± 1.0 of ISO 3650 for gauge blocks, from memory; modulus and "
                "density handbook values, from memory",
            ),
            Material(
                "grey iron",
                10.5,
                1.0 / _ROOT_3,
                115_000.0,
                10_000.0,
                7_200.0,
                "common practice, no published source; the modulus is that of bed castings, "
                "softer grades lie between 66 000 and 97 000",
            ),
            Material(
                "granite",
                6.5,
                2.0 / _ROOT_3,
                52_000.0,
                8_000.0,
                2_800.0,
                "common practice, no published source; stones differ much",
            ),
        )
    }
)


def material(name):
    """Return a material by its name.

    Parameters
    ----------
    name : str

    Returns
    -------
    Material

    Raises
    ------
    InputError
        If the name is none of the known ones.

    Examples
    --------
    >>> material("grey iron").expansion
    10.5
    """
    checks.choice("material", name, MATERIALS)
    return MATERIALS[name]
