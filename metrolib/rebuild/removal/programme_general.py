"""The linear programme of a removal with a general solver: whatever its conditions are.

Unknown are the motions m of the target, G m its height at the stations, and the depths r that come
off. Heights z and depths in mm; the programme itself counts in um, so that the solver's tolerance
of 1e-7 is far below anything that can be measured.
"""

import numpy as np

from metrolib.errors import MetrolibError
from metrolib.rebuild.removal.programme import Target

_SCALE = 1e3  # um for one mm
_NO_PRICE = 1e-9  # a dual value below this share of the largest price is none


def search_target(programme):
    """Return the target that needs the least removal, or None if no target meets the conditions.

    Parameters
    ----------
    programme : Programme

    Returns
    -------
    Target or None

    Notes
    -----
    One linear programme for each wish of `find_target`, in its order. Each keeps the optimum of
    those before it exactly, for it holds to equality whatever has a dual value there: all optima of
    a linear programme meet its dual solution in this way.
    """
    search = _Search(programme)
    first = [search.volume, search.deepest]
    for price in first if programme.minimise == "volume" else reversed(first):
        if not search.minimise(price):
            return None
        search.note_roles()
        if search.settled():
            return search.target()
    steps = [lambda name=name: search.least(name) for name in ("pitch", "roll", "yaw")]
    steps += [lambda: search.minimise(search.lowness)]
    steps += [lambda name=name: search.least(name) for name in ("shift", "lift")]
    for step in steps:
        if search.settled():
            break
        step()
    return search.target()


class _Search:
    """The programme in matrices, and what is held to equality so far.

    Unknowns: the motions, the depths (only with a band; else a depth is z - G m), the deepest cut.
    """

    def __init__(self, programme):
        self.programme = programme
        n, p = programme.columns.shape
        self.p, self.with_depths, self.roles = p, programme.band > 0, None
        self._rows(n)
        self.size = p + (n if self.with_depths else 0) + 1
        self.bounds = np.full((self.size, 2), [-np.inf, np.inf])
        self.bounds[:p] = np.column_stack([-programme.limit, programme.limit]) * _SCALE
        self.bounds[p:, 0] = 0.0
        if self.with_depths:
            self.bounds[p:-1, 1] = programme.greatest * _SCALE
        self.held = np.zeros(len(self.right), dtype=bool)
        self.held_low = np.zeros(self.size, dtype=bool)
        self.held_high = np.zeros(self.size, dtype=bool)
        self.held_low[:p] = programme.limit == 0
        self._prices(n)

    def _rows(self, n):
        """Make the rows A v <= b: target low enough, cut into the band, deepest cut."""
        from scipy import sparse

        given = self.programme
        target, one = sparse.csr_array(given.columns), np.ones((n, 1))
        every, below = np.arange(n), sparse.csr_array(given.at_places(given.columns))
        low = (given.at_places(given.height) - given.least) * _SCALE
        zero, places = sparse.csr_array((len(low), 1)), np.arange(len(low))
        if self.with_depths:
            unit, no = sparse.identity(n, format="csr"), sparse.csr_array((len(low), n))
            blocks = [[below, no, zero], [-target, -unit, None], [None, unit, -one]]
            right = [low, (given.band - given.height) * _SCALE, np.zeros(n)]
            stations = every
        else:
            stations = np.flatnonzero(np.isfinite(given.greatest))
            none = sparse.csr_array((len(stations), 1))
            blocks = [[below, zero], [-target[stations], none], [-target, -one]]
            limit = (given.greatest - given.height)[stations] * _SCALE
            right = [low, limit, -given.height * _SCALE]
        self.low_columns = below.toarray()
        self.matrix = sparse.csr_array(sparse.block_array(blocks, format="csr"))
        self.right = np.concatenate(right)
        first = np.cumsum([0, len(low), len(stations)])
        self.row = {"low": np.full(len(low), -1), "cut": np.full(n, -1), "deep": np.full(n, -1)}
        for row, start, mine in zip(
            self.row.values(), first, (places, stations, every), strict=True
        ):
            row[mine] = start + np.arange(len(mine))

    def _prices(self, n):
        """Make the prices of the unknowns for each thing that can be least."""
        given, zeros = self.programme, np.zeros(self.size)
        self.deepest, self.lowness, self.volume = zeros.copy(), zeros.copy(), zeros.copy()
        self.deepest[-1] = 1.0
        self.lowness[: self.p] = -given.area @ given.columns
        if self.with_depths:
            self.volume[self.p : -1] = given.area
        else:
            self.volume = self.lowness

    def minimise(self, price):
        """Minimise a price and hold its optimum; False if nothing meets the conditions."""
        found = self._solve(price)
        if found is None:
            return False
        self._hold(found)
        return True

    def least(self, name):
        """Bring one motion as near to zero as the optimum held so far allows."""
        if name not in self.programme.motions:
            return
        place = self.programme.motions.index(name)
        price = np.zeros(self.size)
        price[place] = 1.0
        for sign in (1.0, -1.0):
            found = self._solve(sign * price)
            if found is not None and sign * found.x[place] >= 0:
                self._hold(found)
                return
        self.bounds[place] = 0.0
        self.held_low[place] = True

    def _solve(self, price):
        """Solve the programme for one price; None if it has no solution."""
        free, held = ~self.held, self.held
        return solve_linear(
            price / max(np.abs(price).max(), 1e-300),
            A_ub=self.matrix[free],
            b_ub=self.right[free],
            A_eq=self.matrix[held] if held.any() else None,
            b_eq=self.right[held] if held.any() else None,
            bounds=self.bounds,
        )

    def _hold(self, found):
        """Hold to equality whatever has a dual value."""
        priced = np.abs(found.ineqlin.marginals) > _NO_PRICE
        self.held[np.flatnonzero(~self.held)[priced]] = True
        for marginals, held, side in (
            (found.lower.marginals, self.held_low, 0),
            (found.upper.marginals, self.held_high, 1),
        ):
            priced = (np.abs(marginals) > _NO_PRICE) & np.isfinite(self.bounds[:, side])
            self.bounds[priced, 1 - side] = self.bounds[priced, side]
            held |= priced

    def settled(self):
        """Tell whether what is held leaves the target no freedom."""
        rows = np.array([row for row, *_ in self._equations()]).reshape(-1, self.p + 1)
        resolved = np.linalg.pinv(rows, rcond=1e-9) @ rows
        return bool(np.abs(resolved[: self.p] - np.eye(self.p, self.p + 1)).max() < 1e-6)

    def note_roles(self):
        """Note which places the value asked for rests on, as against those that break a tie."""
        if self.roles is None:
            self.roles = {i: role for *_, i, role in self._equations() if i is not None}

    def target(self):
        """Return the motions from the equations that are held, exactly."""
        chosen = []
        known = {None, *self.roles}
        for equation in sorted(self._equations(), key=lambda held: held[2] not in known):
            rows = np.array([row for row, *_ in [*chosen, equation]])
            if np.linalg.matrix_rank(rows, tol=1e-9) == len(rows):
                chosen.append(equation)
        inverse = np.linalg.pinv(np.array([row for row, *_ in chosen]), rcond=1e-9)[: self.p]
        inverse[np.abs(inverse) < 1e-12 * np.abs(inverse).max()] = 0.0
        right = np.array([value for _, value, *_ in chosen]) / _SCALE
        law = np.zeros((self.p, len(self.programme.least)))
        for column, (_, _, place, _) in zip(inverse.T, chosen, strict=True):
            if place is not None:
                law[:, place] += column
        role = {i: role for i, role in self.roles.items() if law[:, i].any()}
        return Target(inverse @ right, law, role)

    def _equations(self):
        """Yield what is held, in the motions and the deepest cut: row, value, place, role."""
        fixed = self.held_low | self.held_high
        for place in [*np.flatnonzero(fixed[: self.p]), *([-1] if fixed[-1] else [])]:
            yield np.eye(self.p + 1)[place], self.bounds[place, 0], None, ""
        for kind in self.row:
            for i in np.flatnonzero((self.row[kind] >= 0) & self.held[self.row[kind]]):
                equation = self._equation(kind, i)
                if equation is not None:
                    columns = self.low_columns if kind == "low" else self.programme.columns
                    row = np.append(columns[i], float(kind == "deep"))
                    yield row, equation[0], int(i), equation[1]

    def _equation(self, kind, i):
        """Return what the held row of a place says of the target, value and role, if anything."""
        if kind == "low":
            return self.right[self.row["low"][i]], "low spot"
        role = "greatest cut" if kind == "cut" else "high spot"
        if not self.with_depths:
            return -self.right[self.row[kind][i]], role
        # With a band the depth of the station is an unknown too. Only where that is held as well,
        # to nothing, to the greatest or to the deepest cut, does the row speak of the target.
        depth, cut = self.p + i, self.row["cut"][i]
        if kind == "cut" and self.held_high[depth]:
            return -self.right[cut] - self.bounds[depth, 0], role
        if kind == "cut" and self.held_low[depth]:
            return -self.right[cut], "high spot"
        return (-self.right[cut], role) if kind == "deep" and self.held[cut] else None


def solve_linear(price, **programme):
    """Solve a linear programme with scipy's HiGHS; None if it has no solution.

    Parameters
    ----------
    price : ndarray
        What one unit of each unknown costs.
    **programme
        Rows and bounds as `scipy.optimize.linprog` takes them.
    """
    from scipy.optimize import linprog

    # The dual simplex ends on a vertex, so that its active rows give the target exactly.
    found = linprog(price, method="highs-ds", **programme)
    if found.status not in (0, 2, 3):
        found = linprog(price, method="highs-ds", options={"presolve": False}, **programme)
    if found.status not in (0, 2, 3):
        raise MetrolibError(f"the linear programme could not be solved: {found.message}")
    return found if found.status == 0 else None
