"""A planned survey in words and tables."""

from html import escape

import numpy as np

from metrolib.units import from_millimetres, unit_sign


def in_words(plan, unit):
    """Say what the survey will tell, and what to add, in one paragraph."""
    said = [f"{plan.reading_x.size} readings are intended."]
    for kind in dict.fromkeys(each.kind for each in plan.results):
        of_kind = [each for each in plan.results if each.kind == kind]
        least = max(of_kind, key=lambda each: each.worst).in_words(unit)
        said.append(
            f"Of all figures of {kind} the least sure: {least}."
            if len(of_kind) > 1
            else f"{least[:1].upper()}{least[1:]}."
        )
    return " ".join([*said, *_further(plan, unit)])


def to_html(plan, unit):
    """Return the results as an HTML table, with what else is to be said as a list."""
    columns = {
        "result": [each.name for each in plan.results],
        "u": [each.shown(each.worst, unit) for each in plan.results],
    }
    if plan.additions:
        columns["u with the readings added"] = [
            each.shown(each.worst_after, unit) for each in plan.results
        ]
    if any(each.wanted is not None for each in plan.results):
        columns["wanted"] = [
            "" if each.wanted is None else each.shown(each.wanted, unit) for each in plan.results
        ]
    rows = "".join(
        f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>"
        for row in zip(*columns.values(), strict=True)
    )
    items = "".join(f"<li>{escape(line)}</li>" for line in _further(plan, unit))
    return (
        f"<table><tr>{''.join(f'<th>{word}</th>' for word in columns)}</tr>{rows}</table>"
        f"<ul>{items}</ul>"
    )


def _further(plan, unit):
    """Say what is open, what nothing checks, and what to add, one sentence or two each."""
    loose = [f"{str(item)[:1].upper()}{str(item)[1:]}." for item in plan.not_determined]
    return [*loose, *_unchecked(plan), *_to_add(plan, unit)]


def _unchecked(plan):
    if not plan.unchecked.size:
        return []
    names, x = plan.traverse[plan.unchecked], plan.reading_x[plan.unchecked]
    listed = "; ".join(
        f"{name!r} at {', '.join(f'{place:g}' for place in x[names == name])} mm"
        for name in dict.fromkeys(names)
    )
    return [
        f"Nothing checks {names.size} of the readings, a blunder there would go unseen: {listed}."
    ]


def _to_add(plan, unit):
    asked = [each for each in plan.results if each.wanted is not None]
    if not asked:
        return []
    worst = max(asked, key=lambda each: each.worst_after / each.wanted)
    state = (
        f"u = {worst.shown(worst.worst_after, unit)} for the {worst.name}, "
        f"wanted {worst.shown(worst.wanted, unit)}"
    )
    if not plan.additions:
        end = "reached without a further reading" if plan.reached else f"not reached, {_why(plan)}"
        return [f"What is wanted is {end}: {state}."]
    end = "reached" if plan.reached else f"not reached, {_why(plan)}"
    count = len(plan.additions)
    more = f"{count} further readings" if count > 1 else "one further reading"
    listed = "; ".join(f"{place}. {each}" for place, each in enumerate(plan.additions, 1))
    return [f"With {more} what is wanted is {end} ({state}): {listed}."]


def _why(plan):
    """Say what stands in the way of what is wanted."""
    if plan.floor <= 1:
        return "allow more readings"
    return (
        f"for repeating such readings without end would leave {plan.floor:.2f} times what is "
        "wanted; take a better instrument or another kind of reading"
    )


def _results(plan, unit):
    def shown(each, value):
        if value is None or each.question.unit == "mm/m":
            return value
        return from_millimetres(value, unit)

    return {
        "result": [each.kind for each in plan.results],
        "faces": [", ".join(each.question.faces) for each in plan.results],
        "u": [shown(each, each.worst) for each in plan.results],
        "u after": [shown(each, each.worst_after) for each in plan.results],
        "wanted": [shown(each, each.wanted) for each in plan.results],
        "unit": [
            unit_sign(unit) if each.question.unit == "mm" else "mm/m" for each in plan.results
        ],
    }


def _additions(plan, unit):
    return {
        "traverse": [each.traverse for each in plan.additions],
        "face": [each.face for each in plan.additions],
        "x [mm]": [each.x for each in plan.additions],
        "repeat": [each.repeat for each in plan.additions],
        "u / wanted": [each.worst for each in plan.additions],
        "least sure then": [each.limits for each in plan.additions],
    }


def _readings(plan, unit):
    slope = plan.measures == "slope"
    return {
        "traverse": plan.traverse,
        "face": plan.reading_face,
        "x [mm]": plan.reading_x,
        "line": plan.line,
        "redundancy": plan.redundancy,
        "findable error": np.where(slope, plan.findable, from_millimetres(plan.findable, unit)),
        "unit": np.where(slope, "mm/m", unit_sign(unit)),
    }


#: The tables of a plan, by name.
TABLES = {"results": _results, "additions": _additions, "readings": _readings}
