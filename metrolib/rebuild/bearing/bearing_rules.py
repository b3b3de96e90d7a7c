"""How many spots are usual for what: rules of thumb of the trade, as data."""

from dataclasses import dataclass

_PRACTICE = "common practice, no published source"


@dataclass(frozen=True)
class BearingRule:
    """What is usually aimed at on one kind of surface.

    It is a custom of the trade and tells nothing of shape: a straightedge with 55 spots on a 25 mm
    square was 15 µm out of flat on a coordinate measuring machine (a rebuilder's account).

    Attributes
    ----------
    use : str
    spots : (float, float)
        Fewest and most, on a 25 mm square.
    share : (float, float) or None
        Share of the area that bears, 0 to 1; None where no figure goes round.
    source : str
    """

    use: str
    spots: tuple[float, float]
    share: tuple[float, float] | None
    source: str

    def __str__(self):
        area = "" if self.share is None else f", {_percents(self.share)} of the area"
        return f"{self.use}: {self.spots[0]:g} to {self.spots[1]:g}{area} ({self.source})"


def _percents(share):
    ends = dict.fromkeys(f"{100 * end:.0f}" for end in share)
    return f"{' to '.join(ends)} %"


#: From coarse to fine. None of them is a standard's.
RULES = (
    BearingRule("ordinary slides", (10, 12), None, _PRACTICE),
    BearingRule(
        "ways of machine tools", (12, 18), None, f"{_PRACTICE}; fitters' texts also say 12 at least"
    ),
    BearingRule(
        "ways of a small lathe, scraped at home",
        (15, 20),
        (0.6, 0.6),
        f"{_PRACTICE}; one workshop account",
    ),
    BearingRule(
        "ways of precision machines", (20, 25), None, f"{_PRACTICE}; a lesson for fitters says 30"
    ),
    BearingRule(
        "straightedges and surface plates",
        (40, 55),
        (0.4, 0.5),
        f"{_PRACTICE}; the share from memory",
    ),
)
