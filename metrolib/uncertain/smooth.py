"""Faces as they may truly be, given heights that hold noise: two classes of smooth random faces.

What noise does to a peak-to-valley figure depends on the true face: one sharp hollow keeps the
figure almost unbiased, a broad one with many stations near its bottom does not. The measured face
is no guide, since its noise makes it rougher than the true one. So true faces are drawn from what
the heights leave possible, where a face is smooth to some degree that the heights themselves tell.
"""

from dataclasses import dataclass

import numpy as np

from metrolib.uncertain.linear import symmetric_root

# Size of the true form against the noise, from nothing to see to nothing but form: a step of a
# factor of 1.7 moves no weight by much.
_LEAST, _STEP = 0.02, 1.7
# What weighs less than this beside all others is left out.
_NEGLIGIBLE = 1e-3


@dataclass(frozen=True, eq=False)
class SmoothClass:
    """True faces of one degree of smoothness, of all sizes.

    Attributes
    ----------
    name : str
    share : float
        Probability of this class beside the others, given the heights.
    weight : ndarray, shape (m,)
        Probability of each size within the class.
    mean : ndarray, shape (m, n)
        The expected true face, for each size [mm].
    factor : ndarray, shape (m, n, n)
        F with F F' the covariance of the true face [mm].
    """

    name: str
    share: float
    weight: np.ndarray
    mean: np.ndarray
    factor: np.ndarray

    def draw(self, random, count):
        """Draw true faces, shape (count, n) [mm].

        Parameters
        ----------
        random : numpy.random.Generator
        count : int
        """
        sizes = np.sort(random.choice(self.weight.size, size=count, p=self.weight))
        faces = random.standard_normal((count, self.mean.shape[1]))
        for size in np.unique(sizes):
            mine = sizes == size
            faces[mine] = self.mean[size] + faces[mine] @ self.factor[size].T
        return random.permutation(faces)


@dataclass(frozen=True, eq=False)
class TrueFaces:
    """What the heights leave possible of the true face; no heights here hold a line or plane.

    Attributes
    ----------
    form : ndarray, shape (n, n)
        Symmetric; form @ heights is what no line or plane explains of them.
    noise : ndarray, shape (n, n)
        F with F F' the covariance of that part of the noise [mm].
    classes : tuple of SmoothClass
    """

    form: np.ndarray
    noise: np.ndarray
    classes: tuple[SmoothClass, ...]


def true_faces(places, values, cov):
    """Find what heights leave possible of the true face.

    Parameters
    ----------
    places : ndarray, shape (n, d)
        Where the heights are, in coordinates of any unit.
    values : ndarray, shape (n,)
        [mm]
    cov : ndarray, shape (n,) or (n, n)
        Variances of independent heights, or their covariance [mm²].

    Returns
    -------
    TrueFaces or None
        None where the places are so few that any heights there lie on a line or plane.

    Notes
    -----
    Two Gaussian processes stand for the true face, with covariances -h and h³ of the distance h
    (coordinates scaled to their ranges), which are valid once lines and planes are taken out
    (P. J. Green and B. W. Silverman, Nonparametric Regression and Generalized Linear Models, 1994;
    from memory). Along a line they are a random walk, and the random curve that a cubic smoothing
    spline estimates. The size of each is a grid; sizes and classes are weighed by the probability
    that they give to the heights.

    Examples
    --------
    Three heights known to 1 µm: a hollow of 50 µm is true almost as it was measured, one of 1 µm
    may be any less:

    >>> places, u2 = np.array([[0.0], [500.0], [1000.0]]), np.full(3, 0.001**2)
    >>> for depth in (0.050, 0.001):
    ...     found = true_faces(places, np.array([0.0, -depth, 0.0]), u2)
    ...     smooth = found.classes[1]
    ...     hollow = smooth.weight @ smooth.mean
    ...     print(f"{1000 * (hollow[0] - hollow[1]):.1f} µm")
    50.0 µm
    0.2 µm
    """
    part, scaled = _form_part(places)
    if np.trace(part) < 0.5:
        return None
    noise = part @ (np.diag(cov) if cov.ndim == 1 else cov) @ part
    noise = (noise + noise.T) / 2
    apart = np.sqrt(((scaled[:, None] - scaled[None]) ** 2).sum(axis=2))
    found = [
        _class_of(name, part @ law @ part, part @ values, noise, part)
        for name, law in {"rough": -apart, "smooth": apart**3}.items()
    ]
    evidence = np.array([each[0] for each in found])
    share = np.exp(evidence - evidence.max())
    share /= share.sum()
    classes = tuple(
        SmoothClass(name, float(probable), *rest)
        for probable, (_, name, *rest) in zip(share, found, strict=True)
    )
    return TrueFaces(part, symmetric_root(noise), classes)


def _form_part(places):
    """Return the projection onto all that is no line or plane, and the scaled places.

    Projections and symmetric roots are the same on every machine, where vectors that span the same
    space may be turned about: so the same seed draws the same faces everywhere.
    """
    extent = np.ptp(places, axis=0)
    scaled = (places - places.min(axis=0)) / np.where(extent > 0, extent, 1.0)
    flat = np.column_stack([np.ones(len(places)), scaled])
    left, size, _ = np.linalg.svd(flat, full_matrices=False)
    left = left[:, size > 1e-9 * size[0]]
    return np.eye(len(places)) - left @ left.T, scaled


def _class_of(name, law, seen, noise, part):
    """Weigh all sizes of one class; return its evidence, name, weights, means and factors."""
    free = round(np.trace(part))
    mean_square = np.trace(noise) / free
    law = (law + law.T) / (2 * np.trace(law) / free)
    most = max(50.0, 5 * np.sqrt(seen @ seen / free / mean_square))
    sizes = _LEAST * _STEP ** np.arange(np.ceil(np.log(most / _LEAST) / np.log(_STEP)) + 1)
    # heights at one place, heights that err together, or lines and planes, which nothing here
    # holds, must not make the sum singular
    floor = mean_square * (np.eye(seen.size) - (1 - 1e-9) * part)
    logs, means, factors = [], [], []
    for size in sizes:
        form = size**2 * mean_square * law
        lower = np.linalg.cholesky(form + noise + floor)
        white = np.linalg.solve(lower, np.column_stack([seen, form]))
        logs.append(-np.log(np.diag(lower)).sum() - white[:, 0] @ white[:, 0] / 2)
        means.append(white[:, 1:].T @ white[:, 0])
        factors.append(symmetric_root(form - white[:, 1:].T @ white[:, 1:]))
    logs = np.array(logs)
    weight = np.exp(logs - logs.max())
    evidence = logs.max() + np.log(weight.mean())
    kept = weight > _NEGLIGIBLE * weight.max()
    weight = weight[kept] / weight[kept].sum()
    return evidence, name, weight, np.array(means)[kept], np.array(factors)[kept]
