"""The work ahead, for the report: stages, what the lowering does, and the tolerances.

A survey that describes methods, what rides on the faces, or tolerances gets a section for each.
"""

from dataclasses import dataclass

from metrolib.errors import MetrolibError
from metrolib.form.wording import listing
from metrolib.rebuild.acceptance.acceptance import accept
from metrolib.rebuild.lowering.carried_feet import holds
from metrolib.rebuild.lowering.centres import centre_offset
from metrolib.rebuild.lowering.drive import drive_offsets
from metrolib.rebuild.lowering.lowering import lowering
from metrolib.rebuild.lowering.restoring import restoring
from metrolib.rebuild.stages.gauges import gauges_of
from metrolib.rebuild.stages.stages import stages
from metrolib.rebuild.wording import written

_STOPS = (
    "Stop readings are rounded to a division of the gauge, on the side that leaves metal. Hours "
    "are of work on the metal, as the log of the methods tells; their U holds the scatter of the "
    "rates and of the heights."
)
_LOWERED = (
    "From the faces as measured to the faces as planned; a body touches each face at the feet that "
    "the survey names. Roll is positive with the +y side up, pitch with the far end up, yaw with "
    "the far end towards +y. Shims are told where all faces that carry a body are planned, and are "
    "what brings it back to the nominal height. It leaves out what bends, gibs, and wear of the "
    "body's own faces."
)
_CHOSEN = (
    "What is left holds the survey's uncertainty and that of the finishing; it leaves out what "
    "lies between the stations, and how the bed moves when metal comes off or it is clamped. Drops "
    "are from the faces as measured to the faces as planned."
)
_STANDING = (
    "All rounds are adjusted together, so U holds what they share and what each added. It leaves "
    "out what lies between the stations, and a bed that changed its shape between two rounds."
)
_JUDGED = (
    "As the machine stands in this survey. Judged are the stations; not what lies between them, "
    "how the machine settles afterwards, or errors that nobody stated. A limit from memory is a "
    "default to be edited, not a quotation."
)


@dataclass(frozen=True)
class Section:
    """A section of the report.

    Attributes
    ----------
    title : str
    said : tuple of str
    tables : tuple of (str, str)
        Captions and HTML.
    note : str
        What the figures hold, and what they leave out.
    pictures : tuple of (str, result)
        Titles, and what is drawn.
    """

    title: str
    said: tuple[str, ...]
    tables: tuple[tuple[str, str], ...] = ()
    note: str = ""
    pictures: tuple = ()


def sections(survey, heights, plan):
    """Return the sections that a survey asks for; one that cannot be told says why.

    Parameters
    ----------
    survey : Survey
    heights : Heights
    plan : RemovalPlan or None

    Returns
    -------
    list of Section
    """
    wanted = []
    if plan is not None and survey.methods:
        wanted.append(("Stages and stop readings", lambda: _stages(survey, plan)))
    if plan is not None and survey.carried:
        wanted.append(("What the lowering does", lambda: _lowered(survey, plan)))
    if survey.tolerances:
        wanted.append(("Against the tolerances", lambda: _judged(survey, heights)))
    return [_told(title, make) for title, make in wanted]


def further_sections(unit, ways, progress):
    """Return the sections of what was worked out beside the plan.

    Parameters
    ----------
    unit : str
        Display unit.
    ways : Ways or None
    progress : Progress or None

    Returns
    -------
    list of Section
    """
    found = []
    if ways is not None:
        picture = ("Metal that each way takes off", ways)
        found.append(
            Section("Choosing the way", (), (("", ways.to_html(unit)),), _CHOSEN, (picture,))
        )
    if progress is not None:
        said, table = (progress.in_words(unit),), ("", progress.to_html(unit))
        picture = ("Left to come off", progress)
        found.append(Section("Where the work stands", said, (table,), _STANDING, (picture,)))
    return found


def _told(title, make):
    """Return a section, or one with the reason why there is none."""
    try:
        said, tables, note, pictures = make()
    except MetrolibError as error:
        return Section(title, (str(error),))
    return Section(title, tuple(said), tuple(tables), note, tuple(pictures))


def _stages(survey, plan):
    unit = survey.display
    work = stages(plan, survey.methods, gauges=gauges_of(survey, plan))
    table = work.to_dataframe(unit).round({"u(passes)": 1, "time [h]": 1, "u(time) [h]": 1})
    tables = [("", _html(written(table)))]
    tables += [
        (f"{face}, station by station", _html(work.bench_table(face, unit))) for face in plan.faces
    ]
    said = [work.in_words(unit)]
    bare = [repr(name) for name in plan.faces if name not in work.watches]
    if bare:
        said.append(
            f"No stop readings for {listing(bare)}: no traverse of a micrometer, carriage or gauge "
            "there is read from faces that stay as they are."
        )
    return (
        said,
        tables,
        _STOPS,
        [("Stages on the face with the deepest cut", work)],
    )


def _lowered(survey, plan):
    unit, faces, down, said = survey.display, survey.machine.faces, {}, []
    for name, body in survey.carried.items():
        try:
            down[name] = lowering(body, faces, plan)
            said.append(down[name].in_words(unit))
            said += _shims(body, faces, plan, unit)
        except MetrolibError as error:
            said.append(f"{name}: {error}")
    found = []
    if survey.drive is not None and "saddle" in down:
        found.append(drive_offsets(down["saddle"], survey.drive))
    if survey.drive is not None and {"headstock", "tailstock"} <= set(down):
        found.append(centre_offset(down["headstock"], down["tailstock"], survey.drive))
    said += [one.in_words(unit) for one in found]
    return said, [], _LOWERED, [(f"Motion of the {name}", one) for name, one in down.items()]


def _shims(body, faces, plan, unit):
    """Say what brings a body back to new, where the plan tells all that it lost."""
    if any(holds(faces[name]) and name not in plan.faces for name in body.rides_on):
        return []
    return [restoring(lowering(body, faces, plan, since="new")).in_words(unit)]


def _judged(survey, heights):
    found = accept(heights, survey.tolerances)
    return [], [("", found.to_html(survey.display))], _JUDGED, [("Measured against allowed", found)]


def _html(table):
    return table.to_html(index=False, border=0)
