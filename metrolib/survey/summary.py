"""Summary: a survey in a few lines."""

import html


def summary(survey):
    """Return the survey in a few lines.

    Parameters
    ----------
    survey : Survey

    Returns
    -------
    dict of str to str
        What, and how much of it.
    """
    states = dict.fromkeys(traverse.state for traverse in survey.traverses.values())
    left_out = [
        f"{name} {stretch.x_from:g} to {stretch.x_to:g} mm ({stretch.reason})"
        for name, face in survey.machine.faces.items()
        for stretch in face.left_out
    ]
    return {
        "machine": survey.machine.name,
        "faces": ", ".join(survey.machine.faces),
        "traverses": "; ".join(_told(survey, name) for name in survey.traverses),
        "state": ", ".join(states),
        "left out": "; ".join(left_out) or "nothing",
    }


def as_text(survey):
    """Return the summary as lines."""
    lines = [f"  {what}: {told}" for what, told in summary(survey).items()]
    return "\n".join(["Survey", *lines])


def as_html(survey):
    """Return the summary as a table."""
    left = "style='text-align:left'"
    rows = "".join(
        f"<tr><th {left}>{what}</th><td {left}>{html.escape(told)}</td></tr>"
        for what, told in summary(survey).items()
    )
    return f"<table>{rows}</table>"


def _told(survey, name):
    count = int((survey.readings.traverse == name).sum())
    planned = int((survey.planned.traverse == name).sum())
    still = f", {planned} still planned" if planned else ""
    return f"{name} ({survey.traverses[name].kind}, {count} readings{still})"
