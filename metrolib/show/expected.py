"""Pictures of a planned survey: how sure it will make the shape of each face."""

from metrolib.errors import InputError
from metrolib.show.style import (
    INK,
    MARKS,
    RUST,
    STEEL,
    dress,
    height_label,
    label_of,
    legend_below,
    shown,
)

_INKS = (STEEL, RUST, INK)


def draw_survey_plan(plan, ax, unit):
    """Draw the standard uncertainty of each face's deviation along the ways.

    Open marks on a dashed line stand for the survey as intended, full ones for it with the
    readings added; a dotted line is what is wanted.
    """
    found = [each for each in plan.results if each.kind in ("straightness", "flatness")]
    if not found:
        raise InputError(
            "result: no shape of a face is determined, got none to draw; "
            "plan.not_determined says which readings would tie it"
        )
    for i, each in enumerate(found):
        ink, mark, name = _INKS[i % len(_INKS)], MARKS[i % len(MARKS)], each.question.faces[0]
        line = "" if each.kind == "flatness" else "--"
        ax.plot(
            each.x,
            shown(each.u, unit),
            f"{mark}{line}",
            color=ink,
            mfc="none",
            lw=1,
            label=label_of(f"{name}, as intended"),
        )
        if plan.additions:
            ax.plot(
                each.x,
                shown(each.u_after, unit),
                f"{mark}{line[:1]}",
                color=ink,
                lw=1.4,
                label=label_of(f"{name}, {len(plan.additions)} readings more"),
            )
    for limit in sorted({each.wanted for each in found} - {None}):
        ax.axhline(shown(limit, unit), color=INK, ls=":", lw=1.2)
        ax.annotate(
            "wanted",
            (0, shown(limit, unit)),
            xycoords=("axes fraction", "data"),
            xytext=(3, 3),
            textcoords="offset points",
            fontsize=8,
        )
    ax.set_ylim(0, None)
    dress(
        ax,
        y=height_label(unit, "standard uncertainty u"),
        title="How sure the height of each station above its line of best fit will be",
    )
    legend_below(ax)
    return ax
