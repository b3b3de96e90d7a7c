"""What a turn of each foot does to the roll of the bed, learned from one's own turns."""

from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2

from metrolib import checks
from metrolib.errors import InputError
from metrolib.form import wording
from metrolib.rebuild.support.feet import Base, Foot, make_base

#: Level of the tests: whether a foot does anything, how many ways of rolling there are, the misfit.
_LEVEL = 0.01


@dataclass(frozen=True, eq=False)
class FootResponse:
    """What a turn of each foot does to the roll.

    Attributes
    ----------
    feet : tuple of Foot
    base : Base
        Its rows hold the roll.
    response : ndarray, shape (p, n)
        Change of the roll at each row for one turn of each foot [mm/m].
    response_u : ndarray, shape (p, n)
        [mm/m]
    rows_cov, turns_cov : ndarray, shape (p, p) and (n, n)
        The covariance of response (p, i) and (q, j) is ``rows_cov[p, q] * turns_cov[i, j]``.
    span : ndarray, shape (p, r)
        Rolls of the rows that the feet can give together, as columns; r ways in all.
    idle : tuple of str
        Feet whose turns change nothing that the readings can tell.
    misfit : float
        Probability of readings that fit as badly as these, were the roll even between rows and in
        proportion to the turns.
    """

    feet: tuple[Foot, ...]
    base: Base
    response: np.ndarray
    response_u: np.ndarray
    rows_cov: np.ndarray
    turns_cov: np.ndarray
    span: np.ndarray
    idle: tuple[str, ...]
    misfit: float

    @property
    def fits(self):
        """Whether the readings are as the model has them (at a level of 1 %)."""
        return self.misfit >= _LEVEL

    @property
    def twists(self):
        """Whether the feet can twist the bed: one row against another."""
        return np.linalg.matrix_rank(np.diff(self.span, axis=0), tol=1e-6) > 0

    def in_words(self):
        """Return what a rebuilder would write down; roll is said in mm/m."""
        said = [
            f"{foot.name}: {wording.listing(f'{size:+.4f}' for size in column)} mm/m a turn"
            for foot, column in zip(self.feet, self.response.T, strict=True)
            if foot.name not in self.idle
        ]
        words = f"roll at {wording.places(self.base.rows)}: {'; '.join(said)}."
        if self.idle:
            words += (
                f" {wording.listing(self.idle)}: no change of roll that the readings can tell: "
                "such a foot carries nothing, or stands alone in its row; try it with a feeler, "
                "bring it up until it just touches, and read again."
            )
        if not self.twists:
            words += " Together they tilt the bed but do not twist it."
        if not self.fits:
            words += (
                f" The readings do not fit (probability {self.misfit:.2g}): a foot came off or the "
                "floor gave, or the readings are less sure than was said."
            )
        return words

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return self.to_dataframe().to_html(index=False, border=0, float_format="%.4f")

    def to_dataframe(self):
        """Return the response as a pandas table, one foot a row."""
        from pandas import DataFrame

        rows = []
        for i, foot in enumerate(self.feet):
            row = {"foot": foot.name}
            for p, place in enumerate(self.base.rows):
                row[f"roll at {place:g} mm [mm/m a turn]"] = self.response[p, i]
                row[f"u at {place:g} mm"] = self.response_u[p, i]
            rows.append({**row, "note": "no change" if foot.name in self.idle else ""})
        return DataFrame(rows)


def foot_response(feet, x, turns, roll, u):
    """Learn from turns of the feet what a turn of each does to the roll along the bed.

    Parameters
    ----------
    feet : sequence of Foot
        All that were turned, in the order of `turns`; their rows give the shape between them.
    x : array_like, shape (m,)
        Where the cross level was read [mm].
    turns : array_like, shape (t, n)
        Where each foot's screw stood in each of t rounds of readings [turns, raising positive].
        One round is the bed as it was found, with zeros.
    roll : array_like, shape (t, m)
        What the cross level read in each round [mm/m].
    u : float
        Standard uncertainty of each reading [mm/m], independent from one to the next.

    Returns
    -------
    FootResponse

    Raises
    ------
    InputError
        If shapes do not fit, the turns do not tell two feet apart, or the places do not tell two
        rows apart.

    Notes
    -----
    Linear least squares: roll of round k at x = a(x) + sum over rows and feet of share of the row
    at x, times response, times turns. a(x), the bed as found, is free at each place, so wear and
    the face's own errors drop out.

    A foot is idle where its response is not told from nothing by a chi-square test. Where all rows
    are not told from rolling alike, as they do on three feet, the bed rolls as one; else so many
    ways of rolling count as a test of the smallest singular values of the whitened response leaves.

    Turn little by little, come back to the first state at the end, and stop where a foot goes
    light: from there on nothing is in proportion.

    Examples
    --------
    Four corners; a turn of one foot rolls its own end by 3.75 mm/m:

    >>> import numpy as np
    >>> from metrolib import Foot
    >>> corners = [Foot("front left", 0, 0), Foot("rear left", 0, 400),
    ...            Foot("front right", 1500, 0), Foot("rear right", 1500, 400)]
    >>> x, turns = [0, 750, 1500], np.vstack([np.zeros(4), 0.1 * np.eye(4)])
    >>> per_turn = np.array([[-3.75, 3.75, 0, 0], [-1.875, 1.875, -1.875, 1.875],
    ...                      [0, 0, -3.75, 3.75]])
    >>> found = foot_response(corners, x, turns, turns @ per_turn.T, 0.01)
    >>> (found.response.round(3) + 0.0).tolist()
    [[-3.75, 3.75, 0.0, 0.0], [0.0, 0.0, -3.75, 3.75]]
    """
    base = make_base(feet)
    if len(base.feet) < len(feet):
        raise checks.wrong(
            "feet",
            "one is said to carry nothing",
            [foot.name for foot in feet if not foot.carries],
            "give it as carrying: whether it does is found from its turns",
        )
    x = checks.vector("x", x, least=2)
    turns, roll = checks.table("turns", turns, len(feet)), checks.table("roll", roll, x.size)
    u = checks.number("u", u, above=0)
    checks.same_length(turns=turns, roll=roll)
    shares, turned = base.told_shares(x), turns - turns.mean(axis=0)
    _check_told_apart(feet, turned)
    rows_cov = u**2 * np.linalg.inv(shares.T @ shares)
    turns_cov = np.linalg.inv(turned.T @ turned)
    changed = roll - roll.mean(axis=0)
    response = np.linalg.pinv(shares) @ changed.T @ turned @ turns_cov
    rest = changed - turned @ response.T @ shares.T
    freedom = (len(roll) - 1) * x.size - response.size
    precision = np.linalg.inv(rows_cov)
    size = np.einsum("pi,pq,qi->i", response, precision, response) / np.diag(turns_cov)
    idle = chi2.sf(size, base.rows.size) > _LEVEL
    return FootResponse(
        feet=tuple(feet),
        base=base,
        response=response,
        response_u=np.sqrt(np.outer(np.diag(rows_cov), np.diag(turns_cov))),
        rows_cov=rows_cov,
        turns_cov=turns_cov,
        span=_ways_of_rolling(response, rows_cov, turns_cov),
        idle=tuple(foot.name for foot, no in zip(feet, idle, strict=True) if no),
        misfit=float(chi2.sf(np.sum(rest**2) / u**2, freedom)) if freedom else 1.0,
    )


def _check_told_apart(feet, turned):
    """Refuse rounds that leave a response open."""
    if np.linalg.matrix_rank(turned, tol=1e-6) < len(feet):
        raise InputError(
            f"turns: {len(turned)} rounds do not tell {len(feet)} feet apart; turn each by itself, "
            f"and keep the first state as a round: {len(feet) + 1} rounds at least"
        )


def _ways_of_rolling(response, rows_cov, turns_cov):
    """Return a basis of the rolls that the feet can give, as columns."""
    to_rows, to_turns = np.linalg.cholesky(rows_cov), np.linalg.cholesky(turns_cov)
    white = np.linalg.solve(to_rows, np.linalg.solve(to_turns, response.T).T)
    p, n = response.shape
    as_one = np.linalg.solve(to_rows, np.ones(p))
    as_one /= np.linalg.norm(as_one)
    if chi2.sf(np.sum(white**2), p * n) > _LEVEL:
        return np.zeros((p, 0))
    apart = white - np.outer(as_one, as_one @ white)
    if p > 1 and chi2.sf(np.sum(apart**2), p * n - n) > _LEVEL:
        return np.ones((p, 1))
    left, size, _ = np.linalg.svd(white)
    for ways in range(1, min(p, n) + 1):
        if chi2.sf(np.sum(size[ways:] ** 2), (p - ways) * (n - ways)) > _LEVEL:
            break
    return to_rows @ left[:, :ways]
