"""The plan of a decision on the screen, drawn as on the job sheet, and the sentence for it."""

from metrolib.rebuild.wording import place
from metrolib.show.pages import template
from metrolib.show.sheet_plan import screen_plan
from metrolib.units import show_length


def plan_drawing(plan, unit):
    """Return a plan from above as an SVG text, labelled for those who do not see it.

    It takes a few milliseconds, where a picture in pixels takes a third of a second.

    Parameters
    ----------
    plan : RemovalPlan
    unit : str
        Display unit, ``"um"`` or ``"thou"``.
    """
    draw = template("sheet_plan.html").module.plan
    return str(draw(screen_plan(plan, unit), "screen", plan_sentence(plan, unit)))


def plan_sentence(plan, unit):
    """Say what the drawing shows."""
    parts = [
        f"{part.face}: from {show_length(part.least, unit)} to {show_length(part.most, unit)}, "
        f"most at {place(plan, part.most_station)}"
        for part in plan.per_face
    ]
    return f"To take off, seen from above. {'; '.join(parts)}."
