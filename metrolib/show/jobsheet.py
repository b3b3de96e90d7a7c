"""The job sheet: one page for the wall, with what comes off where in large figures."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.errors import InputError
from metrolib.rebuild.removal.conditions import named
from metrolib.rebuild.removal.plan import RemovalPlan
from metrolib.rebuild.stages.gauges import gauges_of
from metrolib.rebuild.stages.stage_words import hours
from metrolib.rebuild.stages.stages import stages
from metrolib.rebuild.stages.stop_readings import stop_readings
from metrolib.rebuild.stages.watches import watch
from metrolib.rebuild.wording import crowned
from metrolib.show.pages import page_path, template, write_page
from metrolib.show.sheet_plan import Row, sheet_plans
from metrolib.show.sheet_room import COLUMNS, face_width, plan_room
from metrolib.units import show_length, unit_sign

_PROMISE = {True: "every place cleans up", False: "no place ends too low"}
_FAILURE = {True: "some place will not clean up", False: "some place ends too low"}


@dataclass(frozen=True)
class _StageLine:
    """One stage in the list that is ticked off."""

    name: str
    leaves: str
    passes: str
    time: str


#: Lines to be filled in by hand where the survey describes no methods.
_OWN = (_StageLine("", "", "", ""),) * 2


def job_sheet(survey, heights, plan, path):
    """Write the job sheet of a removal: one page, A4 across, to be printed for the wall.

    Parameters
    ----------
    survey : Survey
    heights : Heights
        From `adjust`; readings that stand out are told on the sheet.
    plan : RemovalPlan
        From `plan_removal`.
    path : str or Path
        The HTML file to write, ``.html`` or ``.htm``; an earlier one is replaced in one step,
        never half.

    Returns
    -------
    Path
        Where it was written, absolute.

    Raises
    ------
    InputError
        If the file is not named as a page, or there is no plan.
    MetrolibError
        If the file cannot be written: where, why, and what to do.

    Notes
    -----
    The figures are the depths of the plan, rounded down, so that following them never cuts
    deeper than planned. Where stations stand too close for figures that are read from a metre
    away, neighbours are joined into a zone that shows the least of them; the stop readings stay
    those of each station, as `stages` gives them. Without methods in the survey there is one
    stage, down to the target. A bed with more lines of stations than fit on one page gets
    further pages, and each says so.

    Print it from the browser, in landscape. It needs nothing but itself, and the same survey
    gives the same bytes.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> from metrolib import adjust, plan_removal, read_survey
    >>> survey = read_survey("sample_surveys/published_forward_backward")
    >>> heights = adjust(survey)
    >>> plan = plan_removal(heights, survey.decision)
    >>> with TemporaryDirectory() as folder:
    ...     print(job_sheet(survey, heights, plan, f"{folder}/job_sheet.html").name)
    job_sheet.html
    """
    path = page_path("job_sheet", path)
    if isinstance(plan, Exception):
        raise InputError(f"job_sheet: there is no plan to put on a sheet, got {plan}")
    checks.kind("plan", plan, RemovalPlan, "it comes from plan_removal")
    unit = survey.display
    rows, listed = _work(survey, plan)
    title = f"{survey.machine.name}: take off, in {unit_sign(unit)}"
    said = _said(survey, heights, plan, rows)
    faces = [part.face for part in plan.per_face if part.most > 0]
    room = plan_room(title, said, [line.name for line in listed], faces)
    page = template("jobsheet.html").render(
        machine=survey.machine.name,
        title=title,
        said=said,
        pages=sheet_plans(plan, rows, unit, _kept(survey, plan), room=room),
        lines=listed,
        faces=faces,
        columns=COLUMNS,
        face_width=face_width(faces),
    )
    return write_page("job_sheet", path, page)


def _work(survey, plan):
    """Return the rows of stop readings by face, and the list of stages."""
    unit, gauges = survey.display, gauges_of(survey, plan)
    watches = {one.face: watch(plan, one) for one in gauges}
    if survey.methods:
        work = stages(plan, survey.methods, gauges=gauges)
        made = [(stage.name, stage.readings) for stage in work]
        listed = [_line(stage, unit) for stage in work]
    else:
        end = {face: stop_readings(plan, seen, 0 * plan.depth) for face, seen in watches.items()}
        made, listed = [("target", end)], [*_OWN, _StageLine("down to the target", "0", "", "")]
    rows = {}
    for name, readings in made:
        for face, found in readings.items():
            texts = dict(zip(found.stations.tolist(), found.numbers(unit), strict=True))
            row = Row(name, found.sign(unit), texts, _gauge(watches[face]))
            rows.setdefault(face, []).append(row)
    return rows, listed


def _gauge(seen):
    """Say what watches a face, and where it is set to zero."""
    name = seen.gauge.instrument.name
    return name if seen.zero_at is None else f"{name}, zero at {seen.zero_at:g}"


def _line(stage, unit):
    """Write one stage."""
    most = int(stage.passes.max())
    per_pass = show_length(stage.method.per_pass, unit)
    return _StageLine(
        stage.name,
        show_length(stage.method.leaves, unit),
        f"{most} of {per_pass}" if most else "none",
        hours(stage.hours),
    )


def _kept(survey, plan):
    """Return the faces that must not be touched, with the reason."""
    kept = {name: "the datum" for name in plan.decision.datum if name not in plan.faces}
    kept |= {name: "stays as it is" for name in plan.decision.untouchable}
    return [(survey.machine.faces[name], why) for name, why in kept.items()]


def _said(survey, heights, plan, rows):
    """Say how sure it is, how sure each figure is, and what is not settled yet."""
    unit, said = survey.display, [_sure(plan)]
    if plan.decision.crown != 0:
        said.insert(0, crowned(plan, unit))
    U = 2 * float(plan.depth_u[~plan.left_out].max())
    if U > 0:
        said.append(f"Each depth is known to ±{show_length(U, unit)} or better (U, k = 2).")
    bare = [name for name in plan.faces if name not in rows]
    if bare:
        which = "any face" if len(bare) == len(plan.faces) else named(bare)
        said.append(f"No gauge of the survey watches {which}: measure after each stage.")
    suspects = 0 if heights.checks is None else len(heights.checks.suspects)
    if suspects:
        which = "One reading stands" if suspects == 1 else f"{suspects} readings stand"
        said.append(f"{which} out in the survey: settle that before you cut.")
    return said


def _sure(plan):
    """Say in words how surely the plan does what it promises."""
    promise = _PROMISE[plan.decision.band == 0]
    if not plan.heights.cov.any():
        return f"The heights were given as exact; then {promise}."
    share, how = np.floor(100 * plan.confidence + 1e-6), ""
    if plan.decision.target_height is not None:
        how = " The target was set by hand."
    elif plan.guard == 0:
        how = " Planned without a guard."
    if share >= 99:
        return f"It is almost certain that {promise}, if the target is cut exactly.{how}"
    if share < 1:
        return f"It is almost certain that {_FAILURE[plan.decision.band == 0]}.{how}"
    return (
        f"Of 100 machines that read like this one, on {share:.0f} {promise}, if the target is cut "
        f"exactly.{how}"
    )
