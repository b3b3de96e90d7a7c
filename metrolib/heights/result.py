"""Heights: what the adjustment found, with one joint covariance."""

from dataclasses import dataclass, field
from functools import cached_property
from html import escape

import numpy as np

from metrolib import checks
from metrolib.errors import InputError
from metrolib.heights.covariance import WhenLookedAt, held
from metrolib.survey.machine import Face
from metrolib.uncertain.linear import measured

#: Standard deviation of the weak prior that every height starts with [mm].
PRIOR_U = 10.0

#: A quantity is determined when the readings shrink its prior standard deviation to this share.
DETERMINED = 1 / 100


@dataclass(frozen=True, eq=False)
class Profile:
    """The heights of one face, a view of `Heights`.

    Attributes
    ----------
    face : str
    x, y : ndarray, shape (n,)
        Stations [mm], in ascending x.
    values : ndarray, shape (n,)
        Heights along the face's normal [mm].
    left_out : ndarray of bool, shape (n,)
        Stations that the decision leaves out.
    heights : Heights
        Whose view it is.
    at : ndarray of int, shape (n,)
        Where the stations stand among those of all faces.
    """

    face: str
    x: np.ndarray
    y: np.ndarray
    values: np.ndarray
    left_out: np.ndarray
    heights: object = field(repr=False)
    at: np.ndarray = field(repr=False)

    @cached_property
    def cov(self):
        """Their covariance, shape (n, n) [mm²]."""
        return held(self.heights).part(self.at).whole()

    @property
    def z(self):
        """The heights as `uncertainties` numbers, correlated with those of every other face."""
        return self.heights.z[self.at]


@dataclass(frozen=True)
class NotDetermined:
    """A quantity that the readings do not tie down.

    Attributes
    ----------
    what : str
        The quantity, e.g. ``"twist between 'front flat' and 'rear flat'"``.
    faces : tuple of str
        The faces it concerns.
    remedy : str
        The reading that would tie it.
    """

    what: str
    faces: tuple[str, ...]
    remedy: str

    def __str__(self):
        return f"{self.what} is not determined: {self.remedy}"

    __repr__ = __str__


@dataclass(frozen=True, eq=False)
class Heights:
    """Heights of every face at every station, with one joint covariance.

    Attributes
    ----------
    faces : dict of str to Face
    face : ndarray of str, shape (n,)
    x, y : ndarray, shape (n,)
        Stations, grouped by face and ascending in x (then y) [mm].
    values : ndarray, shape (n,)
        Heights along each face's normal, nominal height included [mm].
    cov : ndarray, shape (n, n)
        Their joint covariance [mm²]. It is made when it is looked at, and refused for more than
        5000 stations: use `variances` and `covariance`.
    left_out : ndarray of bool, shape (n,)
        Stations on damage or holes: measured, but left out of the decision.
    not_determined : tuple of NotDetermined
        What no reading ties down; never print a number for it.
    checks : Checks or None
        How the readings agree (see `metrolib.heights.blunders`); None for heights given as arrays.
    extras : mapping of str to `uncertainties` number
        What the instruments and set-ups added, by name [mm, mm/m, or a ratio].
    """

    faces: dict[str, Face]
    face: np.ndarray
    x: np.ndarray
    y: np.ndarray
    values: np.ndarray
    cov: np.ndarray = WhenLookedAt()
    left_out: np.ndarray
    not_determined: tuple[NotDetermined, ...] = ()
    checks: object = None
    extras: dict = field(default_factory=dict)

    @property
    def variances(self):
        """Squared standard uncertainties of the heights, shape (n,) [mm²]."""
        return held(self).variances

    def covariance(self, laws):
        """Return the covariance of linear functions of the heights, without that of all heights.

        Parameters
        ----------
        laws : ndarray, shape (k, n)
            One function a row.

        Returns
        -------
        ndarray, shape (k, k)
        """
        return held(self).of(laws)

    @cached_property
    def z(self):
        """The heights as `uncertainties` numbers, correlated with each other; shape (n,) [mm]."""
        from uncertainties import correlated_values

        return np.array(correlated_values(self.values, self.cov), dtype=object)

    def on(self, face):
        """Return the heights of one face.

        Raises
        ------
        InputError
            If the face is unknown or nothing was measured on it.
        """
        checks.choice("face", face, self.faces)
        mine = self.face == face
        if not mine.any():
            raise InputError(f"face {face!r}: no reading reaches it; measure it first")
        return Profile(
            face,
            self.x[mine],
            self.y[mine],
            self.values[mine],
            self.left_out[mine],
            self,
            np.flatnonzero(mine),
        )

    def __str__(self):
        surveyed = list(dict.fromkeys(self.face))
        stations = ", ".join(f"{name} {np.count_nonzero(self.face == name)}" for name in surveyed)
        lines = [f"Heights at {self.x.size} stations ({stations})."]
        if self.checks is not None:
            lines.append(str(self.checks))
        return "\n".join([*lines, *map(str, self.not_determined)])

    __repr__ = __str__

    def _repr_html_(self):
        rows = []
        for name in dict.fromkeys(self.face):
            x = self.x[self.face == name]
            rows.append((name, f"{x.size}", f"{x.min():g} to {x.max():g}"))
        body = "".join(
            f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>" for row in rows
        )
        told = [] if self.checks is None else str(self.checks).split("\n")
        told += map(str, self.not_determined)
        return f"<table><tr><th>face</th><th>stations</th><th>x [mm]</th></tr>{body}</table>" + (
            f"<ul>{''.join(f'<li>{escape(line)}</li>' for line in told)}</ul>" if told else ""
        )

    def pair(self, face_a, face_b):
        """Return two faces at the stations that both have, B on the +y side.

        Parameters
        ----------
        face_a, face_b : str
            In either order.

        Returns
        -------
        x : ndarray, shape (n,)
            Common stations [mm].
        z_a, z_b : ndarray of `uncertainties` numbers, shape (n,)
            Heights there, nominal height taken off [mm].
        distance : float
            From A to B across the ways [mm].

        Raises
        ------
        InputError
            If the faces lie at the same y, or share fewer than two stations.
        """
        low, high = sorted([self.on(face_a), self.on(face_b)], key=lambda p: self.faces[p.face].y)
        distance = self.faces[high.face].y - self.faces[low.face].y
        if distance == 0:
            raise InputError(f"{face_a!r} and {face_b!r}: both lie at the same y; pair others")
        x, at_low, at_high = np.intersect1d(low.x.round(2), high.x.round(2), return_indices=True)
        if x.size < 2:
            raise InputError(
                f"{face_a!r} and {face_b!r}: they share {x.size} stations, at least 2 are needed; "
                "measure both at the same places"
            )
        z_low = low.z[at_low] - self.faces[low.face].nominal_height
        z_high = high.z[at_high] - self.faces[high.face].nominal_height
        return x, z_low, z_high, distance


def given_heights(faces, points, u=None):
    """Make `Heights` from plain arrays, for a machine measured elsewhere.

    Parameters
    ----------
    faces : iterable of Face
    points : dict of str to (x, z) or (x, y, z)
        For each face its stations and heights [mm], each array of shape (n_face,).
    u : float or array_like, shape (n,) or (n, n), optional
        Standard uncertainty of the heights [mm], or their covariance [mm²], in the order of
        `points`; nothing is taken for exact heights.

    Returns
    -------
    Heights

    Raises
    ------
    InputError
        If a face has no description, or lengths differ.

    Examples
    --------
    >>> from metrolib.survey.machine import Face
    >>> front = Face("front", y=0, width=30, x_from=0, x_to=500)
    >>> heights = given_heights([front], {"front": ([0, 250, 500], [0.0, -0.05, 0.0])}, u=0.002)
    >>> print(heights.on("front").z[1])
    -0.0500+/-0.0020
    """
    faces = {face.name: face for face in faces}
    names, columns = [], []
    for name, point in points.items():
        checks.choice("points", name, faces)
        x, *y, z = [np.asarray(column) for column in point]
        y = y[0] if y else np.full(len(x), faces[name].y)
        checks.same_length(x=x, y=y, z=z)
        names += [name] * len(x)
        columns.append(np.array([x, y, z], dtype=float))
    x, y, z = np.concatenate(columns, axis=1)
    heights = measured("points", z, 0.0 if u is None else u)
    cov = np.diag(heights.cov) if heights.cov.ndim == 1 else heights.cov
    face = np.array(names)
    left_out = np.array([bool(faces[f].is_left_out(at)) for f, at in zip(face, x, strict=True)])
    return Heights(faces, face, x, y, heights.values, cov, left_out)
