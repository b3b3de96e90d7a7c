"""The ways in cross-section at one place: what a tool that bridges several faces rests on."""

from dataclasses import dataclass, replace

import numpy as np

from metrolib import checks
from metrolib.form.wording import nominal
from metrolib.heights.stations import MERGE
from metrolib.rebuild.removal.crown import crown_at
from metrolib.rebuild.removal.plan import RemovalPlan
from metrolib.uncertain.linear import Measured


@dataclass(frozen=True)
class FaceAcross:
    """A face in the cross-section.

    Attributes
    ----------
    name : str
    y : float
        Place of its middle across the ways [mm].
    width : float
        [mm]
    height : float or `uncertainties` number
        Height of its middle as it stands [mm].
    target : float
        Height of the target in its middle [mm].
    """

    name: str
    y: float
    width: float
    height: object
    target: float


@dataclass(frozen=True, eq=False)
class CrossSection:
    """Faces that look up, at one place along the ways.

    Attributes
    ----------
    x : float
        [mm]
    faces : dict of str to FaceAcross
    tilt : float
        Tilt of the target across the ways, the +y side up [mm/m].
    """

    x: float
    faces: dict[str, FaceAcross]
    tilt: float = 0.0

    def cut(self, face, allowance):
        """Return the section with one face cut down to an allowance above its target [mm].

        A face that lies lower already stays as it is.
        """
        checks.choice("face", face, self.faces)
        one = self.faces[face]
        end = one.target + checks.number("allowance", allowance)
        if nominal(one.height) <= end:
            return self
        return replace(self, faces={**self.faces, face: replace(one, height=end)})


@dataclass(frozen=True)
class Bridge:
    """How a file or a stone bridges a face: from a ground spacer to a padded rest.

    Attributes
    ----------
    rest : str
        The face that the pad lies on, in its middle.
    spacer_y : float
        Place of the spacer across the ways [mm].
    seat : float or `uncertainties` number
        Height of what the spacer stands on, as the heights of the faces are counted [mm].
    """

    rest: str
    spacer_y: float
    seat: object


def cross_section(plan, x):
    """Return a plan's faces in cross-section.

    Parameters
    ----------
    plan : RemovalPlan
    x : float
        Place along the ways [mm]; between stations heights are taken on a straight line, while the
        target follows its crown.

    Returns
    -------
    CrossSection
        Heights nominal height included, in the plan's frame; correlated `uncertainties` numbers
        where they are uncertain. What else stands there, such as the seat of a spacer, is set out
        from a face: ``section.faces[...].height`` less its depth below that face.

    Raises
    ------
    InputError
        If the place is not between stations of a face, or a face does not look up.

    Examples
    --------
    >>> from metrolib import Face, given_heights, plan_removal
    >>> flat = Face("flat", y=0, width=30, x_from=0, x_to=500, nominal_height=20)
    >>> heights = given_heights([flat], {"flat": ([0, 250, 500], [20.0, 19.95, 20.0])})
    >>> section = cross_section(plan_removal(heights, faces=["flat"]), 125)
    >>> round(section.faces["flat"].height - section.faces["flat"].target, 4)
    0.025
    """
    checks.kind("plan", plan, RemovalPlan, "it comes from plan_removal")
    x = checks.number("x", x)
    weights = np.array([_weights(plan, name, x) for name in plan.faces])
    height = weights @ (plan.nominal + plan.relative_height)
    target = weights @ (plan.nominal + plan.target - plan.group.crown)
    names = np.array(list(plan.faces))
    target += crown_at(plan.decision, plan.faces, names, np.full(len(names), x))
    cov = plan.group.cov if plan.group.cov.any() else None
    heights = Measured(plan.relative_height, cov, None).several(weights, height)
    faces = {
        name: FaceAcross(name, face.y, face.width, heights[i], float(target[i]))
        for i, (name, face) in enumerate(plan.faces.items())
    }
    moved = dict(zip(plan.motions, plan.motion_values.tolist(), strict=True))
    return CrossSection(x, faces, moved.get("roll", 0.0))


def _weights(plan, name, x):
    """Return the height of a face at a place as weights of the plan's stations."""
    face = plan.faces[name]
    if face.up < 0.99:
        raise checks.wrong(
            "plan",
            f"a bridging tool lies on faces that look up, {name!r} does not",
            f"normal {face.normal:g}",
            "plan the flats by themselves",
        )
    mine = np.flatnonzero((plan.face == name) & ~plan.left_out & (plan.y == face.y))
    mine = mine[np.argsort(plan.x[mine], kind="stable")]
    at = plan.x[mine]
    if not at.size or not at[0] - MERGE <= x <= at[-1] + MERGE:
        span = f"from {at[0]:g} to {at[-1]:g} mm" if at.size else "nowhere in its middle"
        raise checks.wrong("x", f"{name!r} was measured {span}", x, "name a place within")
    weights = np.zeros(plan.x.size)
    weights[mine] = [np.interp(x, at, unit) for unit in np.eye(at.size)]
    return weights
