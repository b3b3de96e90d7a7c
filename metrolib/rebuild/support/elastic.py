"""Twist that the feet can take out, told from twist that stays."""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import linprog

from metrolib import checks
from metrolib.errors import InputError
from metrolib.form import wording
from metrolib.form.twist import SIGN_RULE
from metrolib.rebuild.support.foot_turns import FootResponse
from metrolib.rebuild.support.levelling import WAYS, total_twist
from metrolib.uncertain.linear import measured

_LEAST_TURN = 0.0005  # half of the last digit shown


@dataclass(frozen=True, eq=False)
class ElasticTwist:
    """The measured roll, parted into what the feet can take out and what stays.

    Attributes
    ----------
    value : float or `uncertainties` number
        Total twist that the feet can take out [mm/m].
    stays : float or `uncertainties` number
        Range of the roll that stays, whatever the feet do [mm/m].
    stays_between : (float, float)
        Where the roll that stays is lowest, and highest [mm].
    measured : float or `uncertainties` number
        Total twist measured [mm/m].
    x : ndarray, shape (m,)
        [mm]
    roll, elastic, wear : ndarray, shape (m,)
        Roll measured, the part that the feet can take out, and the part that stays [mm/m].
    elastic_u, wear_u : ndarray, shape (m,), or None
        [mm/m]
    turns : dict of str to float or `uncertainties` number
        By foot, the turn that takes the elastic part out, up positive; its uncertainty holds that
        of the readings and of the response learned.
    response : FootResponse
    """

    value: object
    stays: object
    stays_between: tuple[float, float]
    measured: object
    x: np.ndarray
    roll: np.ndarray
    elastic: np.ndarray
    wear: np.ndarray
    elastic_u: np.ndarray | None
    wear_u: np.ndarray | None
    turns: dict
    response: FootResponse

    def in_words(self):
        """Return what a rebuilder would write down; roll is said in mm/m."""
        turned = [
            f"{name} {'up' if wording.nominal(turn) > 0 else 'down'} {wording.turn(turn)}"
            for name, turn in self.turns.items()
            if abs(wording.nominal(turn)) >= _LEAST_TURN
        ]
        do = f"turn {', '.join(turned)}" if turned else "no turn is called for"
        return (
            f"of a twist of {wording.slope(self.measured)} the feet can take out "
            f"{wording.slope(self.value)} ({do}). Roll of {wording.slope(self.stays)} stays, "
            f"between {wording.places(self.stays_between)}. Wear that runs evenly between the rows "
            "of feet looks like elastic twist: compare with the bed on three feet, the lone one in "
            f"the middle of its end ({SIGN_RULE})"
        )

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return wording.table(
            "Twist that the feet can take out",
            [
                ("measured", wording.slope(self.measured)),
                ("the feet can take out", wording.slope(self.value)),
                ("roll that stays, range", wording.slope(self.stays)),
                ("between", wording.places(self.stays_between)),
                *(
                    (f"turn {name}", f"{wording.nominal(turn):+.3f}")
                    for name, turn in self.turns.items()
                ),
            ],
        )

    def to_dataframe(self):
        """Return the roll and its parts as a pandas table, one place a row."""
        from pandas import DataFrame

        return DataFrame(
            {
                "x [mm]": self.x,
                "roll [mm/m]": self.roll,
                "feet can take out [mm/m]": self.elastic,
                "stays [mm/m]": self.wear,
            }
        )


def elastic_twist(response, x, roll, u=None, *, unworn=None, by="raising"):
    """Part a measured roll into what the feet can take out and what stays as wear.

    Parameters
    ----------
    response : FootResponse
        Learned from one's own turns.
    x : array_like, shape (m,)
        Where the cross level was read [mm], at more places than there are rows of feet.
    roll : array_like, shape (m,)
        What it read [mm/m]: floats or `uncertainties` numbers.
    u : float or array_like, shape (m,) or (m, m), optional
        Standard uncertainty of the readings [mm/m], or their covariance.
    unworn : array_like of bool, shape (m,), optional
        Places where the ways never wore: only they tell the elastic part. Without it all places
        do, and a deep worn stretch draws the elastic part toward itself.
    by : {"raising", "lowering", "either"}
        How the feet may be turned; the least sum of turns is chosen.

    Returns
    -------
    ElasticTwist

    Raises
    ------
    InputError
        If lengths differ, the places are too few to tell wear, or no foot does anything; or if the
        turns asked for cannot take the roll out one way only.

    Notes
    -----
    The elastic part is the least-squares projection of the roll on what the feet can give
    together, over the unworn places; what is left stays. Both are linear in the readings. Wear
    that runs evenly between the rows of feet looks just like what a bad floor does: these readings
    cannot tell the two apart, only the bed on three feet can, where nothing twists it if the lone
    one stands in the middle of its end. So "can take out" is no leave to do so: ways that feet have
    twisted true go back when the floor does.

    The parting is as sure as the readings where the feet hold every row; where they hold fewer
    ways of rolling, the uncertainty of those ways is left out.

    Examples
    --------
    The same four corners: an even twist, and a bump of wear in the middle:

    >>> import numpy as np
    >>> from metrolib import Foot, foot_response
    >>> corners = [Foot("front left", 0, 0), Foot("rear left", 0, 400),
    ...            Foot("front right", 1500, 0), Foot("rear right", 1500, 400)]
    >>> x, turns = [0, 750, 1500], np.vstack([np.zeros(4), 0.1 * np.eye(4)])
    >>> per_turn = np.array([[-3.75, 3.75, 0, 0], [-1.875, 1.875, -1.875, 1.875],
    ...                      [0, 0, -3.75, 3.75]])
    >>> learned = foot_response(corners, x, turns, turns @ per_turn.T, 0.01)
    >>> found = elastic_twist(learned, x, [0.0, 0.10, 0.08])
    >>> found.elastic.round(3).tolist(), found.wear.round(3).tolist()
    ([0.02, 0.06, 0.1], [-0.02, 0.04, -0.02])
    """
    checks.choice("by", by, WAYS)
    if not isinstance(response, FootResponse):
        raise checks.wrong(
            "response", "a FootResponse is needed", repr(response)[:60], "give what the turns told"
        )
    x = checks.vector("x", x, least=2)
    readings = measured("roll", roll, u, least=2)
    checks.same_length(x=x, roll=readings.values)
    ways = response.span.shape[1]
    if ways == 0:
        raise InputError("response: no foot changes anything; seat the feet and turn them again")
    tells = _telling(unworn, x.size)
    shares = response.base.roll_shares(x)
    form = shares[tells] @ response.span
    if np.unique(x).size <= response.base.rows.size or np.linalg.matrix_rank(form) < ways:
        raise checks.wrong(
            "x",
            f"{response.base.rows.size} rows of feet fit any roll at these places",
            f"{np.unique(x[tells]).size} of them",
            "read the cross level at more places between the rows",
        )
    to_rows = np.zeros((len(response.span), x.size))
    to_rows[:, tells] = response.span @ np.linalg.pinv(form)
    elastic_law = shares @ to_rows
    wear_law = np.eye(x.size) - elastic_law
    wear = wear_law @ readings.values
    low, high = int(wear.argmin()), int(wear.argmax())
    twist = total_twist(x)
    laws = np.array([twist @ elastic_law, wear_law[high] - wear_law[low], twist])
    value, stays, whole = readings.several(laws, laws @ readings.values)
    return ElasticTwist(
        value=value,
        stays=stays,
        stays_between=(float(x[low]), float(x[high])),
        measured=whole,
        x=x,
        roll=readings.values,
        elastic=elastic_law @ readings.values,
        wear=wear,
        elastic_u=_u(readings, elastic_law),
        wear_u=_u(readings, wear_law),
        turns=_turns(response, to_rows, readings, by),
        response=response,
    )


def _telling(unworn, n):
    """Return the places that tell the elastic part."""
    if unworn is None:
        return np.arange(n)
    tells = np.asarray(unworn)
    if tells.dtype != bool or tells.shape != (n,) or not tells.any():
        raise checks.wrong(
            "unworn", f"{n} times True or False are needed", repr(unworn)[:60], "one for each place"
        )
    return np.flatnonzero(tells)


def _u(readings, law):
    """Return the standard uncertainty of each result of a law, or None."""
    cov = readings.covariance(law)
    return None if cov is None else np.sqrt(np.maximum(np.diag(cov), 0.0))


def _turns(response, to_rows, readings, by):
    """Return the turn of each foot that does anything, with the least sum of turns."""
    live = [i for i, foot in enumerate(response.feet) if foot.name not in response.idle]
    wanted = (
        np.linalg.pinv(response.span) @ to_rows
    )  # in the ways of rolling, where B has full rank
    ways = np.linalg.pinv(response.span) @ response.response[:, live]
    goal = -wanted @ readings.values
    sign = {"raising": [1], "lowering": [-1], "either": [1, -1]}[by]
    # each turn is a sum of turns that are not negative, up and down where both are allowed
    found = linprog(
        np.ones(len(sign) * len(live)),
        A_eq=np.hstack([one * ways for one in sign]) / np.abs(ways).max(),
        b_eq=goal / np.abs(ways).max(),
        method="highs",
    )
    if found.status != 0:
        raise checks.wrong(
            "by", "the feet cannot take it out this one way only", repr(by), 'use by="either"'
        )
    moved = np.array(sign) @ found.x.reshape(len(sign), len(live))
    used = np.flatnonzero(np.abs(moved) > 1e-12 * max(np.abs(moved).max(), 1e-300))
    law = np.zeros((len(live), readings.values.size))
    law[used] = -np.linalg.pinv(ways[:, used]) @ wanted
    return _with_response(response, live, used, law, moved, readings)


def _with_response(response, live, used, law, moved, readings):
    """Return the turns as numbers that hold the uncertainty of the response as well."""
    numbers = readings.several(law, moved)
    if readings.cov is not None and used.size:
        # a response off by dB leaves B q + dB q: the turns are off by as much as undoes that
        undo = np.linalg.pinv(response.response[:, [live[i] for i in used]])
        turned = np.zeros(len(response.feet))
        turned[live] = moved
        cov = response.rows_cov * (turned @ response.turns_cov @ turned)
        off = measured("response", np.zeros(len(cov)), cov).several(undo, np.zeros(used.size))
        for i, more in zip(used, off, strict=True):
            numbers[i] = numbers[i] + more
    return {response.feet[i].name: number for i, number in zip(live, numbers, strict=True)}
