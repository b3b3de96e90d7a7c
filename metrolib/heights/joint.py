"""Joint equations: the readings of several rounds of work as one linear system.

A round is a survey of its own. What the work does not touch is one unknown in all of them: the
heights of the datum faces, and the errors that instruments and straightedges bring along. What
the work cuts has heights of its own in each round; so has what is set up anew.
"""

import re
from dataclasses import dataclass

import numpy as np
from scipy import sparse

from metrolib.errors import InputError
from metrolib.heights.equations import Equations
from metrolib.heights.frame import rigid_columns
from metrolib.heights.result import PRIOR_U
from metrolib.heights.stations import Stations

#: The motions by which the machine may stand differently in another round.
_MOTIONS = ("lift", "pitch", "roll", "shift", "yaw")


@dataclass(frozen=True, eq=False)
class Joint:
    """Several rounds as one system.

    Attributes
    ----------
    system : Equations
        The heights of all rounds in the frame of the first, then all further unknowns.
    index : tuple of ndarray of int
        For each round which heights are its own or common, grouped by face, ascending in x and y.
    """

    system: Equations
    index: tuple[np.ndarray, ...]


def join(systems, names, faces, cut, reset):
    """Join the equations of several rounds.

    Parameters
    ----------
    systems : sequence of Equations
        One for each round; their faces count in the order of `faces`.
    names : sequence of str
        Of the rounds.
    faces : sequence of Face
    cut : set of str
        Faces that the work cuts: their heights are each round's own.
    reset : collection of str
        Instruments and straightedges whose errors are each round's own.

    Returns
    -------
    Joint

    Raises
    ------
    InputError
        If an instrument or straightedge of one name is known to differ between rounds.

    Notes
    -----
    Levelled or put down anew, the machine stands differently in space. So a height of a later
    round is that in the frame of the first plus a rigid motion, five more unknowns; the faces
    that are common to the rounds tell it.
    """
    heights, extras, motions = {}, {}, {}
    columns = []
    for number, (system, name) in enumerate(zip(systems, names, strict=True)):
        own = f", round {name}"
        at = [
            _slot(heights, (*key, number if faces[key[0]].name in cut else -1))
            for key in _keys(system.stations)
        ]
        further = [
            _further(extras, f"{what}{'' if shared else own}", prior, u)
            for what, prior, u, shared in _unknowns(system, reset)
        ]
        turned = _turned(system, faces) if number else np.zeros((len(system.u), 0))
        kept = [i for i in range(turned.shape[1]) if np.abs(turned[:, i]).max() > 1e-12]
        moved = [_slot(motions, f"{_MOTIONS[i]} of the machine{own}") for i in kept]
        columns.append((at, further, moved, turned[:, kept]))
    count = (len(heights), len(extras), len(motions))
    rows = []
    for system, (at, further, moved, turned) in zip(systems, columns, strict=True):
        place = [*at, *(count[0] + i for i in further), *(count[0] + count[1] + i for i in moved)]
        own = sparse.hstack([system.matrix, sparse.csr_array(turned)], format="csr")
        where = np.array(place)[own.indices]
        rows.append(sparse.csr_array((own.data, where, own.indptr), (len(system.u), sum(count))))
    return Joint(
        _system(systems, names, faces, sparse.vstack(rows, format="csr"), heights, extras, motions),
        tuple(_of_round(heights, number) for number in range(len(systems))),
    )


def _keys(stations):
    """Return what tells stations of one face apart: the face, x and y, to a hundredth."""
    return zip(
        stations.face.tolist(),
        stations.x.round(2).tolist(),
        stations.y.round(2).tolist(),
        strict=True,
    )


def _slot(known, key):
    """Return the number of a key, a new one if it is new."""
    return known.setdefault(key, len(known))


def _unknowns(system, reset):
    """Yield name, prior and its u of each further unknown, and whether it is common to rounds.

    What is known beforehand belongs to an instrument or a straightedge and goes with it; an
    unknown of which nothing is known, and a drift, belong to one set-up.
    """
    first = len(system.stations.x)
    for i, name in enumerate(system.extras, first):
        of_set_up = system.weak[i] or name.startswith("drift of ")
        yield name, system.prior[i], system.prior_u[i], not (of_set_up or _is_of(name, reset))


def _is_of(name, owners):
    """Tell whether an unknown is an error of one of some instruments or straightedges."""
    return any(
        re.search(rf"\bof {re.escape(each)}( over .+| at \S+ mm)?$", name) for each in owners
    )


def _further(extras, name, prior, u):
    """Return the number of a further unknown; refuse one that is known differently elsewhere."""
    known = extras.setdefault(name, (len(extras), prior, u))
    if known[2] != u:
        raise InputError(
            f"{name!r}: its standard uncertainty is {known[2]:g} in one round and {u:g} in "
            "another; describe the instrument alike in all rounds, or name another one otherwise"
        )
    return known[0]


def _turned(system, faces):
    """Return how the readings of a round answer to motions of the machine, shape (m, 5)."""
    stations = system.stations
    named = {face.name: face for face in faces}
    face = np.array([faces[i].name for i in stations.face])
    return system.matrix[:, : len(face)] @ rigid_columns(named, face, stations.x, stations.y)


def _system(systems, names, faces, matrix, heights, extras, motions):
    """Return the equations with the unknowns in the order heights, extras, motions."""
    key = np.array([key[:3] for key in heights])
    face = key[:, 0].astype(int)
    known = np.array([(prior, u) for _, prior, u in extras.values()]).reshape(-1, 2)
    free = np.zeros(len(motions))
    together = {
        what: np.concatenate([getattr(system, what) for system in systems])
        for what in ("observed", "u", "face", "x", "line", "measures", "reading")
    }
    traverse = [
        f"{name}: {each}"
        for name, system in zip(names, systems, strict=True)
        for each in system.traverse
    ]
    nominal = [faces[i].nominal_height for i in face]
    before = np.cumsum([0, *(system.alike.max(initial=-1) + 1 for system in systems)])
    alike = [system.alike + count for system, count in zip(systems, before, strict=False)]
    return Equations(
        stations=Stations(face, key[:, 1], key[:, 2]),
        extras=(*extras, *motions),
        matrix=matrix,
        prior=np.concatenate([nominal, known[:, 0], free]),
        prior_u=np.concatenate([np.full(len(face), PRIOR_U), known[:, 1], free + PRIOR_U]),
        traverse=np.array(traverse, dtype=object),
        alike=np.concatenate(alike),
        **together,
    )


def _of_round(heights, number):
    """Return the places of the heights of one round, sorted."""
    mine = [(key[:3], place) for key, place in heights.items() if key[3] in (-1, number)]
    return np.array([place for _, place in sorted(mine)])
