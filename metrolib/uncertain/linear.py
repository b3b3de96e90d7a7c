"""Linear laws on heights that are floats, floats with a covariance, or `uncertainties` numbers.

Every form deviation is, at its solution, a fixed linear function of the heights: value = g'z. So
one small class carries the heights through the library as plain arrays, and a number with its
uncertainty is made only at the end (object arrays are some 800 times slower at 100 stations).
"""

from dataclasses import dataclass

import numpy as np

from metrolib import checks


@dataclass(frozen=True, eq=False)
class Measured:
    """Heights and what is known of their uncertainty.

    Attributes
    ----------
    values : ndarray, shape (n,)
        The heights [mm].
    cov : ndarray, shape (n,) or (n, n), or None
        Variances of independent heights, or their covariance matrix [mm²]; None when nothing is
        known of their uncertainty.
    numbers : ndarray of object, shape (n,), or None
        The `uncertainties` numbers that the heights were given as; results made from them stay
        correlated with everything else made from them.
    """

    values: np.ndarray
    cov: np.ndarray | None
    numbers: np.ndarray | None

    def linear(self, g, constant=0.0):
        """Return g'z + constant as a float, or as an `uncertainties` number where z is uncertain.

        Parameters
        ----------
        g : ndarray, shape (n,)
            Sensitivity of the result to each height.
        constant : float
            What is added [unit of the result].
        """
        return self.several(g[None, :], [g @ self.values + constant])[0]

    def several(self, matrix, values):
        """Return results with given values, each linear in the heights, correlated as they are.

        Parameters
        ----------
        matrix : ndarray, shape (k, n)
            Sensitivity of each result to each height.
        values : sequence of float, length k
            The results themselves; a caller that took differences first knows them better than
            a product of `matrix` with large heights would.

        Returns
        -------
        list of float, or of `uncertainties` numbers where the heights are uncertain

        Examples
        --------
        >>> import numpy as np
        >>> z = measured("z", [1.0, 3.0], 0.1)
        >>> twice, same = z.several(np.array([[0.0, 2.0], [0.0, 1.0]]), [6.0, 3.0])
        >>> print(twice, twice - 2 * same)
        6.00+/-0.20 0.0+/-0
        """
        values = [float(value) for value in values]
        if self.cov is None:
            return values
        from uncertainties import ufloat

        if self.numbers is not None:
            return _combined(matrix, self.numbers, values)
        sure = 0.0 * ufloat(0.0, 1.0)  # a number without uncertainty; ufloat(0, 0) would warn
        factor = factor_of(self.covariance(matrix))
        sources = [ufloat(0.0, 1.0) for _ in range(factor.shape[1])]
        return [
            sum((row[j] * sources[j] for j in np.flatnonzero(row)), start=sure + value)
            for row, value in zip(factor, values, strict=True)
        ]

    def variance(self, g):
        """Return g'Cg, or None where nothing is known of the uncertainty."""
        if self.cov is None:
            return None
        return float(g @ (self.cov * g if self.cov.ndim == 1 else self.cov @ g))

    def covariance(self, matrix):
        """Return G C G' for a matrix G, or None where nothing is known of the uncertainty."""
        if self.cov is None:
            return None
        right = matrix.T * self.cov[:, None] if self.cov.ndim == 1 else self.cov @ matrix.T
        return matrix @ right

    @property
    def u(self):
        """Standard uncertainty of each height, shape (n,), or None [mm]."""
        if self.cov is None:
            return None
        return np.sqrt(self.cov if self.cov.ndim == 1 else np.diag(self.cov))


def measured(argument, z, u=None, *, least=1):
    """Read heights given in any of the three ways.

    Parameters
    ----------
    argument : str
        Name of the argument, for the error message.
    z : array_like, shape (n,)
        Heights [mm]: floats, or `uncertainties` numbers.
    u : float or array_like, shape (n,) or (n, n), optional
        A standard uncertainty common to all, one for each height [mm], or a covariance matrix
        [mm²]. Not with `uncertainties` numbers, which bring their own.
    least : int
        Fewest heights that make sense.

    Returns
    -------
    Measured

    Raises
    ------
    InputError
        If a height is not finite, the shapes differ, an uncertainty is negative, a matrix is not
        symmetric, or the uncertainty is given twice.

    Examples
    --------
    >>> import numpy as np
    >>> z = measured("z", [1.0, 3.0], 0.1)
    >>> print(z.linear(np.array([-1.0, 1.0])))
    2.00+/-0.14
    """
    array = np.asarray(z)
    values = _nominal_values(argument, array, least)
    if array.dtype != object:
        return Measured(values, _covariance(u, values.size), None)
    if u is not None:
        raise checks.wrong(
            "u",
            f"the numbers in {argument} bring their own uncertainty",
            "a second one",
            "leave u out",
        )
    return Measured(values, covariance_of(array), array)


def measured_together(rows, u=None, *, least=1):
    """Read several rows of heights that share one uncertainty, one after the other.

    Parameters
    ----------
    rows : dict of str to array_like, each of shape (n_row,)
        The heights [mm], by the names that error messages give them.
    u : float or array_like, shape (n,) or (n, n), optional
        As in `measured`, for all n heights in the order of `rows`.
    least : int
        Fewest heights of each row that make sense.

    Returns
    -------
    Measured

    Raises
    ------
    InputError
        As `measured` does, naming the row.

    Examples
    --------
    >>> measured_together({"z_a": [1.0, 2.0], "z_b": [3.0]}).values.tolist()
    [1.0, 2.0, 3.0]
    """
    arrays = {name: np.asarray(z) for name, z in rows.items()}
    for name, array in arrays.items():
        _nominal_values(name, array, least)
    return measured(" and ".join(arrays), np.concatenate(list(arrays.values())), u)


def _nominal_values(argument, array, least):
    """Return the plain numbers of an array of floats or `uncertainties` numbers, checked."""
    if array.dtype == object and array.ndim == 1:
        array = [getattr(number, "nominal_value", number) for number in array]
    return checks.vector(argument, array, least=least)


def covariance_of(numbers):
    """Return the covariance matrix of `uncertainties` numbers.

    Parameters
    ----------
    numbers : sequence of `uncertainties` numbers or floats, length n

    Returns
    -------
    ndarray, shape (n, n)

    Notes
    -----
    Does what ``uncertainties.covariance_matrix`` does, as one matrix product: that function
    compares the numbers pair by pair, which takes over half a second for 100 of them.

    Examples
    --------
    >>> from uncertainties import ufloat
    >>> a = ufloat(1, 0.1)
    >>> covariance_of([a, 2 * a]).round(4).tolist()
    [[0.01, 0.02], [0.02, 0.04]]
    """
    variables, derivatives = _derivatives(numbers)
    factor = derivatives * np.array([variable.std_dev for variable in variables])
    return factor @ factor.T


def _derivatives(numbers):
    """Return what numbers depend on, and their derivatives by it, shape (n, variables)."""
    columns = {}
    entries = [getattr(number, "derivatives", {}) for number in numbers]
    for mine in entries:
        for variable in mine:
            columns.setdefault(variable, len(columns))
    found = np.zeros((len(entries), len(columns)))
    for row, mine in zip(found, entries, strict=True):
        row[[columns[variable] for variable in mine]] = list(mine.values())
    return list(columns), found


def _combined(matrix, numbers, values):
    """Return numbers of given values, each linear in others.

    As sums they would be trees of sums, and each use of one would walk through its tree.
    """
    from uncertainties.core import AffineScalarFunc, LinearCombination

    variables, derivatives = _derivatives(numbers)
    return [
        AffineScalarFunc(value, LinearCombination(dict(zip(variables, law, strict=True))))
        for law, value in zip((matrix @ derivatives).tolist(), values, strict=True)
    ]


def factor_of(cov):
    """Return F with F F' = cov, for a covariance of quantities that may differ much in size.

    Parameters
    ----------
    cov : ndarray, shape (n, n)
        It may be singular.

    Returns
    -------
    ndarray, shape (n, r)
        r is the rank, as far as rounding lets it be told.

    Examples
    --------
    >>> F = factor_of(np.array([[1.0, 2.0], [2.0, 4.0]]))
    >>> F.shape, np.round(F @ F.T, 12).tolist()
    ((2, 1), [[1.0, 2.0], [2.0, 4.0]])
    """
    size = np.sqrt(np.maximum(np.diag(cov), 0.0))
    scale = np.where(size > 0, size, 1.0)
    spread, axes = np.linalg.eigh(cov / np.outer(scale, scale))
    kept = spread > 1e-15
    factor = axes[:, kept] * np.sqrt(spread[kept]) * scale[:, None]
    # each standard uncertainty as it was, whatever the small axes that were left out
    length = np.sqrt(np.sum(factor**2, axis=1))
    return factor * np.where(length > 0, size / np.where(length > 0, length, 1.0), 0.0)[:, None]


def symmetric_root(cov):
    """Return the symmetric-like root R with R R' = cov, of a covariance that may be singular.

    Parameters
    ----------
    cov : ndarray, shape (n, n)

    Returns
    -------
    ndarray, shape (n, n)

    Notes
    -----
    Unlike a factor made of eigenvectors alone it does not turn about where eigenvalues are equal,
    so a last digit of the covariance, which another machine may round otherwise, changes no draw.

    Examples
    --------
    >>> symmetric_root(np.array([[4.0, 0.0], [0.0, 9.0]])).tolist()
    [[2.0, 0.0], [0.0, 3.0]]
    """
    size = np.sqrt(np.maximum(np.diag(cov), 0.0))
    scale = np.where(size > 0, size, 1.0)
    spread, axes = np.linalg.eigh(cov / np.outer(scale, scale))
    spread = np.where(spread > 1e-12, spread, 0.0)
    return scale[:, None] * ((axes * np.sqrt(spread)) @ axes.T)


def _covariance(u, n):
    """Read `u` as variances, shape (n,), or as a covariance matrix, shape (n, n)."""
    if u is None:
        return None
    array = np.asarray(u, dtype=float)
    checks.finite("u", array)
    if array.ndim == 0:
        array = np.full(n, float(array))
    if array.shape not in ((n,), (n, n)):
        raise checks.wrong(
            "u",
            "its shape does not fit the heights",
            array.shape,
            f"give 1, {n} or {n} x {n} numbers",
        )
    spread = array if array.ndim == 1 else np.diag(array)
    if (spread < 0).any():
        raise checks.wrong("u", "an uncertainty is negative", spread.min(), "give it above zero")
    if array.ndim == 1:
        return array**2
    if not np.allclose(array, array.T, rtol=1e-9, atol=1e-12 * max(np.abs(array).max(), 1e-300)):
        raise checks.wrong("u", "the covariance matrix is not symmetric", "a matrix", "give C = C'")
    return array
