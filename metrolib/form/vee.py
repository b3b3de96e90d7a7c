"""A vee way: how a saddle that rides on its two flanks moves, and how straight that is."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.form import wording
from metrolib.form.straightness import Straightness, straightness
from metrolib.uncertain.linear import Measured, measured_together

#: Half angles of a vee lie between these; outside, one movement of the saddle is hardly held [deg].
SHARPEST, FLATTEST = 5.0, 85.0

#: The sign rule, said beside every movement of a saddle.
SIGN_RULE = "lift: positive upward; shift: positive toward +y"


@dataclass(frozen=True, eq=False)
class Vee:
    """The way that a saddle takes along a vee.

    Attributes
    ----------
    x : ndarray, shape (n,)
        Stations, as given [mm].
    lift, shift : ndarray of float or of `uncertainties` numbers, shape (n,)
        How far the saddle stands upward and toward +y of its nominal place at each station [mm].
    vertical, horizontal : Straightness
        Straightness of the lift and of the shift; correlated with each other.
    normals : (float, float)
        Of flank A and flank B [deg].
    half_angle : float
        Half of the angle between the flanks [deg].
    drawn_from : Measured
        The heights that it came from, A first [mm].
    """

    x: np.ndarray
    lift: np.ndarray
    shift: np.ndarray
    vertical: Straightness
    horizontal: Straightness
    normals: tuple[float, float]
    half_angle: float
    drawn_from: Measured

    @property
    def cov(self):
        """Joint covariance of lift and shift, lift first, shape (2 n, 2 n), or None [mm²]."""
        return self.drawn_from.covariance(_rows(self.normals, self.x.size))

    def in_words(self, unit="um"):
        """Return the sentence that a rebuilder would write down.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        lowest = self.x[self.vertical.deviation.argmin()]
        return (
            f"on the vee ({_flanks(self.normals)}) the saddle runs, in the vertical plane, with "
            f"{self.vertical.in_words(unit)}; in the horizontal plane, with "
            f"{self.horizontal.in_words(unit)}; it stands lowest at {lowest:.10g} mm"
        )

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return wording.table(
            "Vee",
            [
                ("flanks", _flanks(self.normals)),
                ("half angle", f"{self.half_angle:.4g} deg"),
                ("vertical straightness", wording.measured_length(self.vertical.value)),
                ("horizontal straightness", wording.measured_length(self.horizontal.value)),
                ("pitch of the path", wording.slope(self.vertical.line.slope)),
                ("yaw of the path", wording.slope(self.horizontal.line.slope)),
                ("sign", SIGN_RULE),
            ],
        )


def vee(x, z_a, z_b, normals, u=None, *, reference="minimum zone"):
    r"""Find how a saddle moves on a vee whose flanks are worn, and how straight that is.

    Parameters
    ----------
    x : array_like, shape (n,)
        Stations common to both flanks [mm]; n >= 2, in any order.
    z_a, z_b : array_like, shape (n,)
        Heights of the flanks, each along its own outward normal, nominal height taken off [mm]:
        floats or `uncertainties` numbers.
    normals : (float, float)
        Directions of the outward normals of A and B in the cross-section [deg]: 0 up, 90 toward
        +y, -90 toward -y. A ridge with flanks at 45 deg has (-45, 45), its flank at smaller y
        first; the angles need not be equal.
    u : float or array_like, shape (2 n,) or (2 n, 2 n), optional
        Standard uncertainty of the heights [mm], or their joint covariance [mm²], A first.
    reference : str
        The line of both straightnesses, as for `straightness`.

    Returns
    -------
    Vee

    Raises
    ------
    InputError
        If lengths differ, a number is not finite, there are fewer than two stations, the
        uncertainty does not fit, or the flanks make no vee: their half angle lies outside 5 to
        85 deg.

    Notes
    -----
    The saddle moves by (shift h, lift v) so that it keeps touching both flanks:
    :math:`n_i \cdot (h, v) = z_i`, two equations for two unknowns. With flanks at :math:`\varphi`
    from the horizontal, :math:`v = (z_a + z_b) / (2 \cos \varphi)` and
    :math:`h = (z_b - z_a) / (2 \sin \varphi)`, A being the flank that leans to -y. For small
    movements; the saddle is short against the wear, does not roll, and touches each flank along
    the line that was measured.

    Examples
    --------
    One flank of a 90 deg ridge is worn hollow by 20 µm: the saddle slides 14 µm down there along
    the other flank, and so goes 14 µm sideways as well, away from the worn one:

    >>> from metrolib.form.vee import vee
    >>> found = vee([0, 500, 1000], [0, -0.020, 0], [0, 0, 0], (-45, 45), 0.001)
    >>> print(found.lift[1], found.shift[1])
    -0.0141+/-0.0010 0.0141+/-0.0010
    >>> print(found.horizontal)
    straightness 14.1 µm (minimum zone), U = 2.4 µm (k = 2); contacts at 0, 500 and 1000 mm
    """
    x = checks.vector("x", x, least=2)
    normals, half_angle = vee_normals(normals)
    heights = measured_together({"z_a": z_a, "z_b": z_b}, u)
    checks.same_length(x=x, z_a=z_a, z_b=z_b)
    rows = _rows(normals, x.size)
    found = _as_numbers(heights).several(rows, rows @ heights.values)
    kind = float if heights.cov is None else object
    lift, shift = np.array(found[: x.size], dtype=kind), np.array(found[x.size :], dtype=kind)
    return Vee(
        x=x,
        lift=lift,
        shift=shift,
        vertical=straightness(x, lift, reference=reference),
        horizontal=straightness(x, shift, reference=reference),
        normals=normals,
        half_angle=half_angle,
        drawn_from=heights,
    )


def _as_numbers(heights):
    """Return heights whose covariance is a matrix as numbers, from which 2 n others come quickly.

    `Measured.several` makes the k results of a matrix from up to k sources each, which takes a
    second and more for 200 of them; these share the sources of the heights.
    """
    if heights.numbers is not None or heights.cov is None or heights.cov.ndim == 1:
        return heights
    from uncertainties import correlated_values

    numbers = correlated_values(heights.values, heights.cov)
    return Measured(heights.values, heights.cov, np.array(numbers, dtype=object))


def vee_normals(normals):
    """Return the normals of two flanks and half of the angle between the flanks, checked [deg].

    Raises
    ------
    InputError
        If there are not two finite angles, or the flanks make no vee.
    """
    pair = checks.vector("normals", normals)
    if pair.size != 2:
        raise checks.wrong("normals", "two angles are needed", pair.size, "one for each flank")
    half_angle = half_angle_of(pair)
    if not SHARPEST <= half_angle <= FLATTEST:
        raise checks.wrong(
            "normals",
            f"flanks at {pair[0]:g} and {pair[1]:g} deg make no vee; its half angle must lie "
            f"between {SHARPEST:g} and {FLATTEST:g} deg",
            f"{half_angle:g}",
            "name the two flanks that hold the saddle in both directions",
        )
    return (float(pair[0]), float(pair[1])), half_angle


def half_angle_of(normals):
    """Return half of the angle between two flanks of these normals [deg]."""
    between = abs((normals[1] - normals[0] + 180) % 360 - 180)
    return float(90 - between / 2)


def unit_normals(normals):
    """Return the unit normals of two flanks as rows (toward +y, upward), shape (2, 2)."""
    angle = np.deg2rad(normals)
    return np.column_stack([np.sin(angle), np.cos(angle)])


def seat_motion(normals):
    """Return the matrix that turns rises of flank A and B into (shift, lift), shape (2, 2)."""
    return np.linalg.inv(unit_normals(normals))


def _rows(normals, n):
    """Return how n lifts, then n shifts, answer to the 2 n heights, A first."""
    shift, lift = seat_motion(normals)
    return np.kron([lift, shift], np.eye(n))


def _flanks(normals):
    """Say how the flanks lie."""
    return f"normals at {normals[0]:g} and {normals[1]:g} deg"
