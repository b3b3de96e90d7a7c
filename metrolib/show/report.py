"""The report: one self-contained HTML file with the decision, its pictures and what it rests on."""

from importlib.resources import files
from io import StringIO
from pathlib import Path

import jinja2
import matplotlib
from markupsafe import Markup
from matplotlib.figure import Figure

from metrolib.errors import MetrolibError, SurveyError
from metrolib.rebuild.findings import findings
from metrolib.show.figures import plot
from metrolib.survey.files import write_files

_LANDSCAPE = (9.2, 3.3)


def report(survey, heights, plan, path, *, comparison=None):
    """Write the report of a survey and its removal decision.

    Parameters
    ----------
    survey : Survey
    heights : Heights
        From `adjust`.
    plan : RemovalPlan or MetrolibError
        From `plan_removal`; or the error it raised, which the report then states.
    path : str or Path
        The HTML file to write; an earlier one is replaced in one step, never half.
    comparison : Comparison, optional
        From `compare`.

    Returns
    -------
    Path
        Where it was written, absolute.

    Raises
    ------
    MetrolibError
        If the file cannot be written: where, why, and what to do.

    Notes
    -----
    Pictures are inline SVG and styles stand in the page, so that the file can be mailed or printed
    by itself. The same survey gives the same bytes.
    """
    found = findings(heights, survey.decision)
    planned = not isinstance(plan, MetrolibError)
    page = _template().render(
        survey=survey,
        heights=heights,
        plan=plan if planned else None,
        refusal=None if planned else str(plan),
        comparison=comparison,
        found=found,
        unit=survey.display,
        pictures=_pictures(survey, heights, plan if planned else None, found),
    )
    path = Path(path).absolute()
    try:
        write_files(path.parent, {path.name: page.encode("utf-8")})
    except SurveyError as error:
        raise MetrolibError(f"report: {error.faults[0]}") from error
    return path


def _pictures(survey, heights, plan, found):
    """Draw all pictures of the report; (title, SVG) in the order of the page."""
    unit = survey.display
    wanted = []
    if plan is not None:
        wanted.append(("decision", plan, {}))
        narrow = [name for name in plan.decision.faces if name not in found.flatness]
        wanted += [("faces", plan, {"face": name}) for name in narrow]
    wanted += [("twist", result, {}) for result in found.twist.values()]
    wanted += [("flatness", result, {}) for result in found.flatness.values()]
    wanted.append(("heights", heights, {"datum": survey.decision.datum}))
    wanted.append(("checks", heights.checks, {}))
    drawn = {}
    for number, (place, result, choice) in enumerate(wanted):
        drawn.setdefault(place, []).append(Markup(_svg(result, number, unit=unit, **choice)))
    return drawn


def _svg(result, number, **choice):
    """Draw one picture as SVG text; its own hash salt keeps ids apart within the page."""
    height = 5.5 if hasattr(result, "plane") and hasattr(result, "y") else _LANDSCAPE[1]
    with matplotlib.rc_context({"svg.hashsalt": f"metrolib {number}", "hatch.linewidth": 0.5}):
        figure = Figure(figsize=(_LANDSCAPE[0], height), layout="constrained")
        plot(result, figure.subplots(), **choice)
        text = StringIO()
        figure.savefig(text, format="svg", metadata={"Date": None, "Creator": None})
    svg = text.getvalue()
    return svg[svg.index("<svg") :]


def _template():
    """Load the page; autoescape guards against markup in names and notes."""
    source = files("metrolib.show").joinpath("report.html").read_text(encoding="utf-8")
    environment = jinja2.Environment(autoescape=True, trim_blocks=True, lstrip_blocks=True)
    return environment.from_string(source)
