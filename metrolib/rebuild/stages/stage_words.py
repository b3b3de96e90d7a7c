"""Stages in words and tables, as they go to the bench."""

from html import escape

import numpy as np

from metrolib import checks
from metrolib.form.wording import nominal, uncertainty
from metrolib.rebuild.wording import is_wide, volume, written
from metrolib.units import DISPLAYS, from_millimetres, show_length, unit_sign


def in_words(result, unit="um"):
    """Say what each stage takes, when to stop, and how long all will take."""
    said = []
    for stage in result.stages:
        if not (stage.taken > 0).any():
            leaves = stage.method.leaves
            over = f"{show_length(leaves, unit)} above" if leaves > 0 else "above"
            said.append(f"{stage.name}: nothing to do, no place is {over} the target.")
            continue
        most = int(stage.passes.argmax())
        passes = f"{stage.passes[most]} pass{'es' if stage.passes[most] > 1 else ''}"
        if stage.method.per_pass_uncertainty > 0:
            passes += f" (U = {2 * stage.passes_u[most]:.1f}, k = 2)"
        said.append(
            f"{stage.name}: {_stop(stage, unit)}; up to {passes}, "
            f"{volume(stage.volume)}, {hours(stage.hours)}."
        )
    said.append(f"In all {hours(result.value)}{_spread(result.value)}.")
    left = result.stages[-1].method.leaves
    if left > 0:
        said.append(f"{show_length(left, unit)} are left on for whatever follows.")
    return " ".join([*said, *_doubts(result, unit)])


def _doubts(result, unit):
    """Say which stops are less sure than the allowance that they should keep."""
    said = []
    for stage in result.stages:
        for face, found in stage.readings.items():
            U = 2 * float(found.u.max())
            if U > stage.method.leaves > 0:
                said.append(
                    f"On {face!r} the stop of {stage.name} is sure to U = {show_length(U, unit)} "
                    f"(k = 2) only, so {show_length(stage.method.leaves, unit)} are too little to "
                    "leave there."
                )
    return said


def _stop(stage, unit):
    """Say where a stage stops."""
    if stage.method.leaves == 0:
        return "down to the target"
    return f"stop {show_length(stage.method.leaves, unit)} above the target"


def hours(number):
    """Write hours.

    Examples
    --------
    >>> hours(3.14159)
    '3.1 h'
    """
    return f"{nominal(number):.1f} h"


def _spread(number):
    """Write the expanded uncertainty of hours, or nothing."""
    u = uncertainty(number)
    return "" if u is None else f", U = {2 * u:.1f} h (k = 2)"


def stage_table(result, unit="um"):
    """Return the stages as a pandas table, a stage a row."""
    from pandas import DataFrame

    sign = unit_sign(unit)
    rows = [
        {
            "stage": stage.name,
            f"leaves [{sign}]": from_millimetres(stage.method.leaves, unit),
            f"takes at most [{sign}]": from_millimetres(float(stage.taken.max()), unit),
            "passes at most": int(stage.passes.max()),
            "u(passes)": float(stage.passes_u.max()),
            "volume [cm³]": stage.volume / 1e3,
            "time [h]": nominal(stage.hours),
            "u(time) [h]": uncertainty(stage.hours) or 0.0,
        }
        for stage in result.stages
    ]
    return DataFrame(rows)


def bench_table(result, face, unit="um"):
    """Return what to do at each station of a face as a pandas table of texts."""
    from pandas import DataFrame

    plan, sign = result.plan, unit_sign(unit)
    checks.choice("face", face, plan.faces)
    mine = np.flatnonzero(plan.face == face)
    digits = DISPLAYS[unit]

    def write(length):
        return [f"{value:.{digits}f}" for value in from_millimetres(length, unit)]

    columns = {("", "x [mm]"): [f"{x:g}" for x in plan.x[mine]]}
    if is_wide(plan, face):
        columns["", "y [mm]"] = [f"{y:g}" for y in plan.y[mine]]
    columns["", f"take off [{sign}]"] = write(plan.depth[mine])
    for stage in result.stages:
        columns[stage.name, f"left [{sign}]"] = write(stage.left[mine])
        columns[stage.name, "passes"] = [f"{n}" for n in stage.passes[mine]]
        if face in stage.readings:
            found = stage.readings[face]
            texts = dict(zip(found.stations.tolist(), found.numbers(unit), strict=True))
            columns[stage.name, f"stop at [{found.sign(unit)}]"] = [
                texts.get(i, "") for i in mine.tolist()
            ]
    out = plan.left_out[mine]
    for head, column in columns.items():
        if head[0] or head[1].startswith("take off"):
            columns[head] = ["--" if skip else text for skip, text in zip(out, column, strict=True)]
    return DataFrame(columns)


def as_html(result):
    """Return the words and the stages as a small HTML table."""
    table = written(stage_table(result))
    table["time [h]"] = [f"{float(value):.1f}" for value in table["time [h]"]]
    table["u(time) [h]"] = [f"{float(value):.1f}" for value in table["u(time) [h]"]]
    return f"<p>{escape(in_words(result))}</p>{table.to_html(index=False, border=0)}"
