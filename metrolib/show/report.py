"""The report: one self-contained HTML file with the decision, its pictures and what it rests on."""

import re
from html import escape
from io import StringIO

import matplotlib
from markupsafe import Markup
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from metrolib.errors import MetrolibError
from metrolib.form import wording
from metrolib.rebuild.findings import findings
from metrolib.show.ahead import further_sections, sections
from metrolib.show.figures import height_of, plot
from metrolib.show.measured import booked_sheets
from metrolib.show.pages import as_css_text, page_path, template, write_page
from metrolib.show.tables import form_tables, option_table

#: What scraping leaves on a face that never wore [mm]: common practice, no published source.
_SCRAPED = 0.003

_WIDTH = 8.0  # of all pictures [inch]; the page has 7.2 of them, so letters stay legible

#: Nothing of the program, the day or a vocabulary is written into a picture.
_NO_METADATA = dict.fromkeys(("Date", "Creator", "Format", "Type"))


def report(
    survey, heights, plan, path, *, comparison=None, ways=None, progress=None, form=_SCRAPED
):
    """Write the report of a survey and its removal decision.

    Parameters
    ----------
    survey : Survey
    heights : Heights
        From `adjust`.
    plan : RemovalPlan or MetrolibError
        From `plan_removal`; or the error it raised, which the report then states.
    path : str or Path
        The file to write, ``.html`` or ``.pdf``; an earlier one is replaced in one step, never
        half. For PDF the extra ``pdf`` is needed; any browser prints the page as well.
    comparison : Comparison, optional
        From `compare`.
    ways : Ways, optional
        From `choose_way`.
    progress : Progress, optional
        From `progress`, after a round of work.
    form : float
        What the last scraping left on stretches that never wore: a station so much lower than the
        unworn line still counts as unworn where the page says which faces can be trusted [mm].
        3 µm is common practice, no published source; the page says so.

    Returns
    -------
    Path
        Where it was written, absolute.

    Raises
    ------
    InputError
        If the file is not named as a page, PDF is asked for and its package is missing, or `form`
        is below 0.
    MetrolibError
        If the file cannot be written: where, why, and what to do.

    Notes
    -----
    Pictures are inline SVG and styles stand in the page, so that the file can be mailed or printed
    by itself. The same survey gives the same bytes.
    """
    path = page_path("report", path)
    found = findings(heights, survey.decision, form=form)
    planned = not isinstance(plan, MetrolibError)
    ahead = [
        *sections(survey, heights, plan if planned else None),
        *further_sections(survey.display, ways, progress),
    ]
    page = template("report.html").render(
        survey=survey,
        heights=heights,
        plan=plan if planned else None,
        refusal=None if planned else str(plan),
        options=None if comparison is None else option_table(comparison, survey.display),
        found=found,
        forms=form_tables(found, survey.display),
        ahead=ahead,
        booked=booked_sheets(survey, heights),
        running=as_css_text(f"{survey.machine.name}: what to take off"),
        uncertain=bool(heights.cov.any()),
        unit=survey.display,
        usual=form == _SCRAPED,
        scraped=wording.length(form, survey.display),
        pictures=_pictures(survey, heights, plan if planned else None, found, ahead),
    )
    return write_page("report", path, page)


def _pictures(survey, heights, plan, found, ahead):
    """Draw all pictures of the report; titles and SVG by the place they have on the page."""
    wanted = []
    if plan is not None:
        wanted.append(("decision", "Plan view of what comes off", plan, {}))
        narrow = [name for name in plan.decision.faces if name not in found.flatness]
        wanted += [("faces", f"What comes off {n}", plan, {"face": n}) for n in narrow]
    wanted += [
        (section.title, title, one, {}) for section in ahead for title, one in section.pictures
    ]
    wanted += [("twist", f"Twist of {a} and {b}", one, {}) for (a, b), one in found.twist.items()]
    wanted += [("flatness", f"Flatness of {n}", one, {}) for n, one in found.flatness.items()]
    measured = {*heights.face.tolist()}
    datum = tuple(name for name in survey.decision.datum if name in measured)
    wanted.append(("heights", "Heights of all faces", heights, {"datum": datum}))
    if heights.checks is not None:
        wanted.append(("checks", "Residuals of the readings", heights.checks, {}))
    drawn = {}
    for number, (place, title, result, choice) in enumerate(wanted):
        picture = _svg(result, title, number, unit=survey.display, **choice)
        drawn.setdefault(place, []).append((title, Markup(picture)))
    return drawn


def _svg(result, title, number, **choice):
    """Draw one picture as SVG text, with a title for those who cannot see it."""
    with matplotlib.rc_context({"svg.hashsalt": "metrolib", "hatch.linewidth": 0.5}):
        size = (_WIDTH, height_of(result, choice.get("face")))
        figure = Figure(figsize=size, layout="constrained")
        plot(result, figure.subplots(), **choice)
        figure.set_layout_engine("none")  # it is laid out already
        text = StringIO()
        # the canvas itself draws once; `savefig` would draw twice to find a layout
        FigureCanvasSVG(figure).print_svg(text, metadata=_NO_METADATA)
    svg = text.getvalue()
    svg = _with_own_ids(svg[svg.index("<svg") :], f"p{number}-")
    return svg.replace("<svg ", f'<svg role="img" aria-label="{escape(title)}" ', 1)


def _with_own_ids(svg, prefix):
    """Set a prefix before all ids, so that no two pictures of a page share one."""
    svg = re.sub(r'\bid="', f'id="{prefix}', svg)
    return re.sub(r'(href="#|url\(#)', rf"\g<1>{prefix}", svg)
