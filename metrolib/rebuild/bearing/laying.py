"""One straightedge laid on the surveyed heights of a face: where it would print, and how surely."""

from dataclasses import dataclass

import numpy as np

from metrolib.form.resting import resting, rocked
from metrolib.survey.prints import FILM_U
from metrolib.uncertain.draws import draw_tiles

#: A film is never drawn thinner than this share of what was booked.
_THINNEST = 0.1


@dataclass(frozen=True, eq=False)
class Laying:
    """What the heights say of one laying.

    Attributes
    ----------
    x : ndarray, shape (m,)
        Stations under the straightedge [mm].
    gap, gap_u : ndarray, shape (m,)
        Up to the straightedge as it lies still, and its standard uncertainty [mm].
    still, rocking : ndarray, shape (m,)
        Probability that blue comes off there: lying still; rocked by hand.
    carried_from, carried_to : float
        The places that carry it [mm].
    rise, rise_u : float
        How far the face under it rises in the middle, of a parabola through its stations: above 0
        a hump, below 0 a hollow; and its standard uncertainty [mm].
    """

    x: np.ndarray
    gap: np.ndarray
    gap_u: np.ndarray
    still: np.ndarray
    rocking: np.ndarray
    carried_from: float
    carried_to: float
    rise: float
    rise_u: float


def lay(profile, face, entry, *, draws, seed):
    """Lay a straightedge on the heights of a face.

    Parameters
    ----------
    profile : Profile
        Heights of the face, surveyed along one line.
    face : Face
    entry : Print
    draws : int
        Joint draws of the heights and the film.
    seed : int

    Returns
    -------
    Laying, or str that says why it cannot be laid

    Notes
    -----
    The face is taken as straight between its stations; the straightedge as rigid, as heavy on
    both sides of its middle, and as straight as it is known to be. Stations that are left out, on
    a hole or a dent, carry nothing.
    """
    kept = ~profile.left_out
    stations, values = profile.x[kept], profile.values[kept] - profile.values[kept].mean()
    start, end = max(entry.laid[0], face.x_from), min(entry.laid[1], face.x_to)
    places, law, station = _places(stations, start, end)
    middle = sum(entry.laid) / 2
    if station.sum() < 2:
        return "fewer than two stations lie under it"
    if not places[0] <= middle <= places[-1]:
        return "its middle hangs beyond the stations, so it would tip over"

    random = np.random.default_rng(seed)
    drawn = np.concatenate(
        list(draw_tiles(values, profile.cov[np.ix_(kept, kept)], draws, seed=seed))
    )
    drawn = drawn @ law.T + entry.straightedge_u * random.standard_normal((draws, places.size))
    film = entry.film * np.maximum(1 + FILM_U * random.standard_normal((draws, 1)), _THINNEST)
    lying = resting(places, law @ values, middle)
    gaps = resting(places, drawn, middle).gap
    rise = _rise_law(places[station])
    rises = drawn[:, station] @ rise
    return Laying(
        x=places[station],
        gap=lying.gap[station],
        gap_u=gaps.std(axis=0)[station],
        still=(gaps < film).mean(axis=0)[station],
        rocking=(rocked(places, drawn) < film).mean(axis=0)[station],
        carried_from=float(places[lying.left]),
        carried_to=float(places[lying.right]),
        rise=float((law @ values)[station] @ rise),
        rise_u=float(rises.std()),
    )


def _places(stations, start, end):
    """Return the places under the straightedge, their law, and which of them are stations.

    Its ends are places too, where they lie between two stations; the law makes the heights of the
    places from those of the stations.
    """
    under = stations[(stations >= start) & (stations <= end)]
    ends = [at for at in (start, end) if stations[0] < at < stations[-1]]
    places = np.unique(np.concatenate([under, ends]))
    law = np.array([np.interp(places, stations, one) for one in np.eye(stations.size)]).T
    return places, law, np.isin(places, under)


def _rise_law(x):
    """Return how the middle of a parabola through the stations rises over its ends, as a law."""
    if x.size < 3:
        return np.zeros(x.size)
    span = np.ptp(x)
    at = (x - x.mean()) / span
    return -np.linalg.pinv(np.column_stack([np.ones_like(at), at, at**2]))[2] / 4
