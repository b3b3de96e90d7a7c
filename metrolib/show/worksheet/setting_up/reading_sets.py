"""Reading sets: one set of readings of the form -> the traverses that it plans."""

from dataclasses import replace

from metrolib.errors import InputError
from metrolib.show.worksheet.setting_up.answers import VEE
from metrolib.show.worksheet.setting_up.form_fields import ASKED, typed_length
from metrolib.survey.agreement import SLOPE_KINDS
from metrolib.survey.machine import Face
from metrolib.survey.sheets import Sheet, Spacing, plan_sheets

#: More stations than this in one traverse are a slip of the pitch.
_MOST_STATIONS = 400


def sheets_of(survey):
    """Return the traverses of a survey as sheets: what is read and what is still planned.

    Parameters
    ----------
    survey : Survey

    Returns
    -------
    list of Sheet
        Traverses along a line of their own on a wide face are left out: x says nothing of where
        their stations are.
    """
    return [
        Sheet(name, traverse.kind, traverse.instrument, (), *_places(survey, traverse))
        for name, traverse in survey.traverses.items()
        if "line" not in traverse.settings
    ]


def _places(survey, traverse):
    """Return the stations of a traverse, and y of the middle of the vee that it lies on."""
    stations = [
        station
        for rows in (survey.readings.of(traverse.name), survey.planned.of(traverse.name))
        for station in zip(rows.face.tolist(), rows.x.tolist(), strict=True)
    ]
    own = traverse.settings.get("face", ())
    faces = [survey.machine.faces[name] for name in ([own] if isinstance(own, str) else own)]
    return tuple(stations), sum(face.y for face in faces) / max(len(faces), 1)


def instruments_for(kind, instruments):
    """Return the keys of the instruments that can read a kind.

    Parameters
    ----------
    kind : str
    instruments : dict of str to Instrument
    """
    needed = "slope" if kind in SLOPE_KINDS else "length"
    return [key for key, tool in instruments.items() if tool.measures == needed]


def rests_for(kind, role, rests):
    """Return the keys of what can stand for a role of a kind: vees only where they can."""
    vee = ASKED[kind].vee[role]
    return [key for key, rest in rests.items() if vee or isinstance(rest, Face)]


def take_readings(entry, answers, said):
    """Plan the traverses of one set of readings."""
    kind = entry.typed["kind"]
    tool = _tool(entry, kind, answers, said)
    spacing = _spacing(entry, said)
    rests = _chosen_rests(entry, kind, answers, said)
    if tool is None or spacing is None or rests is None:
        return
    try:
        sheets = plan_sheets(kind, rests, spacing)
    except InputError as error:
        said.faults[entry.key, "kind"] = str(error).removeprefix("kinds: ")
        return
    most = max((len(sheet.stations) for sheet in sheets), default=0)
    if most > _MOST_STATIONS:
        words = f"this makes {most} stations, more than {_MOST_STATIONS}; take a longer step"
        said.faults[entry.key, "pitch"] = words
        return
    said.sheets[entry.key] = [replace(sheet, instrument=tool.name) for sheet in sheets]


def _tool(entry, kind, answers, said):
    """Return the instrument of a set of readings: the chosen one, else the one usual for it."""
    fitting = instruments_for(kind, said.instruments)
    chosen = entry.typed.get("instrument")
    if chosen in fitting:
        return said.instruments[chosen]
    usual = [one.key for one in answers.instruments if one.typed["kind"] == ASKED[kind].tool]
    first = next((key for key in [*usual, *fitting] if key in fitting), None)
    if first is not None:
        entry.default["instrument"] = first
        return said.instruments[first]
    if len(said.instruments) == len(answers.instruments):  # else it may be the faulty one
        reads = "slope" if kind in SLOPE_KINDS else "length"
        words = f"no instrument here reads a {reads}; add one under Instruments"
        said.faults[entry.key, "instrument"] = words
    return None


def _spacing(entry, said):
    """Return the lengths of a set of readings; None where one is at fault."""
    lengths = {}
    for key in ("pitch", "foot"):
        try:
            text = entry.text(key)
            lengths[key] = typed_length(text, above=0) if text else None
        except InputError as error:
            said.faults[entry.key, key] = str(error)
            return None
    return Spacing(**lengths, edge=said.edge.length if said.edge else None)


def _chosen_rests(entry, kind, answers, said):
    """Return what a set of readings is taken on; None while a face of it is not described."""
    if not ASKED[kind].roles:
        return list(said.faces.values()) if len(said.faces) == len(answers.faces) else None
    keys = [entry.typed.get(f"role {at}") for at in range(len(ASKED[kind].roles))]
    known = {face.key for face in answers.faces}
    for at, key in enumerate(keys):
        if (words := _wrong_rest(key, keys[:at], known, said)) is not None:
            said.faults[entry.key, f"role {at}"] = words
    chosen = [said.rests.get(key) for key in keys]
    return None if None in chosen or len(set(keys)) < len(keys) else chosen


def _wrong_rest(key, before, known, said):
    """Tell what is wrong with a chosen face; None also while a face of it has a fault itself."""
    if not key:
        return "no face is chosen; choose one"
    if key in before:
        return "this face is chosen twice; choose another"
    flanks = key.split(VEE)
    if not known.issuperset(flanks):
        return "the face that was chosen is gone; choose another"
    if key not in said.rests and said.rests.keys() >= set(flanks):
        return "these two flanks make no vee any more; choose another"
    return None
