"""The guard: how much lower the target must lie so that all places clean up as surely as asked."""

from dataclasses import dataclass, replace
from functools import lru_cache
from math import isqrt

import numpy as np

from metrolib.rebuild.removal.programme import Programme, Target
from metrolib.rebuild.removal.programme_single import find_target

_ROUNDING = 1e-10  # a lack of metal below this is none [mm]
_NO_ERROR = 1e-7  # of the largest variance
_CLOSE = 0.001  # the guard is sought to this share of its cost
_FIRST_STEP = 1e-5  # of the largest u, where the guard costs nothing
_UNSURE = 0.005  # the share of the draws by which the search may fall short of the confidence
_ROUNDS = 60  # up to 12 planes were seen to do, more where many targets cost the same
_DOUBLINGS = 20
_HALVINGS = 5
_NEAR = 0.08  # the share of the draws, with next to no room or lack, that say where metal lacks
_SHARE = 0.1  # a place decides if it lacks metal this often beside the one that does most often


@dataclass(frozen=True, eq=False)
class Guard:
    """A guard and what it reaches.

    Attributes
    ----------
    k : float
        Every place that must clean up has at least k standard uncertainties of room over the
        target; where no target meets the conditions, the k for all places that would be needed.
    confidence : float
        Probability that all of them clean up.
    target : Target or None
        The target with this guard; None where no target meets the conditions with it.
    without : Target or None
        The target without any guard.
    confidence_without : float
        Probability that all clean up without any guard.
    programme : Programme
        The programme whose cheapest target, without more, is `target`.
    """

    k: float
    confidence: float
    target: Target | None
    without: Target | None
    confidence_without: float
    programme: Programme


def draw_errors(cov, draws, seed):
    """Draw joint errors of heights with this covariance, which may be singular.

    Parameters
    ----------
    cov : ndarray, shape (n, n)
        [mm²]
    draws : int
    seed : int

    Returns
    -------
    ndarray, shape (draws, n)
        [mm]
    """
    return _drawn(np.ascontiguousarray(cov).tobytes(), draws, seed)


# Plans of one survey under several conditions mostly rest on the same errors.
@lru_cache(maxsize=1)
def _drawn(cov, draws, seed):
    """Return what `draw_errors` does, for a covariance as bytes; nothing may be changed in it."""
    cov = np.frombuffer(cov)
    cov = cov.reshape(2 * [isqrt(cov.size)])
    size, vectors = np.linalg.eigh(cov)
    # What is left of motions that no reading ties is rounding, and no error of the heights.
    size = np.where(size > _NO_ERROR * size.max(initial=0.0), size, 0.0)
    # The symmetric root: unlike one made of eigenvectors alone it does not turn about where
    # eigenvalues are equal, so a last digit of the covariance changes no draw.
    root = vectors * np.sqrt(size) @ vectors.T
    errors = np.random.default_rng(seed).standard_normal((draws, len(cov))) @ root
    errors.flags.writeable = False
    return errors


def share_cleaned(programme, target, errors):
    """Return the share of the drawn surfaces on which every place that must clean up does.

    Parameters
    ----------
    programme : Programme
    target : Target
    errors : ndarray, shape (draws, q)
        Drawn errors of the heights of its places, 0 where nothing has to clean up [mm].
    """
    room = programme.room(target.motion)
    return float((errors >= -room - _ROUNDING).all(axis=1).mean())


def find_guard(programme, cov, confidence, *, draws, seed):
    """Find the cheapest target on which all places clean up as surely as asked.

    Parameters
    ----------
    programme : Programme
        Its uncertainty is 0 at places where nothing has to clean up.
    cov : ndarray, shape (q, q)
        Covariance of the heights of its places [mm²].
    confidence : float or None
        Probability asked for; None asks for no guard.
    draws, seed : int
        So many errors are drawn to judge by, and a quarter as many to search by; they serve every
        target that is tried, so the search is repeatable.

    Returns
    -------
    Guard

    Notes
    -----
    The probability that jointly normal heights all stay above the target is log-concave in the
    motions of the target (Prékopa, Acta Scientiarum Mathematicarum 32, 1971, 301-316; from
    memory), so the targets that are sure enough are a convex set. They are fenced in by supporting
    planes (Veinott, Operations Research 15, 1967, 147-152; from memory): the linear programme finds
    the cheapest target within the fence; where the way to it from a target that is certainly sure
    enough leaves the set, a plane is added; and so on until fence and set are as good as one. What
    the programme says is a bound that no target which is sure enough can undercut, up to the
    scatter of the draws.

    A plane is one more place to stay below: the mean of the places, weighted by how often each is
    the one that lacks metal there, must keep a certain room. So the target answers to all the
    places that share the risk. How far the planes stand in the end, and what is promised, is judged
    over draws that had no part in the search, for a search flatters itself.
    """
    bare = find_target(programme)
    if bare is None:
        return Guard(0.0, 0.0, None, None, 0.0, programme)
    uncertain = programme.u > 0
    errors = draw_errors(
        np.where(np.outer(uncertain, uncertain), cov, 0.0), draws + draws // 4, seed
    )
    judge, errors = errors[:draws], errors[draws:]
    bare_share = share_cleaned(programme, bare, judge)
    if confidence is None or bare_share >= confidence:
        return Guard(0.0, bare_share, bare, bare, bare_share, programme)
    fence = _Fence(programme, errors[:, uncertain], confidence)
    target = fence.cheapest(bare, judge[:, uncertain])
    if target is None:
        return Guard(fence.even_guard(), 0.0, None, bare, bare_share, programme)
    k = float((programme.room(target.motion)[uncertain] / programme.u[uncertain]).min())
    share = share_cleaned(programme, target, judge)
    return Guard(k, share, target, bare, bare_share, fence.fenced)


class _Fence:
    """The programme with the planes that fence in the targets that are sure enough."""

    def __init__(self, programme, errors, confidence):
        self.programme, self.errors, self.confidence = programme, errors, confidence
        self.uncertain = np.flatnonzero(programme.u > 0)
        self.weights = []
        low = np.eye(len(programme.height)) if programme.low is None else programme.low
        self.fenced = replace(programme, low=low, u=np.zeros(len(low)))

    def cheapest(self, bare, judge):
        """Return the cheapest target that is sure enough, or None if none meets the conditions.

        How sure it is, is judged in the end over other errors than those of the search.
        """
        sure, found = self._sure(), bare
        if sure is None:
            return None
        for _ in range(_ROUNDS):
            edge = self._edge(sure.motion, found.motion)
            self._add_plane(edge)
            # The guard costs at most `worth`, and at least all but `doubt` of it.
            worth = self.programme.cost(edge) - self.programme.cost(bare.motion)
            found = find_target(self.fenced)
            if found is None:
                break
            doubt = self.programme.cost(edge) - self.programme.cost(found.motion)
            # where many targets cost the same, the one found may be far from the edge
            enough = self.confidence - (_UNSURE if doubt <= _CLOSE * worth else 0.0)
            if self._share(found) >= enough:
                break
        self.errors = judge
        # a guard that costs nothing, as within a wide band, needs a first step all the same
        step = max(_CLOSE * worth, _FIRST_STEP * self.programme.u.max())
        found = None if found is None else self._placed(step)
        return None if found is None else self._named(found)

    def even_guard(self):
        """Return the k that is needed where only greatest cuts and untouchable faces forbid it."""
        most, free = self._enough(), self._unlimited()
        found = [k for k in np.linspace(0, most, 41) if self._holds(find_target(free, k))]
        return float(found[0] if found else most)

    def _enough(self):
        """Return a k that is certainly enough: all errors stay above -k u as surely as asked."""
        worst = (-self.errors / self.programme.u[self.uncertain]).max(axis=1)
        return float(np.quantile(worst, self.confidence, method="higher"))

    def _unlimited(self):
        """Return the programme as if any amount might come off anywhere."""
        return replace(self.programme, greatest=np.full(len(self.programme.height), np.inf))

    def _sure(self):
        """Return a target that is sure enough, whatever it cuts; None if there is none."""
        free, most = self._unlimited(), self._enough()
        # Only where faces look against each other is there no target with the whole of it.
        for k in np.linspace(most, 0.0, 20, endpoint=False):
            target = find_target(free, k)
            if self._holds(target):
                return target
        return None

    def _holds(self, target):
        """Tell whether a target is sure enough."""
        return target is not None and self._share(target) >= self.confidence

    def _share(self, target):
        """Return the share of the drawn surfaces on which every place cleans up."""
        room = self._room(target.motion)
        # the others clean up whatever was drawn, and most do
        near = room < -self.errors.min(axis=0)
        return (self.errors[:, near] >= -room[near] - _ROUNDING).all(axis=1).mean()

    def _room(self, motion):
        """Return the room of the uncertain places over a target, or the change of it [mm]."""
        return self.programme.room(motion)[self.uncertain]

    def _edge(self, sure, beyond):
        """Return the last motions on the way from a sure target that are sure enough."""
        room = self._room(sure)
        closing = room - self._room(beyond)
        share = np.where(closing > 0, (room + self.errors) / np.where(closing > 0, closing, 1), 1)
        far = np.quantile(share.min(axis=1), 1 - self.confidence, method="lower")
        return sure + np.clip(far, 0.0, 1.0) * (beyond - sure)

    def _add_plane(self, edge):
        """Add the plane that supports the targets that are sure enough at the edge of them."""
        room = self._room(edge)
        above = room + self.errors
        lowest = above.min(axis=1)
        # Draws count the more the nearer they are, so that no last digit moves a draw in or out.
        reach = max(np.quantile(np.abs(lowest), _NEAR), 1e-300)
        near = np.clip(1 - np.abs(lowest) / reach, 0.0, None)
        count = np.bincount(above.argmin(axis=1), weights=near, minlength=len(room))
        weight = np.zeros(len(self.programme.u))
        weight[self.uncertain] = count / count.sum()
        low, places = self.fenced.low, len(weight)
        # the mean room must not fall below what it is at the edge
        least = weight @ self.programme.least + weight[self.uncertain] @ room
        self.weights.append(weight)
        self.fenced = replace(
            self.fenced,
            low=np.vstack([low, weight @ low[:places]]),
            least=np.append(self.fenced.least, least),
            u=np.append(self.fenced.u, 1.0),
        )

    def _placed(self, step):
        """Move the planes, all alike, until the target on them is only just sure enough."""
        sure, unsure = 0.0, 0.0
        way = -1 if self._holds(find_target(self.fenced)) else 1
        for _ in range(_DOUBLINGS):
            moved, step = (sure or unsure) + way * step, 2 * step
            target = find_target(self.fenced, moved)
            if self._holds(target):
                sure = moved
                if way > 0:
                    break
            elif way < 0:
                unsure = moved
                break
            elif target is None:
                step /= 4  # more than may come off: try nearer
            else:
                unsure = moved
        else:
            # downward nothing decides but the readings themselves; upward there is no target
            return None if way > 0 else self._settled(sure)
        for _ in range(_HALVINGS):
            middle = (sure + unsure) / 2
            if self._holds(find_target(self.fenced, middle)):
                sure = middle
            else:
                unsure = middle
        return self._settled(sure)

    def _settled(self, moved):
        """Leave the planes where they are moved to, and return the target on them."""
        self.fenced = replace(
            self.fenced, least=self.fenced.least + moved * self.fenced.u, u=0 * self.fenced.u
        )
        return find_target(self.fenced)

    def _named(self, target):
        """Return the target with the places that share a plane's risk in place of the plane."""
        role, places = {}, len(self.programme.u)
        law = target.law[:, :places] + target.law[:, places:] @ np.array(self.weights)
        for place, what in target.role.items():
            weight = self.weights[place - places] if place >= places else np.eye(places)[place]
            role |= dict.fromkeys(np.flatnonzero(weight >= _SHARE * weight.max()).tolist(), what)
        return Target(target.motion, law, role)
