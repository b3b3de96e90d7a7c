"""Search: which readings to add so that the least sure of many results becomes sure enough.

Everything happens among the results and the candidates: how sure each result is, how far each
candidate speaks of it, and how far candidates speak of each other. Each further reading is then a
change of rank one, worked out for all candidates at a time.
"""

from dataclasses import dataclass

import numpy as np

#: The steps of the greedy search look at a power mean of all variances: a high power heeds the
#: worst alone, a low one the others too. Which of them ends best differs from survey to survey.
_POWERS = (2, 8, 32, np.inf)

#: What differs by less counts as equal, and the first is taken: on a symmetric bed many readings
#: are equally good, and rounding, which differs between computers, must not choose among them.
_TIE = 1e-6

_PASSES = 30  # of exchanges; each lowers the worst, so that few are needed

_ENDLESS = 1e4  # repeats of every candidate, to see what repeating can reach at best


@dataclass(frozen=True, eq=False)
class Field:
    """What there is to choose from, with all heights and further unknowns taken out.

    Attributes
    ----------
    variance : ndarray, shape (f,)
        Of the results, each divided by what is wanted: 1 is just sure enough.
    reach : ndarray, shape (f, c)
        Covariance of each result with each candidate, this in units of its own noise.
    kernel : ndarray, shape (c, c)
        Covariance of the candidates with each other, without their noise of 1.
    """

    variance: np.ndarray
    reach: np.ndarray
    kernel: np.ndarray

    def after(self, taken):
        """Return variance, reach and the kernel's diagonal once some candidates are taken.

        A candidate may be taken several times: each time is a further reading.
        """
        taken = np.asarray(taken, dtype=int)
        diagonal = np.diag(self.kernel)
        if not taken.size:
            return self.variance, self.reach, diagonal
        inner = self.kernel[np.ix_(taken, taken)] + np.eye(taken.size)
        told = np.linalg.solve(inner, np.hstack([self.reach[:, taken].T, self.kernel[taken]]))
        of_results, of_candidates = np.split(told, [len(self.variance)], axis=1)
        reach = self.reach[:, taken]
        return (
            self.variance - (reach * of_results.T).sum(axis=1),
            self.reach - reach @ of_candidates,
            diagonal - (self.kernel[taken] * of_candidates).sum(axis=0),
        )

    def with_each(self, taken):
        """Return the variances if one more is taken, each candidate in turn; shape (f, c)."""
        variance, reach, diagonal = self.after(taken)
        return variance[:, None] - reach**2 / (1 + diagonal)

    def worst(self, taken=()):
        """Return the largest variance once some candidates are taken."""
        return float(self.after(taken)[0].max())

    def floor(self):
        """Return the largest variance left when every candidate is repeated without end."""
        size, turn = np.linalg.eigh(self.kernel)
        part = (self.reach @ turn) ** 2 / (np.maximum(size, 0.0) + 1 / _ENDLESS)
        return float((self.variance - part.sum(axis=1)).max())


def choose(field, most, groups):
    """Choose the fewest readings that make every result sure enough, and rank them.

    Parameters
    ----------
    field : Field
    most : int
        No more than so many.
    groups : ndarray, shape (c,)
        Candidates of one group stand in order along one face.

    Returns
    -------
    taken : list of int
        Candidates, the most useful first; one that is to be repeated stands several times. If
        even `most` readings do not reach it, those that come nearest.

    Notes
    -----
    Greedy searches, each adding the reading after which a mean of all variances is least, and
    readings spaced evenly along each group start the search. Then single readings are exchanged
    for better ones as long as the worst result improves. So the choice is never worse than even
    spacing in one group. Fewer readings are tried in the same way as long as they suffice.
    """
    if most < 1 or not field.reach.shape[1] or field.worst() <= 1:
        return []
    starts = [_greedy(field, most, power) for power in _POWERS]
    enough = [_enough(field, start) for start in starts]
    count = min((number for number in enough if number is not None), default=most)
    best = _best(field, starts, groups, count)
    while len(best) > 1 and field.worst(best) <= 1:
        fewer = _best(field, [*starts, _without_one(field, best)], groups, len(best) - 1)
        if field.worst(fewer) > 1:
            break
        best = fewer
    return _ranked(field, best)


def _mean(variances, power):
    """Return the power mean over the results of variances, for each candidate."""
    worst = variances.max(axis=0)
    if np.isinf(power):  # the rest decides among equals
        return worst + 1e-6 * variances.mean(axis=0)
    return worst * ((variances / worst) ** power).mean(axis=0) ** (1 / power)


def _greedy(field, count, power):
    """Take the best reading again and again."""
    taken = []
    for _ in range(count):
        taken.append(_least(_mean(field.with_each(taken), power)))
    return taken


def _enough(field, taken):
    """Return how many of the readings suffice, or None."""
    for count in range(1, len(taken) + 1):
        if field.worst(taken[:count]) <= 1:
            return count
    return None


def _best(field, starts, groups, count):
    """Return the best choice of so many readings that exchanges from several starts lead to."""
    even = [_even(np.flatnonzero(groups == group), count) for group in np.unique(groups)]
    found = [start[:count] for start in starts] + [_first_best(field, even)]
    found = [_exchanged(field, _exchanged(field, each, 32), np.inf) for each in found] + [
        _exchanged(field, each, np.inf) for each in found[-1:]
    ]
    return _first_best(field, found)


def _even(members, count):
    """Spread a number of readings evenly over candidates in order; more than there are, in turn."""
    rounds, rest = divmod(count, members.size)
    places = (np.arange(rest) + 0.5) / max(rest, 1) * members.size
    return [*members.tolist() * rounds, *members[places.astype(int)].tolist()]


def _exchanged(field, taken, power):
    """Exchange one reading for another as long as the mean improves."""
    taken = list(taken)
    now = float(_mean(field.after(taken)[0], power))
    for _ in range(_PASSES):
        before = now
        for i in range(len(taken)):
            means = _mean(field.with_each(taken[:i] + taken[i + 1 :]), power)
            other = _least(means)
            if means[other] < now * (1 - _TIE):
                taken[i], now = other, float(means[other])
        if now == before:
            break
    return taken


def _without_one(field, taken):
    """Leave out the reading that is missed least."""
    rest = [taken[:i] + taken[i + 1 :] for i in range(len(taken))]
    return _first_best(field, rest)


def _first_best(field, choices):
    """Return the choice whose worst result is best."""
    return choices[_least(np.array([field.worst(each) for each in choices]))]


def _least(values):
    """Return the place of the least value; of those that are equal, the first."""
    return int(np.flatnonzero(values <= values.min() * (1 + _TIE))[0])


def _ranked(field, taken):
    """Put readings in the order in which they help most."""
    left, order = sorted(taken), []
    while left:
        means = _mean(field.with_each(order)[:, left], 32)
        order.append(left.pop(_least(means)))
    return order
