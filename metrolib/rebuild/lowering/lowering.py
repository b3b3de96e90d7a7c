"""Lowering: how a saddle, tailstock or headstock moves when metal comes off what carries it."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.errors import InputError, NotDeterminedError
from metrolib.form.wording import nominal
from metrolib.rebuild.lowering import lowering_words as words
from metrolib.rebuild.lowering.carried_feet import Feet, holds, plain
from metrolib.rebuild.lowering.contact import MOTIONS, Contact, point_rows
from metrolib.rebuild.lowering.taken import taken_off
from metrolib.survey.carried import Carried
from metrolib.survey.machine import Face


@dataclass(frozen=True, eq=False)
class Lowering:
    """How a body moves when metal comes off the faces that carry it.

    Attributes
    ----------
    body : Carried
    faces : dict of str to Face
        Those that it rides on.
    x : ndarray, shape (P,)
        Places of its middle along the ways [mm].
    motion : ndarray, shape (P, 5)
        Lift, shift towards +y [mm], roll (the +y side up), pitch (the far end up) and yaw (the far
        end towards +y) [mm/m] at its reference: floats or `uncertainties` numbers. What is
        `free` counts as 0 here; ask `at` or the properties, which know.
    free : tuple of str
        Motions that no face holds.
    y : float
        Its reference across the ways: the middle of the faces that carry it, at the level of the
        flats [mm].
    taken : dict of str to ndarray, shape (P, 2)
        What came off at each foot, of the face and of the body [mm].
    mean_taken : dict of str to tuple
        The mean of it over the places, at each of the two feet: floats or `uncertainties` numbers,
        correlated with `motion` [mm].
    gap : dict of str to ndarray, shape (P, 2)
        Room at each foot afterwards; of an underside, how far the keep plate's clearance opened
        [mm].
    uncut : tuple of str
        Faces that it rides on and that nothing came off.
    contact : Contact
        Its feet.
    """

    body: Carried
    faces: dict[str, Face]
    x: np.ndarray
    motion: np.ndarray
    free: tuple[str, ...]
    y: float
    taken: dict[str, np.ndarray]
    mean_taken: dict[str, tuple]
    gap: dict[str, np.ndarray]
    uncut: tuple[str, ...]
    contact: Contact

    @property
    def value(self):
        """The drop [mm], shape (P,); None where no face holds it."""
        return self.drop

    @property
    def drop(self):
        """How far its reference sinks, shape (P,) [mm]; None where no face holds it."""
        lift = self._motion("lift")
        return None if lift is None else -lift

    @property
    def shift(self):
        """How far its reference moves towards +y, shape (P,) [mm]; None where it is free."""
        return self._motion("shift")

    @property
    def roll(self):
        """Roll, the +y side up, shape (P,) [mm/m]; None where it is free."""
        return self._motion("roll")

    @property
    def pitch(self):
        """Pitch, the far end up, shape (P,) [mm/m]; None where it is free."""
        return self._motion("pitch")

    @property
    def yaw(self):
        """Yaw, the far end towards +y, shape (P,) [mm/m]; None where it is free."""
        return self._motion("yaw")

    def _motion(self, name):
        return None if name in self.free else self.motion[:, MOTIONS.index(name)]

    def at(self, y, z, x=0.0):
        """Return how a point of the body moves.

        Parameters
        ----------
        y, z : float
            Across the ways, and above the level of the flats [mm].
        x : float
            Along the ways from the body's middle [mm].

        Returns
        -------
        side, up : ndarray, shape (P,)
            Towards +y and upward [mm]: floats or `uncertainties` numbers.

        Raises
        ------
        NotDeterminedError
            If no face holds the body in that direction.
        """
        rows = point_rows(x, y - self.y, z)
        for row, way in zip(rows, ("sideways", "in height"), strict=True):
            if not self.contact.holds(row[0]):
                raise NotDeterminedError(
                    f"{self.body.name!r} at y {y:g}, z {z:g} mm is not held {way}: "
                    f"{words.remedy(self.free)}"
                )
        return tuple(self._moved(row[0]) for row in rows)

    def _moved(self, row):
        used = np.flatnonzero(row)
        return sum((self.motion[:, k] * row[k] for k in used), start=0.0 * self.motion[:, 0])

    @property
    def hangs(self):
        """Faces that it does not bear on somewhere, with the most room there [mm], a dict."""
        return {
            name: float(gap.max())
            for name, gap in self.gap.items()
            if holds(self.faces[name]) and gap.max() > 0
        }

    def in_words(self, unit="um"):
        """Say how it moves.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        return words.in_words(self, unit)

    def to_dataframe(self, unit="um"):
        """Return the motions as a pandas table, a place along the ways a row."""
        return words.to_dataframe(self, unit)

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return words.to_html(self)


def lowering(body, faces, removed, u=None, *, at=None, own=None, since="now"):
    """Find how a body moves when metal comes off the faces that carry it.

    Parameters
    ----------
    body : Carried
    faces : dict of str to Face
        As in ``survey.machine.faces``.
    removed : RemovalPlan, or dict of str to (float or (x, depth))
        What comes off, square to each face [mm]: a plan, or by face one depth, or depths at places
        along x; floats or `uncertainties` numbers. A face that is not in it loses nothing.
    u : float or array_like, shape (n,) or (n, n), optional
        Standard uncertainty of given depths [mm], or their covariance [mm²], in their order.
    at : float or array_like, shape (P,), optional
        Places of the body's middle along the ways [mm]; without it nine places over its travel.
    own : dict of str to (float or (float, float)), optional
        What came off the body's own faces, by the face they ride on: one depth, or one at each
        foot [mm]; floats or `uncertainties` numbers. Below zero for what was put on: a shim.
    since : {"now", "new"}
        Of a plan: against the machine as it stands now, worn, with the target fixed in the frame of
        the plan; or against the nominal shape, wear included, each depth cut as planned (of an
        underside that is not in the plan, no wear).

    Returns
    -------
    Lowering

    Raises
    ------
    InputError
        If the body rides on an unknown face or metal comes off one, a foot stands off its face, a
        plan knows its face at several y, or an argument makes no sense.

    Notes
    -----
    A rigid body in small motion, on two feet at the ends of its bearing length on each face. At a
    foot with outward normal n, where t came off, n . (motion of the foot) + t is the room under it.
    `metrolib.rebuild.lowering.contact.Contact` tells where it rests. Of an underside only the
    clearance of its keep plate follows. All other faces are taken as pressed on, by weight or a
    gib: of a dovetail or a guide name the flank that guides, not the one that the gib bears on.

    For one vee with t off both flanks, half angle theta, this is a drop of t / sin(theta); off one
    flank, half of that and a sidestep of t / (2 cos(theta)).

    The uncertainty is the linear law while the same feet touch. A body with more feet than motions
    stands on the highest of them: if they fit only within their uncertainty, it sits about one
    standard uncertainty of a foot higher than the law says, and scatters somewhat more, until its
    bottom is scraped to the bed.

    Straight lines join the feet: a body that bears along its whole length on a face that ends
    straight. On worn, curved faces it bears elsewhere, and ``since="new"`` says more.

    Examples
    --------
    Both flanks of a vee of 90 degrees lose 0.1 mm, the flat behind loses nothing:

    >>> from metrolib import Carried, Face, lowering
    >>> shape = {"width": 16, "x_from": 0, "x_to": 900}
    >>> faces = [Face("front", 34, normal=-45, **shape), Face("back", 46, normal=45, **shape)]
    >>> faces = {face.name: face for face in [*faces, Face("flat", 250, **shape)]}
    >>> saddle = Carried("saddle", tuple(faces), feet=(-100, 100), travel=(100, 800))
    >>> print(lowering(saddle, faces, {"front": 0.1, "back": 0.1}, at=300))
    'saddle' at 300 mm drops 94.3 µm, shifts towards -y by 4.0 µm; roll +0.6734 mm/m, no pitch
    or yaw (at y 110, the level of the flats); nothing came off 'flat'
    """
    checks.kind("body", body, Carried, "describe it as Carried(...)")
    checks.kind("faces", faces, dict, "give survey.machine.faces")
    ridden = _ridden(body, faces)
    x = _places(body, ridden, at)
    feet = Feet(body, ridden)
    for name in removed if isinstance(removed, dict) else ():
        checks.choice("removed", name, faces)
    carrying = [name for name, face in ridden.items() if holds(face)]
    taken = taken_off(removed, u, faces=carrying, since=since)
    shares = np.array(
        [[taken.weights(*foot) for foot in feet.stand(place)] for place in x]
    )  # (P, n, stations)
    own = feet.own(own)
    lost = shares @ taken.values + plain(own)
    rests = [feet.contact.rest(row[feet.carry]) for row in lost]
    motion = _numbers(taken, rests, shares, own, feet)
    gaps = np.array([feet.rows @ rest.motion + row for rest, row in zip(rests, lost, strict=True)])
    gaps[:, feet.carry] = [rest.gap for rest in rests]
    unit = np.eye(len(MOTIONS))
    mean = np.array(taken.numbers(shares.mean(axis=0), (lost - plain(own)).mean(axis=0)))
    mean = mean + np.array(own)
    bare = [name for name in body.rides_on if not lost[:, feet.of(name)].any()]
    return Lowering(
        body=body,
        faces=ridden,
        x=x,
        motion=motion,
        free=tuple(n for n, row in zip(MOTIONS, unit, strict=True) if not feet.contact.holds(row)),
        y=feet.y_middle,
        taken={name: lost[:, feet.of(name)] for name in ridden},
        mean_taken={name: tuple(mean[feet.of(name)]) for name in ridden},
        gap={name: gaps[:, feet.of(name)] for name in ridden},
        uncut=tuple(bare),
        contact=feet.contact,
    )


def _ridden(body, faces):
    """Return the faces that the body rides on."""
    for name in body.rides_on:
        checks.choice(f"body {body.name!r}, rides_on", name, faces)
    for key in ("feet", "travel"):
        low, high = checks.pair(f"{key} of {body.name!r}", getattr(body, key)).tolist()
        if low > high:
            raise checks.wrong(
                f"{key} of {body.name!r}", "it does not ascend", (low, high), "turn it round"
            )
    ridden = {name: faces[name] for name in body.rides_on}
    if not any(map(holds, ridden.values())):
        raise checks.wrong(
            "body",
            f"nothing carries {body.name!r}",
            ", ".join(map(repr, ridden)) or "no face",
            "name the faces that it rests on, not only undersides",
        )
    return ridden


def _places(body, ridden, at):
    """Return the places of the body's middle, each with all feet on their faces."""
    if at is None:
        low, high = body.travel
        at = [low] if low == high else np.linspace(low, high, 9)
    x = checks.vector("at", np.atleast_1d(at))
    for place in x:
        off = body.off(ridden, [place])
        if off is not None:
            name, foot = off
            raise InputError(
                f"at: with its middle at {place:g} mm a foot of {body.name!r} stands at {foot:g} "
                f"mm, off {name!r}; that face runs from {ridden[name].x_from:g} to "
                f"{ridden[name].x_to:g}"
            )
    return x


def _numbers(taken, rests, shares, own, feet):
    """Return the motions as numbers that know how sure they are, shape (P, 5)."""
    matrix = np.concatenate(
        [rest.law @ share[feet.carry] for rest, share in zip(rests, shares, strict=True)]
    )
    own = [own[foot] for foot in feet.carry]
    moved = np.concatenate([rest.motion - rest.law @ plain(own) for rest in rests])
    numbers = np.array(taken.numbers(matrix, moved))
    given = [k for k, depth in enumerate(own) if nominal(depth) != 0 or hasattr(depth, "std_dev")]
    if given:
        law = np.concatenate([rest.law for rest in rests])
        numbers = numbers + np.array([sum(row[k] * own[k] for k in given) for row in law])
    return numbers.reshape(len(rests), len(MOTIONS))
