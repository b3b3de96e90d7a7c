"""Band: the least-squares factor of a long survey, whose readings tie neighbours along the ways.

With the unknowns in a row along the ways the normal equations N = A'A + prior have entries close to
the diagonal only, and a border of the few unknowns that belong to whole traverses. Their Cholesky
factor keeps that shape, so work and memory grow as the length of the survey, not as its cube.
"""

from functools import cached_property

import numpy as np
from scipy import sparse
from scipy.linalg import LinAlgError, cholesky, cholesky_banded, lapack, solve_triangular

from metrolib.heights.ordering import lay_in_a_row

#: So many readings at once fit into the processor's cache with what is made of them.
_AT_ONCE = 4096

#: A known vector must come back from N with less than this error, as a share of each reading; then
#: refinement gives it to the last digits, and uncertainties are at least so good.
_TRUSTED = 1e-10


class Band:
    """The covariance C = N^-1 of unknowns with readings and priors, by its Cholesky factor.

    Parameters
    ----------
    matrix : csr_array, shape (m, n)
        Whitened: each row divided by the standard uncertainty of its reading.
    prior_u : ndarray, shape (n,)
        Standard uncertainties of the priors.
    along : ndarray, shape (n,)
        Where each unknown stands along the ways; NaN for one that belongs to no place.

    Raises
    ------
    LinAlgError
        If weights differ so widely that normal equations cannot be trusted.

    Notes
    -----
    With L the factor of the row's own N and B its border, N = F^-T F^-1, where::

        F^-1 = [ L'  V ]     V = L^-1 B,   R R' = D - V'V
               [ 0   R']
    """

    def __init__(self, matrix, prior_u, along):
        self._matrix, self._prior_u = matrix, prior_u
        self._row, self._border, reach = lay_in_a_row(matrix, along)
        order, wide = np.concatenate([self._row, self._border]), self._row.size
        self._ordered = _with_columns_in(order, matrix)
        normal = sparse.csr_array(self._ordered.T @ self._ordered)
        beside, corner = normal[:wide, wide:].toarray(), normal[wide:, wide:].toarray()
        weight = 1 / prior_u**2
        self._size = max(reach, 1)  # of the blocks: a reading then touches two of them at most
        self._band = _banded(normal[:wide, :wide].tocoo(), weight[self._row], self._size)
        self._lower = cholesky_banded(self._band, lower=True, check_finite=False)
        self._beside = self._forward(beside)
        corner += np.diag(weight[self._border])
        self._corner = cholesky(corner - self._beside.T @ self._beside, lower=True)
        self._refuse_untrusted()

    def answer(self, rest, prior_rest):
        """Return the unknowns that fit what is left of readings and priors, both whitened."""
        return self.times((self._matrix.T @ rest + prior_rest / self._prior_u)[:, None])[:, 0]

    def reach(self, laws):
        """Return G with G G' the covariance of some linear functions of the unknowns."""
        return np.concatenate(self._reach(laws.T)).T

    def _reach(self, columns):
        inside = self._forward(columns[self._row])
        outside = columns[self._border] - self._beside.T @ inside
        return inside, solve_triangular(self._corner, outside, lower=True)

    def times(self, columns):
        """Return C times some columns."""
        inside, outside = self._reach(columns)
        outside = solve_triangular(self._corner, outside, lower=True, trans=1)
        found = np.empty(columns.shape)
        found[self._row] = self._backward(inside - self._beside @ outside)
        found[self._border] = outside
        return found

    def shared(self, readings):
        """Return the covariance of the whitened fits of all readings with those of some."""
        return self._matrix @ self.times(self._matrix[readings].T.toarray())

    @cached_property
    def variances(self):
        """Of the unknowns, shape (n,)."""
        place = np.arange(self._row.size)
        block = np.minimum(place // self._size, len(self._near) - 1)
        local = self._near[block, place - block * self._size]
        ordered = (self._lean**2).sum(axis=1)
        ordered[: self._row.size] += (local**2).sum(axis=1)
        found = np.empty(self._prior_u.size)
        found[np.concatenate([self._row, self._border])] = ordered
        return found

    @cached_property
    def leverage(self):
        """Share of each reading in its own fit, shape (m,)."""
        count = self._ordered.shape[0]
        parts = [slice(start, start + _AT_ONCE) for start in range(0, count, _AT_ONCE)]
        return np.concatenate([self._leverage_of(self._ordered[part]) for part in parts])

    def _leverage_of(self, readings):
        inside = readings[:, : self._row.size]
        count = inside.shape[0]
        reading = np.repeat(np.arange(count), np.diff(inside.indptr))
        first = np.full(count, self._row.size)
        np.minimum.at(first, reading, inside.indices)
        block = np.minimum(first // self._size, len(self._near) - 1)
        # each block has its own columns for itself and for the block after it
        wide = 2 * self._size
        at = inside.indices + (block * self._size)[reading]
        local = sparse.csr_array(
            (inside.data, at, inside.indptr), shape=(count, len(self._near) * wide)
        )
        near, lean = local @ self._near.reshape(-1, wide), readings @ self._lean
        return (near**2).sum(axis=1) + (lean**2).sum(axis=1)

    @property
    def prior_leverage(self):
        """The same of each prior, shape (n,)."""
        return self.variances / self._prior_u**2

    @cached_property
    def _lean(self):
        """How row and border follow the border, W = -L^-T V R^-T and R^-T: it adds W W' to C."""
        follow = np.concatenate([-self._backward(self._beside), np.eye(self._border.size)])
        return solve_triangular(self._corner, follow.T, lower=True).T

    @cached_property
    def _near(self):
        """Z with Z Z' the row's own C of each block and the next, shape (blocks - 1, 2 b, 2 b).

        What lies before block k changes S_k = L_k L_k', what lies after it S'_k, the same of the
        row read backward; the two do not know of each other. So the C of block k is
        (S_k + S'_k - N_k)^-1, and that of the block before it follows from T = -S^-1 N_k,k+1:
        C_k = S_k^-1 + T C_k+1 T'. As a root, so that what neighbours share cancels exactly.
        """
        own, size = _blocks(self._lower, self._size), self._size
        turned = cholesky_banded(_turned(self._band), lower=True, check_finite=False)
        back = _blocks(turned, size)[::-1, ::-1, ::-1]
        after = _blocks_below(self._lower, size)
        diagonal = _blocks(self._band, size)
        diagonal = diagonal + np.tril(diagonal, -1).swapaxes(1, 2)
        both = own @ own.swapaxes(1, 2) + back @ back.swapaxes(1, 2) - diagonal
        root = np.linalg.inv(np.linalg.cholesky(both[1:])).swapaxes(1, 2)
        inverse = np.linalg.inv(own[:-1]).swapaxes(1, 2)
        follow = -inverse @ after.swapaxes(1, 2)
        upper = np.concatenate([inverse, follow @ root], axis=2)
        return np.concatenate([upper, np.concatenate([np.zeros_like(root), root], axis=2)], axis=1)

    def _forward(self, columns):
        return self._substitute(columns, "N")

    def _backward(self, columns):
        return self._substitute(columns, "T")

    def _substitute(self, columns, trans):
        """Return L^-1 or L^-T times some columns; the row is filled up to whole blocks."""
        full = np.zeros((self._band.shape[1], columns.shape[1]), order="F")
        full[: len(columns)] = columns
        lapack_ok, found = 0, full
        if columns.shape[1]:
            found, lapack_ok = lapack.dtbtrs(self._lower, full, uplo="L", trans=trans)
        if lapack_ok:
            raise LinAlgError("a pivot is zero")
        return found[: len(columns)]

    def _refuse_untrusted(self):
        """Refuse to go on where a known vector does not come back, as the readings see it."""
        known = np.random.default_rng(0).standard_normal(self._prior_u.size)
        wrong = self.answer(self._matrix @ known, known / self._prior_u) - known
        seen = np.abs(self._matrix @ wrong) / np.maximum(abs(self._matrix) @ np.abs(known), 1e-300)
        if not seen.max() < _TRUSTED:
            raise LinAlgError("weights differ too widely for normal equations")


def _with_columns_in(order, matrix):
    """Return a matrix with its columns in another order."""
    place = np.empty(order.size, dtype=matrix.indices.dtype)
    place[order] = np.arange(order.size)
    # a copy, for sparse matrices put their entries in order where they stand when it suits them
    return sparse.csr_array(
        (matrix.data, place[matrix.indices], matrix.indptr), matrix.shape, copy=True
    )


def _banded(normal, weight, size):
    """Return N by its diagonals, entry i, j at [i - j, j], filled up to whole blocks with 1."""
    count = max(-(-len(weight) // size), 2) * size
    band = np.zeros((size + 1, count))
    row, column = normal.coords
    lower = row >= column
    band[(row - column)[lower], column[lower]] = normal.data[lower]
    band[0] += np.concatenate([weight, np.ones(count - len(weight))])
    return band


def _turned(band):
    """Return the same matrix with its rows and columns in the opposite order."""
    turned = np.zeros_like(band)
    for off, diagonal in enumerate(band):
        turned[off, : band.shape[1] - off] = diagonal[: band.shape[1] - off][::-1]
    return turned


def _blocks(band, size):
    """Return the lower triangles of the blocks on the diagonal, shape (k, size, size)."""
    down, right = np.tril_indices(size)
    found = np.zeros((band.shape[1] // size, size, size))
    at = np.arange(len(found))[:, None] * size
    found[:, down, right] = band[down - right, at + right]
    return found


def _blocks_below(band, size):
    """Return the blocks below the diagonal, shape (k - 1, size, size)."""
    down, right = np.triu_indices(size)
    found = np.zeros((band.shape[1] // size - 1, size, size))
    at = np.arange(len(found))[:, None] * size
    found[:, down, right] = band[size + down - right, at + right]
    return found
