"""Set-ups: the tables of traverses in survey.toml, each with the keys of its kind."""

from metrolib.survey.readings import KINDS, OWN, Traverse
from metrolib.survey.sections import NEEDED, Section, suggest

STATES = ("free", "levelled", "bolted")

#: Keys of a traverse that say nothing of where its readings were taken.
APART = frozenset(
    {
        "instrument",
        "setup",
        "state",
        "sign",
        "temperature",
        "approach",
        "drift_uncertainty",
        "supports",
        "note",
    }
)


def take_traverse(section, names):
    """Return the `Traverse` of one table.

    Parameters
    ----------
    section : Section
    names : dict of str to set of str
        The names of all faces, instruments and straightedges.
    """
    kind = _take_kind(section)
    name = section.path[-1]
    traverse = Traverse(
        name=name,
        kind=kind,
        instrument=_take_name(section, "instrument", names["instruments"], "instrument"),
        setup=section.text("setup", None) or None,
        state=section.choice("state", STATES, "levelled"),
        sign=_take_sign(section),
        settings=_take_settings(section, kind, names),
        temperature=section.number("temperature", None),
        approach=section.text("approach", ""),
        drift_uncertainty=section.number("drift_uncertainty", 0.0, at_least=0),
        supports=section.text("supports", ""),
        note=section.text("note", ""),
        line=section.book.places.line(*section.path),
    )
    # without its kind nobody knows which further keys belong to it
    own = kind is None or kind.startswith(OWN)
    further = section.finish(open_keys=own)
    traverse.settings.update(further)
    return traverse


def _take_kind(section):
    kind = section.text("kind")
    if kind is None or kind in KINDS:
        return kind
    if kind.startswith(OWN):
        if kind.removeprefix(OWN).strip():
            return kind
        return section.fault("kind", f"kind {kind!r} has no name", 'write kind = "own: NAME"')
    kinds = ", ".join(repr(word) for word in KINDS)
    return section.fault(
        "kind",
        f"unknown kind {kind!r}",
        suggest(kind, KINDS, otherwise=f'use one of {kinds}, or "own: NAME"'),
    )


def _take_sign(section):
    sign = section.number("sign", 1)
    if sign in (1, -1, None):
        return None if sign is None else int(sign)
    return section.fault(
        "sign", f"sign is {sign:g}", "write 1 where the reading rises with the metal, else -1"
    )


def _take_settings(section, kind, names):
    """Return the keys of the kind; a key that may stand and does not is left out."""
    if kind is None:
        return {}
    needed, possible = KINDS.get(kind, ((), ("line",)))
    settings = {}
    for key in dict.fromkeys((*needed, "face", *possible)):
        value = _TAKE[key](section, key, names, NEEDED if key in needed else None)
        if value is not None:
            settings[key] = value
    return settings


def _take_name(section, key, known, what, default=NEEDED):
    word = section.text(key, default)
    if word is None or word in known:
        return word
    remedy = suggest(word, known, otherwise=f"name one of the {what}s of survey.toml")
    return section.fault(key, f"unknown {what} {word!r}", remedy)


def _one_face(section, key, names, default):
    return _take_name(section, key, names["faces"], "face", default)


def _face_or_vee(section, key, names, default):
    """Take a face, or the two flanks of a vee."""
    if isinstance(section.table.get(key), list):
        return _two_faces(section, key, names, default)
    return _one_face(section, key, names, default)


def _two_rests(section, key, names, default):
    """Take two rests, each a face or the two flanks of a vee."""
    value = section.table.get(key)
    if not (isinstance(value, list) and any(isinstance(rest, list) for rest in value)):
        return _two_faces(section, key, names, default)
    section.raw(key)
    flat = [name for rest in value for name in (rest if isinstance(rest, list) else [rest])]
    inner = Section(section.book, section.path, {key: flat}, section.title)
    known = inner.names(key, names["faces"])
    section.sound &= inner.sound
    if len(value) != 2 or any(isinstance(rest, list) and len(rest) != 2 for rest in value):
        wrong = f"{key} is {value!r}, two rests are needed"
        return section.fault(key, wrong, "name two faces; a vee is the list of its two flanks")
    return known and tuple(tuple(rest) if isinstance(rest, list) else rest for rest in value)


def _two_faces(section, key, names, default):
    pair = section.names(key, names["faces"], default)
    if pair is None or len(pair) == 2:
        return pair
    return section.fault(
        key, f"{key} names {len(pair)} faces", "name two: the flanks that it rests on"
    )


def _line(section, key, names, default):
    if key not in section.table:
        section.raw(key)
        return None
    inner = Section(section.book, (*section.path, key), section.raw(key), f"{section.title}, line")
    start, end = inner.numbers("from"), inner.numbers("to")
    inner.finish()
    if inner.sound and start == end:
        inner.fault("to", f"the line ends where it begins, at {start}", "give two places [x, y]")
    section.sound &= inner.sound
    return {"from": start, "to": end} if inner.sound else None


def _edge(section, key, names, default):
    return _take_name(section, key, names["straightedges"], "straightedge", default)


def _length(section, key, names, default):
    return section.number(key, default, above=0)


def _place(section, key, names, default):
    return section.number(key, default)


def _pair(section, key, names, default):
    return section.numbers(key, default)


def _stretch(section, key, names, default):
    return section.numbers(key, default, ascending=True)


def _flag(section, key, names, default):
    return section.flag(key, None)


#: How each key of a kind is taken.
_TAKE = {
    "face": _face_or_vee,
    "other_face": _face_or_vee,
    "riding": _face_or_vee,
    "opposite_face": _one_face,
    "resting_on": _two_rests,
    "weights": _pair,
    "foot_spacing": _length,
    "distance": _length,
    "turned": _flag,
    "sole_up": _flag,
    "end_for_end": _flag,
    "line": _line,
    "straightedge": _edge,
    "start": _place,
    "supports_at": _stretch,
    "feet": _stretch,
    "wire_ends": _stretch,
    "wire_weight": _length,
    "wire_tension": _length,
}
