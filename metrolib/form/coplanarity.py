"""Coplanarity: several faces against one plane."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.errors import InputError
from metrolib.form import wording
from metrolib.form.flatness import Flatness, flatness_of
from metrolib.form.planes import Plane
from metrolib.uncertain.linear import measured_together


@dataclass(frozen=True, eq=False)
class FaceAgainstPlane:
    """How one face lies against the common plane.

    Attributes
    ----------
    face : str
    height : float or `uncertainties` number
        Mean height of its stations above the plane [mm].
    tilt : float or `uncertainties` number, or None
        Slope of its least-squares line along x against the plane [mm/m]; None where its stations
        all stand at one x.
    deviation : ndarray, shape (n,)
        Height of each of its stations above the plane [mm].
    deviation_u : ndarray, shape (n,), or None
        [mm]
    """

    face: str
    height: object
    tilt: object
    deviation: np.ndarray
    deviation_u: np.ndarray | None

    def in_words(self, unit="um"):
        """Return the line for this face."""
        side = "above" if wording.nominal(self.height) >= 0 else "below"
        height = wording.length(abs(wording.nominal(self.height)), unit)
        tilt = "" if self.tilt is None else f"; tilt {wording.slope(self.tilt)}"
        height = wording.length(abs(wording.nominal(self.height)), unit)
        return f"{self.face}: {height} {side} the plane{wording.expanded(self.height, unit)}{tilt}"


@dataclass(frozen=True, eq=False)
class Coplanarity:
    """Coplanarity of several faces, with all that the figure was made from.

    Attributes
    ----------
    value : float or `uncertainties` number
        Flatness of all faces together, after their nominal steps are taken off [mm].
    reference : str
        ``"minimum zone"`` or ``"least squares"``.
    plane : Plane
        The common plane, at the step 0.
    faces : dict of str to FaceAgainstPlane
        In the order given.
    contacts : tuple of (str, int)
        Stations that decide the value: face, and place in its arrays.
    tied : tuple of (str, int)
        Stations that cannot be told from a contact, so that `value` is less sure than its u.
    together : Flatness
        The same as one face; its stations follow each other face by face.
    """

    value: object
    reference: str
    plane: Plane
    faces: dict[str, FaceAgainstPlane]
    contacts: tuple[tuple[str, int], ...]
    tied: tuple[tuple[str, int], ...]
    together: Flatness

    @property
    def drawn_from(self):
        """The heights that it came from, steps taken off, face by face, as `Measured`."""
        return self.together.drawn_from

    @property
    def redo(self):
        """What finds the value again: a function of such heights, (T, n) [mm], to T values."""
        return self.together.redo

    def in_words(self, unit="um"):
        """Return the sentence that a rebuilder would write down, and a line for each face.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        return "\n  ".join(
            [
                f"coplanarity of {wording.listing(self.faces)} "
                f"{wording.length(self.value, unit)} ({self.reference})"
                f"{wording.expanded(self.value, unit)}; {self._contacts()}"
                f"{wording.doubt(self.tied)}",
                *(face.in_words(unit) for face in self.faces.values()),
            ]
        )

    def _contacts(self):
        where = zip(self.contacts, self.together.contacts, strict=True)
        x = self.together.x
        return "contacts at " + wording.listing(
            f"{x[station]:.10g} mm on {face}" for (face, _), station in where
        )

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return wording.table(
            "Coplanarity",
            [
                ("value", wording.measured_length(self.value)),
                ("reference", self.reference),
                ("contacts", self._contacts()),
                ("stations tied with a contact", len(self.tied)),
                *((name, face.in_words()) for name, face in self.faces.items()),
            ],
        )


def coplanarity(faces, u=None, *, steps=None, reference="minimum zone"):
    """Find how nearly several faces lie in one plane.

    Parameters
    ----------
    faces : dict of str to (x, y, z)
        For each face its stations and heights [mm], each of shape (n_face,); y may be one number.
        The heights are floats or `uncertainties` numbers, all counted from one base.
    u : float or array_like, shape (n,) or (n, n), optional
        Standard uncertainty of all heights [mm], or their joint covariance [mm²], in the order
        of `faces`.
    steps : dict of str to float, optional
        Nominal height of each face [mm], which is subtracted first; 0 for a face not named.
    reference : str
        ``"minimum zone"`` (exact) or ``"least squares"``.

    Returns
    -------
    Coplanarity

    Notes
    -----
    Two narrow parallel faces lie in one plane whatever their heights: it is then tilted across
    (`plane.across`), and only a third face, or a level, tells whether it should be.

    Raises
    ------
    InputError
        If there is no face, lengths differ, a number is not finite, a step names no face, all
        stations are at one place, or the uncertainty does not fit.

    Examples
    --------
    Three flats; the middle one is nominally 3 mm lower, in truth 12 µm more:

    >>> from metrolib.form.coplanarity import coplanarity
    >>> flats = {
    ...     "front": ([0, 500, 1000], 0, [10.000, 9.999, 10.000]),
    ...     "middle": ([0, 500, 1000], 100, [6.992, 6.988, 6.991]),
    ...     "rear": ([0, 500, 1000], 200, [9.999, 9.998, 10.001]),
    ... }
    >>> print(coplanarity(flats, 0.0002, steps={"front": 10, "middle": 7, "rear": 10}))
    coplanarity of front, middle and rear 12.5 µm (minimum zone), U = 0.5 µm (k = 2); contacts at
    0 mm on front, 500 mm on middle and 1000 mm on rear; 1 more station may be a contact too, so
    U is a first estimate
      front: 5.9 µm above the plane, U = 0.3 µm (k = 2); tilt +0.0000 mm/m, U = 0.0000 mm/m (k = 2)
      middle: 3.9 µm below the plane, U = 0.2 µm (k = 2); tilt -0.0010 mm/m, U = 0.0008 mm/m (k = 2)
      rear: 4.6 µm above the plane, U = 0.4 µm (k = 2); tilt +0.0020 mm/m, U = 0.0008 mm/m (k = 2)
    """
    x, y, heights, sizes = _joined(faces, steps or {}, u)
    joint = flatness_of(x, y, heights, reference)
    owner = np.repeat(np.arange(len(sizes)), sizes)
    starts = np.concatenate([[0], np.cumsum(sizes)])[:-1]
    names = list(faces)

    def on_faces(stations):
        return tuple((names[owner[i]], int(i - starts[owner[i]])) for i in stations)

    return Coplanarity(
        value=joint.value,
        reference=reference,
        plane=joint.plane,
        faces=_against_plane(joint, names, owner),
        contacts=on_faces(joint.contacts),
        tied=on_faces(joint.tied),
        together=joint,
    )


def _joined(faces, steps, u):
    """Return all stations and heights, steps taken off, and the number of each face's stations."""
    if not faces:
        raise InputError("faces: none given; give at least one face with its x, y and z")
    for name in steps:
        checks.choice("steps", name, faces)
    all_x, all_y, all_z = [], [], {}
    for name, (x, y, z) in faces.items():
        x = checks.vector(f"x of {name!r}", x)
        y = checks.vector(f"y of {name!r}", np.full(x.size, y) if np.ndim(y) == 0 else y)
        z = np.asarray(z) - checks.number("steps", steps.get(name, 0.0))
        checks.same_length(**{f"x of {name!r}": x, f"y of {name!r}": y})
        all_x.append(x)
        all_y.append(y)
        all_z[f"z of {name!r}"] = z
    heights = measured_together(all_z, u)
    for x, (name, z) in zip(all_x, all_z.items(), strict=True):
        checks.same_length(**{name.replace("z", "x", 1): x, name: z})
    return np.concatenate(all_x), np.concatenate(all_y), heights, [x.size for x in all_x]


def _against_plane(joint, names, owner):
    """Return for each face its mean height and its tilt against the plane, all correlated."""
    deviations, rows, values = joint.deviations, [], []
    tilts = {}
    for number, name in enumerate(names):
        mine = np.flatnonzero(owner == number)
        shares = [np.full(mine.size, 1 / mine.size)]
        centred = joint.x[mine] - joint.x[mine].mean()
        tilts[name] = bool(np.ptp(centred) > 0)
        if tilts[name]:
            shares.append(1000 * centred / (centred @ centred))
        for share in shares:
            values.append(float(share @ deviations.values[mine]))
            if deviations.heights.cov is not None:
                rows.append(deviations.combination(mine, share))
    numbers = iter(deviations.heights.several(np.array(rows), values))
    found = {}
    for number, name in enumerate(names):
        mine = owner == number
        u = None if joint.deviation_u is None else joint.deviation_u[mine]
        found[name] = FaceAgainstPlane(
            name,
            next(numbers),
            next(numbers) if tilts[name] else None,
            joint.deviation[mine],
            u,
        )
    return found
