"""Faces as they may truly be, given heights that hold noise: two classes of smooth random faces.

What noise does to a peak-to-valley figure depends on the true face: one sharp hollow keeps the
figure almost unbiased, a broad one with many stations near its bottom does not. The measured face
is no guide, since its noise makes it rougher than the true one. So true faces are drawn from what
the heights leave possible, where a face is smooth to some degree that the heights themselves tell.
"""

from dataclasses import dataclass

import numpy as np

from metrolib.uncertain.linear import factor_of

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
    mean : ndarray, shape (m, q)
        Contrasts of the expected true face, for each size [mm].
    factor : ndarray, shape (m, q, q)
        F with F F' the covariance of the contrasts of the true face [mm].
    """

    name: str
    share: float
    weight: np.ndarray
    mean: np.ndarray
    factor: np.ndarray

    def draw(self, random, count):
        """Draw contrasts of true faces, shape (count, q) [mm].

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
    """What the heights leave possible of the true face.

    Attributes
    ----------
    basis : ndarray, shape (n, q)
        Orthonormal heights with no line or plane in them; a face is basis @ contrasts.
    noise : ndarray, shape (q, r)
        F with F F' the covariance of the contrasts of the noise [mm].
    classes : tuple of SmoothClass
    """

    basis: np.ndarray
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
    ...     hollow = found.basis @ (smooth.weight @ smooth.mean)
    ...     print(f"{1000 * (hollow[0] - hollow[1]):.1f} µm")
    50.0 µm
    0.2 µm
    """
    basis, scaled = _contrasts(places)
    if basis.shape[1] == 0:
        return None
    seen = basis.T @ values
    noise = basis.T @ (cov[:, None] * basis if cov.ndim == 1 else cov @ basis)
    noise = (noise + noise.T) / 2
    apart = np.sqrt(((scaled[:, None] - scaled[None]) ** 2).sum(axis=2))
    found = [
        _class_of(name, basis.T @ law @ basis, seen, noise)
        for name, law in {"rough": -apart, "smooth": apart**3}.items()
    ]
    evidence = np.array([each[0] for each in found])
    share = np.exp(evidence - evidence.max())
    share /= share.sum()
    classes = tuple(
        SmoothClass(name, float(part), *rest)
        for part, (_, name, *rest) in zip(share, found, strict=True)
    )
    return TrueFaces(basis, factor_of(noise), classes)


def _contrasts(places):
    """Return an orthonormal basis of all that is no line or plane, and the scaled places."""
    extent = np.ptp(places, axis=0)
    scaled = (places - places.min(axis=0)) / np.where(extent > 0, extent, 1.0)
    flat = np.column_stack([np.ones(len(places)), scaled])
    left, size, _ = np.linalg.svd(flat)
    rank = int((size > 1e-9 * size[0]).sum())
    return left[:, rank:], scaled


def _class_of(name, law, seen, noise):
    """Weigh all sizes of one class; return its evidence, name, weights, means and factors."""
    q, mean_square = seen.size, np.trace(noise) / seen.size
    law = (law + law.T) / (2 * np.trace(law) / q)
    most = max(50.0, 5 * np.sqrt(seen @ seen / q / mean_square))
    sizes = _LEAST * _STEP ** np.arange(np.ceil(np.log(most / _LEAST) / np.log(_STEP)) + 1)
    # heights at one place, or heights that err together, must not make the sum singular
    floor = 1e-9 * mean_square * np.eye(q)
    logs, means, factors = [], [], []
    for size in sizes:
        form = size**2 * mean_square * law
        lower = np.linalg.cholesky(form + noise + floor)
        white = np.linalg.solve(lower, np.column_stack([seen, form]))
        logs.append(-np.log(np.diag(lower)).sum() - white[:, 0] @ white[:, 0] / 2)
        means.append(white[:, 1:].T @ white[:, 0])
        spread, axes = np.linalg.eigh(form - white[:, 1:].T @ white[:, 1:])
        factors.append(axes * np.sqrt(np.maximum(spread, 0.0)))
    logs = np.array(logs)
    weight = np.exp(logs - logs.max())
    evidence = logs.max() + np.log(weight.mean())
    kept = weight > _NEGLIGIBLE * weight.max()
    weight = weight[kept] / weight[kept].sum()
    return evidence, name, weight, np.array(means)[kept], np.array(factors)[kept]
