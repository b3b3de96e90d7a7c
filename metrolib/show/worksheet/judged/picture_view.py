"""What the growing picture shows: profiles with their bands, readings, and what is next."""

from dataclasses import dataclass, replace

import numpy as np

from metrolib.form.wording import listing
from metrolib.heights.frame import relative_to
from metrolib.heights.stations import MERGE
from metrolib.rebuild.findings import UNKNOWN
from metrolib.show.style import shown
from metrolib.show.worksheet.typed import unit_sign
from metrolib.units import unit_sign as length_sign

#: A line through two stations tells nothing of their shape.
_LEAST_STATIONS = 3

#: So many profiles are told in the sentence that stands for the picture.
_TOLD = 2


@dataclass(frozen=True, eq=False)
class ProfileLine:
    """The profile of one face.

    Attributes
    ----------
    face : str
    x : ndarray, shape (n,)
        Stations in ascending order [mm].
    z, u : ndarray, shape (n,)
        Height and its standard uncertainty [display unit].
    """

    face: str
    x: np.ndarray
    z: np.ndarray
    u: np.ndarray


@dataclass(frozen=True, eq=False)
class PictureView:
    """What is to be drawn of a traverse as it stands.

    Attributes
    ----------
    traverse : str
    unit : str
        Display unit of heights, ``"um"`` or ``"thou"``.
    lines : tuple of ProfileLine
        Empty as long as the readings do not tell a shape.
    against : str
        What heights are drawn against.
    not_drawn : tuple of str
        Faces of the traverse whose shape is not determined yet.
    x, value : ndarray, shape (m,)
        Places and readings of the traverse so far [mm, unit of the instrument].
    doubtful : ndarray of bool, shape (m,)
    planned : ndarray, shape (p,)
        Places still to be read [mm].
    next_x : float or None
        Where the instrument goes next [mm].
    reading_sign : str
        Unit of the readings, as it is written.
    """

    traverse: str
    unit: str
    lines: tuple[ProfileLine, ...]
    against: str
    not_drawn: tuple[str, ...]
    x: np.ndarray
    value: np.ndarray
    doubtful: np.ndarray
    planned: np.ndarray
    next_x: float | None
    reading_sign: str

    @property
    def title(self):
        """What the upper part shows."""
        if not self.lines:
            if not self.not_drawn:
                return self.traverse
            return f"{self.traverse} (not determined yet: {listing(self.not_drawn)})"
        count = len(self.lines)
        named = listing([line.face for line in self.lines]) if count < 3 else f"{count} faces"
        return f"{named} against {self.against}; band: ± 2 standard uncertainties"

    @property
    def alt_text(self):
        """The picture in one sentence, for those who do not see it."""
        whole = self.x.size + self.planned.size
        words = [f"{self.traverse}: {self.x.size} of {whole} readings taken"]
        words += [_told(line, self.unit) for line in self.lines[:_TOLD]]
        if len(self.lines) > _TOLD:
            words.append(f"and {len(self.lines) - _TOLD} faces more")
        if self.not_drawn:
            words.append(f"shape not determined yet: {listing(self.not_drawn)}")
        if self.doubtful.any():
            places = dict.fromkeys(f"{x:g} mm" for x in self.x[self.doubtful])
            words.append(f"doubtful: {listing(list(places))}")
        if self.next_x is not None:
            words.append(f"next at {self.next_x:g} mm")
        return "; ".join(words) + "."


def _told(line, unit):
    """Say what a profile looks like."""
    low, high, sign = int(line.z.argmin()), int(line.z.argmax()), length_sign(unit)
    return (
        f"{line.face} lowest at {line.x[low]:g} mm ({line.z[low]:.1f} {sign}), highest at "
        f"{line.x[high]:g} mm ({line.z[high]:.1f} {sign}), known to ± {2 * line.u.max():.1f} "
        f"{sign} or better"
    )


def view_of(survey, heights, traverse, *, next_x=None, doubtful=()):
    """Return what the picture of a traverse shows.

    Parameters
    ----------
    survey : Survey
    heights : Heights or None
        Adjusted from the readings so far; without them only the readings are shown.
    traverse : str
        Its name.
    next_x : float, optional
        Where the instrument goes next [mm].
    doubtful : iterable of Doubt
        Those that still stand.

    Returns
    -------
    PictureView
    """
    own = survey.traverses[traverse]
    readings, planned = survey.readings.of(traverse), survey.planned.of(traverse)
    lines, against, lacking = _lines(heights, _faces_of(own, readings), survey.display)
    marked = np.zeros(len(readings), dtype=bool)
    for doubt in doubtful:
        if doubt.traverse == traverse:
            here = np.abs(readings.x - doubt.x) <= MERGE
            marked |= here & (readings.face == doubt.face) & (readings.repeat == doubt.repeat)
    return PictureView(
        traverse,
        survey.display,
        lines,
        against,
        lacking,
        readings.x,
        readings.value,
        marked,
        planned.x,
        next_x,
        unit_sign(survey.instruments[own.instrument].unit),
    )


def _faces_of(traverse, readings):
    """Return the faces that a traverse is about, in order: those that its readings look at."""
    found = dict.fromkeys(str(face) for face in readings.face if face)
    for key in ("face", "other_face"):
        names = traverse.settings.get(key) or ()
        found |= dict.fromkeys([names] if isinstance(names, str) else names)
    return tuple(found)


def _lines(heights, faces, unit):
    """Return the profiles that are determined, what they are drawn against, and other faces."""
    if heights is None:
        return (), "", ()
    surveyed = [face for face in faces if (heights.face == face).sum() >= _LEAST_STATIONS]
    drawn, together = _in_one_frame(heights, surveyed)
    against = "one plane" if len(drawn) > 1 and together else "its own line"
    lines = tuple(
        ProfileLine(face, x, shown(z, unit), shown(u, unit)) for face, (x, z, u) in drawn.items()
    )
    return lines, against, tuple(face for face in surveyed if face not in drawn)


def _in_one_frame(heights, faces):
    """Return x, z and u of each determined face by name, and whether they lie in one frame."""
    if len(faces) > 1:
        found = _relative(heights, faces)
        if all(u.max() <= UNKNOWN for _, _, u in found.values()):
            return found, True
    found = {}
    for face in faces:
        found |= _relative(heights, [face])
    return {face: one for face, one in found.items() if one[2].max() <= UNKNOWN}, False


def _relative(heights, faces):
    """Return x, z and u of some faces against the motion that fits them, by name."""
    mine = np.flatnonzero(np.isin(heights.face, faces))
    part = replace(
        heights,
        face=heights.face[mine],
        x=heights.x[mine],
        y=heights.y[mine],
        values=heights.values[mine],
        cov=heights.cov[np.ix_(mine, mine)],
        left_out=heights.left_out[mine],
    )
    z, cov = relative_to(part, faces)
    u = np.sqrt(np.maximum(np.diag(cov), 0.0))
    found = {}
    for face in faces:
        here = np.flatnonzero((part.face == face) & ~part.left_out)
        here = here[np.argsort(part.x[here], kind="stable")]
        if here.size:
            found[face] = part.x[here], z[here], u[here]
    return found
