"""The order of faces: what tilt each order leaves when every face is cut over a spacer."""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import permutations

from metrolib import checks
from metrolib.errors import InputError
from metrolib.form import wording
from metrolib.form.wording import listing, nominal
from metrolib.rebuild.stages.section import CrossSection
from metrolib.rebuild.stages.spacer import SpacerCut, bridged, size_for, spacer_cut
from metrolib.units import from_millimetres, show_length, unit_sign

_MOST = 6  # faces: 720 orders


@dataclass(frozen=True, eq=False)
class FaceOrders:
    """The orders in which faces can be cut over spacers.

    Attributes
    ----------
    value : tuple of str
        The order that leaves least: its worst face has the least tilt over its width, then its
        faces all together.
    section : CrossSection
        The faces before any cut.
    first_go : dict of tuple to dict of str to SpacerCut
        By order, the cut of each face; one that cannot be done has a `fault`.
    all_down : dict of str to SpacerCut
        The cut of each face once all the others are down to the allowance.
    """

    value: tuple[str, ...]
    section: CrossSection
    first_go: dict[tuple[str, ...], dict[str, SpacerCut]]
    all_down: dict[str, SpacerCut]

    def in_words(self, unit="um"):
        """Say which order to take, and what it leaves.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        said = [f"Cut {listing(map(repr, self.value))} in this order."]
        cuts = self.first_go[self.value]
        left = [
            f"{show_length(nominal(cuts[name].across), unit, sign=True)} across {name!r}"
            for name in self.value
        ]
        said.append(f"The first go leaves {listing(left)};")
        after = [
            f"{show_length(nominal(self.all_down[name].across), unit, sign=True)}"
            for name in self.value
        ]
        said.append(f"a second go, with all faces down, {listing(after)}.")
        said += [f"But at {name!r} {cuts[name].fault}." for name in self.value if cuts[name].fault]
        return " ".join(said)

    def to_dataframe(self, unit="um"):
        """Return all orders as a pandas table, an order a row.

        Parameters
        ----------
        unit : str
            Unit of the tilt over each face's width, ``"um"`` or ``"thou"``.
        """
        from pandas import DataFrame

        sign = unit_sign(unit)

        def row(cuts):
            entries = {
                f"across {name} [{sign}]": from_millimetres(nominal(cut.across), unit)
                for name, cut in cuts.items()
            }
            faults = [f"{name}: {cut.fault}" for name, cut in cuts.items() if cut.fault]
            return {**entries, "cannot be done": "; ".join(faults)}

        rows = [
            {"order": ", ".join(order), **row({name: cuts[name] for name in self.section_names})}
            for order, cuts in self.first_go.items()
        ]
        return DataFrame([*rows, {"order": "once all are down", **row(self.all_down)}])

    @property
    def section_names(self):
        """The faces that are cut, as they were given."""
        return tuple(self.all_down)

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        rows = [
            (
                ", ".join(order),
                ", ".join(
                    f"{name} {show_length(nominal(cut.across), 'um', sign=True)}"
                    for name, cut in cuts.items()
                ),
            )
            for order, cuts in [*self.first_go.items(), (("once all are down",), self.all_down)]
        ]
        return wording.table("Tilt left across each face, by order of the faces", rows)


def order_of_faces(section, bridges, *, allowance, pad=0.0):
    """Compare the orders in which faces can be cut over spacers.

    Parameters
    ----------
    section : CrossSection
        The faces before any cut.
    bridges : dict of str to Bridge
        For each face that is cut, how the tool bridges it.
    allowance : float
        Metal to be left above the target in the middle of each face [mm].
    pad : float or `uncertainties` number
        Thickness of the pad under load [mm].

    Returns
    -------
    FaceOrders

    Raises
    ------
    InputError
        If there is no face or more than six, a face is not between its spacer and its rest or lies
        lower already than the allowance, or even with all faces down a cut leaves no metal.

    Notes
    -----
    Each spacer is ground for the face as its rest then stands: still high if that comes later, down
    to the allowance if it came before. A first cut tilts by how much the rest is still too high.
    What no order takes away is the pad: with all faces down the tool still tilts by its thickness.

    Examples
    --------
    >>> from metrolib.rebuild.stages.section import Bridge, CrossSection, FaceAcross
    >>> front = FaceAcross("front", y=0, width=20, height=0.06, target=0.0)
    >>> rear = FaceAcross("rear", y=200, width=20, height=0.12, target=0.0)
    >>> section = CrossSection(300, {"front": front, "rear": rear})
    >>> bridges = {"front": Bridge("rear", -50, -9.0), "rear": Bridge("front", 250, -9.0)}
    >>> print(order_of_faces(section, bridges, allowance=0.02))
    Cut 'rear' and 'front' in this order. The first go leaves -4.0 µm across 'rear' and +0.0 µm \
across 'front'; a second go, with all faces down, +0.0 µm and +0.0 µm.
    """
    if not isinstance(bridges, Mapping):
        raise checks.wrong(
            "bridges", "a bridge by the name of each face is needed", bridges, "give a dict"
        )
    if not 1 <= len(bridges) <= _MOST:
        raise checks.wrong(
            "bridges", f"1 to {_MOST} faces are needed", len(bridges), "name those that are cut"
        )
    down = section
    for name in bridges:
        down = down.cut(name, checks.number("allowance", allowance))
    all_down = {}
    for name, bridge in bridges.items():
        try:
            all_down[name] = spacer_cut(down, name, bridge, allowance=allowance, pad=pad)
        except InputError as error:
            raise InputError(f"with all faces down, {error}") from None
    first_go = {
        order: _first_go(section, bridges, order, allowance, pad) for order in permutations(bridges)
    }
    best = min(first_go, key=lambda order: _left(first_go[order]))
    return FaceOrders(best, section, first_go, all_down)


def _first_go(section, bridges, order, allowance, pad):
    """Return the cut of each face in one order."""
    cuts = {}
    for name in order:
        size = size_for(section, name, bridges[name], allowance, pad)
        cuts[name] = bridged(section, name, bridges[name], size, pad)
        section = section.cut(name, allowance)
    return cuts


def _left(cuts):
    """Return what an order leaves: whether it fails, the worst tilt over a width, their sum."""
    across = [abs(nominal(cut.across)) for cut in cuts.values()]
    fails = any(cut.fault for cut in cuts.values())
    return fails, round(max(across), 9), round(sum(across), 9)
