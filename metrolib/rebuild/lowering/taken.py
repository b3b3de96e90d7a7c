"""Taken: what came off each face along the ways, with what is known of its uncertainty."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.rebuild.removal.plan import RemovalPlan
from metrolib.uncertain.linear import Measured, measured_together

SINCE = ("now", "new")


@dataclass(frozen=True, eq=False)
class Taken:
    """What came off faces.

    Attributes
    ----------
    stations : dict of str to (ndarray of int, ndarray)
        For each face its places in `values`, and where they are along the ways, ascending [mm].
    values : ndarray, shape (n,)
        [mm]
    law : ndarray, shape (n, N)
        How they answer to what they were drawn from.
    drawn_from : Measured
    """

    stations: dict
    values: np.ndarray
    law: np.ndarray
    drawn_from: Measured

    def weights(self, face, x):
        """Return the share of each value in what came off a face at x, shape (n,).

        Straight between stations; beyond the first and the last as much as there.
        """
        weights = np.zeros(self.values.size)
        if face not in self.stations:
            return weights
        index, places = self.stations[face]
        for at, share in zip(index, np.eye(len(index)), strict=True):
            weights[at] = np.interp(x, places, share)
        return weights

    def numbers(self, matrix, values):
        """Return results that are linear in the values, correlated with what they came from."""
        return self.drawn_from.several(matrix @ self.law, values)


def taken_off(removed, u=None, *, faces=(), since="now"):
    """Read what came off in any of the ways it is given.

    Parameters
    ----------
    removed : RemovalPlan, or dict of str to (float or (x, depth))
        A plan; or for each face one depth, or depths at places along x [mm].
    u : float or array_like, optional
        Standard uncertainty of given depths, or their covariance, in the order of `removed`.
    faces : sequence of str
        Those that are asked for.
    since : str
        Of a plan, ``"now"``: what is still to come off; ``"new"``: how far the face ends below its
        nominal height.

    Raises
    ------
    InputError
        If depths and places do not fit, or `since` or `u` do not go with what is given.
    """
    checks.choice("since", since, SINCE)
    if isinstance(removed, RemovalPlan):
        if u is not None:
            raise checks.wrong("u", "a plan brings its own", "a second one", "leave it out")
        return _of_plan(removed, faces, since)
    if not isinstance(removed, dict):
        raise checks.wrong(
            "removed",
            "a removal plan, or depths by face, are needed",
            type(removed).__name__,
            "give a plan, or {face: depth} or {face: (x, depth)}",
        )
    if since != "now":
        raise checks.wrong("since", "only a plan knows what is new", repr(since), "leave it out")
    return _of_arrays(removed, u)


def _of_plan(plan, faces, since):
    stations = {}
    for name in plan.faces:
        index = np.flatnonzero((plan.face == name) & ~plan.left_out)
        if np.unique(plan.y[index]).size > 1:
            raise checks.wrong(
                "removed",
                f"{name!r} was surveyed at several y",
                "a plan",
                "give the depths where the feet run, as {face: (x, depth)}",
            )
        index = index[np.argsort(plan.x[index])]
        stations[name] = index, plan.x[index]
    heights = plan.heights
    numbers = heights.z if heights.cov.any() else None
    drawn = Measured(heights.values, heights.cov if heights.cov.any() else None, numbers)
    if since == "now":
        # what is not cut keeps what it has, however well that is known
        law = np.where((plan.depth > 0)[:, None], plan.group.error_law, 0.0)
        return Taken(stations, plan.depth, law, drawn)
    missing = [name for name in faces if name not in plan.faces]
    if missing:
        raise checks.wrong(
            "since",
            f"{missing[0]!r} is not in the plan, so how far it ends below new is not known",
            repr(since),
            "plan it with the others, or ask since 'now'",
        )
    return Taken(stations, plan.depth - plan.relative_height, -plan.group.error_law, drawn)


def _of_arrays(removed, u):
    rows, places, start, stations = {}, {}, 0, {}
    for name, given in removed.items():
        if isinstance(given, tuple | list):
            if len(given) != 2:
                raise checks.wrong(
                    "removed", f"{name!r} needs places and depths", given, "give (x, depth)"
                )
            places[name] = checks.vector(f"x of {name!r}", given[0])
            rows[name] = np.asarray(given[1])
        else:
            places[name], rows[name] = np.zeros(1), np.asarray([given])
        checks.same_length(**{f"x of {name!r}": places[name], "depth": rows[name]})
        order = np.argsort(places[name])
        if (np.diff(places[name][order]) == 0).any():
            raise checks.wrong(
                "removed", f"{name!r} has a place twice", places[name], "give one depth for each"
            )
        stations[name] = start + order, places[name][order]
        start += order.size
    if not rows:
        return Taken({}, np.zeros(0), np.zeros((0, 0)), Measured(np.zeros(0), None, None))
    drawn = measured_together(rows, u)
    return Taken(stations, drawn.values, np.eye(start), drawn)
