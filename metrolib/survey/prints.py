"""Prints: the tables [[prints]] of survey.toml, one for each laying of a blued straightedge."""

from dataclasses import dataclass

from metrolib.survey.sections import Section
from metrolib.survey.syntax import TOLD

#: A thin film of blue [mm]: 1 to 5 µm are met (common practice, no published source).
FILM = 0.003

#: Standard uncertainty of a film, as a share of it: 1 to 5 µm evenly, of 3 (4 / sqrt(12) / 3).
FILM_U = 0.4

_HOW = "write true (all over), false, or stretches such as [[0, 130], [420, 500]]"


@dataclass(frozen=True)
class Print:
    """One print: a blued straightedge or plate was laid on a face, and blue came off or did not.

    Attributes
    ----------
    face : str
    laid : (float, float)
        From where to where along the ways it lay [mm]; it may hang over the end of the face.
    printed : tuple of (float, float)
        Stretches of the face that took blue [mm]; all else under it stayed bare.
    straightedge : str
        What was laid; one of the survey's straightedges, or any other name.
    film : float
        Thickness of the film of blue [mm].
    straightedge_u : float
        Standard uncertainty of its sole's departure from a line [mm].
    note : str
    """

    face: str
    laid: tuple[float, float]
    printed: tuple[tuple[float, float], ...]
    straightedge: str = "straightedge"
    film: float = FILM
    straightedge_u: float = 0.0
    note: str = ""

    @property
    def length(self):
        """How much of the straightedge lay down, overhang included [mm]."""
        return self.laid[1] - self.laid[0]

    def __str__(self):
        return f"{self.face!r}, {self.straightedge} at {self.laid[0]:g} to {self.laid[1]:g} mm"


def take_prints(book, rows, names, machine, straightedges):
    """Return the prints of a survey.

    Parameters
    ----------
    book : Book
    rows : list of dict
        The tables [[prints]].
    names : set of str
        Names of the faces.
    machine : Machine
    straightedges : dict of str to Straightedge

    Returns
    -------
    tuple of Print
    """
    if rows == TOLD:
        return ()
    if not isinstance(rows, list):
        book.fault(
            ("prints",), "prints is no list of tables", "write [[prints]] in two brackets, for each"
        )
        return ()
    found = []
    for number, row in enumerate(rows):
        section = Section(book, ("prints", number), row, f"print {number + 1}")
        if section.sound:
            found.append(_take_print(section, names, machine, straightedges))
    return tuple(entry for entry in found if entry is not None)


def _take_print(section, names, machine, straightedges):
    face = section.choice("face", names, what="face")
    laid = section.numbers("laid", ascending=True)
    tool = section.text("straightedge")
    edge = straightedges.get(tool)
    entry = Print(
        face=face,
        laid=laid,
        printed=_take_printed(section, laid),
        straightedge=tool,
        film=section.number("film", FILM, above=0),
        straightedge_u=0.0 if edge is None else edge.profile_uncertainty,
        note=section.text("note", ""),
    )
    section.finish()
    if laid is not None:
        _check_place(section, entry, machine.faces.get(face), edge)
    return entry if section.sound else None


def _take_printed(section, laid):
    """Return the stretches that took blue; None where they are at fault."""
    given = section.raw("printed")
    if not section.given("printed"):
        return section.fault(None, "printed is missing", _HOW)
    if isinstance(given, bool):
        return (laid,) if given else ()
    if not isinstance(given, list):
        return section.fault("printed", f"printed is {given!r}", _HOW)
    stretches = []
    for stretch in given:
        inner = Section(section.book, section.path, {"printed": stretch}, section.title)
        pair = inner.numbers("printed", ascending=True)
        section.sound &= inner.sound
        if pair is None or laid is None:
            continue
        if pair[0] < laid[0] or pair[1] > laid[1]:
            section.fault(
                "printed",
                f"printed {pair[0]:g} to {pair[1]:g} lies beyond what was laid",
                f"it lay from {laid[0]:g} to {laid[1]:g}",
            )
        stretches.append(pair)
    return tuple(stretches)


def _check_place(section, entry, face, edge):
    start, end = entry.laid
    if face is not None and None not in (face.x_from, face.x_to):
        if end <= face.x_from or start >= face.x_to:
            section.fault(
                "laid",
                f"laid {start:g} to {end:g} is not on the face",
                f"the face runs from {face.x_from:g} to {face.x_to:g}",
            )
    if edge is not None and edge.length is not None and entry.length > edge.length:
        section.fault(
            "laid",
            f"laid over {entry.length:g} mm, {entry.straightedge!r} is {edge.length:g} mm long",
            "write one print for each place where it lay",
        )
