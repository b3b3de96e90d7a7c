"""Traverses begun: further traverses for a survey, from what is usual for their reading kind."""

from dataclasses import replace

from metrolib import checks
from metrolib.errors import InputError
from metrolib.survey import wording
from metrolib.survey.additions import add_rows
from metrolib.survey.agreement import SLOPE_KINDS
from metrolib.survey.edits import add_traverses
from metrolib.survey.folder import survey_from_texts
from metrolib.survey.new_texts import traverse_tables
from metrolib.survey.readings import KINDS, OWN
from metrolib.survey.rests import Vee
from metrolib.survey.sheets import UNDER_AN_EDGE, Spacing, plan_sheets


def new_sheets(survey, kind, faces=None, *, name=None, instrument=None, stations=None, **lengths):
    """Return the traverses that one reading kind needs on some faces of a surveyed machine.

    Parameters
    ----------
    survey : Survey
    kind : str
        One of `KINDS`, or ``"own: NAME"``.
    faces : iterable, optional
        Names of the faces, two flanks in brackets for a vee; a carriage rides on the first, a gauge
        rests on the first two. All faces of the machine when not given.
    name : str, optional
        Of the traverse; where there are several, what each is called is added to it.
    instrument : str, optional
        One of the survey's; when not given that of its other traverses of the kind, or the only
        one that reads what the kind needs.
    stations : iterable of float, optional
        Places along the ways [mm]; a pitch apart over the whole face when not given.
    **lengths
        ``pitch`` and ``foot`` of `Spacing` [mm].

    Returns
    -------
    list of Sheet

    Raises
    ------
    InputError
        If a name is unknown or taken, or the machine lacks what the kind needs.
    """
    if not (isinstance(kind, str) and kind.startswith(OWN)):
        checks.choice("kind", kind, (*KINDS, "own: NAME"))
    rests = [_rest(survey, face) for face in faces or survey.machine.faces]
    edge = _edge(survey, kind)
    spacing = Spacing(**lengths, edge=None if edge is None else edge.length)
    sheets = plan_sheets(kind, rests, spacing)
    tool = _instrument(survey, kind, instrument, usual=sheets[0].instrument)
    sheets = [replace(sheet, instrument=tool) for sheet in sheets]
    if edge is not None:
        usual = f"straightedge = {wording.quoted(wording.STRAIGHTEDGE_NAME)}"
        own = f"straightedge = {wording.quoted(edge.name)}"
        sheets = [
            replace(sheet, keys=tuple(own if key == usual else key for key in sheet.keys))
            for sheet in sheets
        ]
    if stations is not None:
        x = checks.vector("stations", stations, least=2).tolist()
        sheets = [replace(sheet, stations=_at(sheet, x)) for sheet in sheets]
    return _named(survey, sheets, name)


def with_sheets(survey, sheets):
    """Return a survey with further traverses, their stations planned.

    Raises
    ------
    SurveyError
        If they lead to a survey that could not be read.
    """
    toml_text = add_traverses(survey.toml_text, traverse_tables(sheets))
    rows = [
        {"traverse": sheet.name, "face": face, "x": x, "reading": None}
        for sheet in sheets
        for face, x in sheet.stations
    ]
    text = add_rows(survey.readings_text, rows, survey.readings_file)
    return survey_from_texts(toml_text, text, survey.readings_file, survey.encodings)


def _rest(survey, name):
    known = survey.machine.faces
    names = (name,) if isinstance(name, str) else tuple(name)
    for one in names:
        checks.choice("faces", one, tuple(known))
    if len(names) > 2:
        raise checks.wrong("faces", "a vee has two flanks", len(names), "name both and no more")
    return known[names[0]] if len(names) == 1 else Vee(*(known[one] for one in names))


def _edge(survey, kind):
    """Return the straightedge that a kind is read under, None where it needs none."""
    if kind not in UNDER_AN_EDGE:
        return None
    if not survey.straightedges:
        raise InputError(
            f"kind: {kind!r} needs a straightedge, survey.toml describes none; add a table"
            ' [straightedges."NAME"] with its length and profile_uncertainty'
        )
    return next(iter(survey.straightedges.values()))


def _instrument(survey, kind, name, usual):
    """Return the name of the instrument that reads a kind."""
    needed = None if kind.startswith(OWN) else "slope" if kind in SLOPE_KINDS else "length"
    fit = [one.name for one in survey.instruments.values() if needed in (None, one.measures)]
    if name is not None:
        checks.choice("instrument", name, tuple(survey.instruments))
    if not fit or (name is not None and name not in fit):
        got = "survey.toml has none" if name is None else f"{name!r} does not"
        raise InputError(
            f"instrument: {kind!r} needs one that reads a {needed}, {got}; describe one in a table"
            ' [instruments."NAME"]'
        )
    used = [one.instrument for one in survey.traverses.values() if one.kind == kind]
    likely = [one for one in (name, *used, usual, *fit[: len(fit) == 1]) if one in fit]
    if not likely:
        raise checks.wrong("instrument", "several read it", ", ".join(fit), "name one of them")
    return likely[0]


def _at(sheet, places):
    """Return the stations of a sheet at given places, in the direction that it has."""
    first, last = sheet.stations[0][1], sheet.stations[-1][1]
    ordered = sorted(places, reverse=last < first)
    return tuple((face, x) for face in dict.fromkeys(dict(sheet.stations)) for x in ordered)


def _named(survey, sheets, name):
    if name is not None:
        usual = sheets[0].name
        ends = [sheet.name.removeprefix(usual) for sheet in sheets]
        if len(sheets) > 1 and not all(end.startswith(" ") for end in ends[1:]):
            ends = [f" {sheet.name}" for sheet in sheets]
        sheets = [
            replace(sheet, name=f"{name}{end}") for sheet, end in zip(sheets, ends, strict=True)
        ]
    for sheet in sheets:
        if sheet.name in survey.traverses:
            raise checks.wrong(
                "name", "a traverse is called so already", repr(sheet.name), "give another name"
            )
    return sheets
