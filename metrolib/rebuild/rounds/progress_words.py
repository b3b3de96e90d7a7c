"""The work after a round in words and tables."""

from html import escape

import numpy as np

from metrolib.form.wording import listing
from metrolib.rebuild.rounds import standing_verdicts as verdicts
from metrolib.rebuild.wording import laid_out, place, volume
from metrolib.units import DISPLAYS, from_millimetres, show_length, unit_sign

#: How the verdicts are written in a table or a picture.
SIGNS = {
    verdicts.GO_ON: "",
    verdicts.SLOW_DOWN: "~",
    verdicts.STOP: "=",
    verdicts.OVERCUT: "!",
    verdicts.NOT_KNOWN: "?",
}


def in_words(now, unit="um"):
    """Say where the work stands, in one paragraph."""
    unit_sign(unit)
    if not now.counts.any():
        return (
            f"After round {now.names[-1]!r} no place of the plan is known: not measured, or not "
            "tied to the datum by any reading."
        )
    said = [_verdicts(now), _taken(now, unit), _most_left(now, unit), _nearest(now, unit)]
    metal = getattr(now.value, "nominal_value", now.value)
    if metal > 0 and not now.done:
        said.append(f"{volume(metal)} {'are' if metal >= 2000 else 'is'} left: {_time(now)}.")
    return " ".join(said)


def _verdicts(now):
    """Say at how many places to do what."""
    told = [str(each) for each in now.verdict[now.counts]]
    counted = [f"{word} at {told.count(word)}" for word in verdicts.VERDICTS if word in told]
    first = f"After round {now.names[-1]!r}, of {len(told)} places: {listing(counted)}."
    missing = int((now.verdict == verdicts.NOT_KNOWN).sum())
    unknown = " not known: not measured, or not tied to the datum by any reading."
    return first + (
        f" {missing} more {'is' if missing == 1 else 'are'}{unknown}" if missing else ""
    )


def _at(now, i):
    """Say where a station is."""
    return f"{place(now.plan, i)} on {str(now.plan.face[i])!r}"


def _taken(now, unit):
    """Say how much came off."""
    last = np.where(now.counts, np.nan_to_num(now.last, nan=-np.inf), -np.inf)
    most = int(last.argmax())
    if not np.isfinite(last[most]):
        return "How much came off in this round is not known."
    whole = show_length(np.nanmax(np.where(now.counts, now.taken, np.nan)), unit)
    return (
        f"Up to {show_length(last[most], unit)} came off since the round before "
        f"({_at(now, most)}), up to {whole} since the start."
    )


def _most_left(now, unit):
    """Say where most is left."""
    left = np.where(now.counts, now.left, -np.inf)
    most = int(left.argmax())
    if left[most] <= 0:
        return "Nothing is left to come off."
    sure = f", U = {show_length(2 * now.left_u[most], unit)} (k = 2)"
    sure = sure if now.left_u[most] > 0 else ""
    return f"Most is left at {_at(now, most)}: {show_length(left[most], unit)}{sure}."


def _nearest(now, unit):
    """Say where an overcut is nearest."""
    i = now.nearest
    room = now.room[i]
    side = "above" if room >= 0 else "below"
    allowed = f" by more than {show_length(now.tolerance, unit)}" if now.tolerance else ""
    return (
        f"Nearest to an overcut is {_at(now, i)}, {show_length(abs(room), unit)} {side} the "
        f"target: the probability that it lies below it{allowed} is {share(now.probability[i])}, "
        f"that any place does {share(now.anywhere)}."
    )


def share(probability):
    """Write a probability, never as an exact 0 or 1."""
    if probability < 0.005:
        return "under 0.01"
    if probability > 0.995:
        return "over 0.99"
    return f"{probability:.2f}"


def _time(now):
    """Say how long it takes."""
    if not now.finish:
        return "how long that takes is not known, for a place is not known in every round"
    known = [each for each in now.finish if each.determined]
    best = next((each for each in known if each.per == "hour"), known[0] if known else None)
    return str(best or now.finish[-1])


def station_table(now, unit="um"):
    """Return a pandas table, one station a row."""
    from pandas import DataFrame

    sign = unit_sign(unit)
    columns = {"face": now.plan.face, "x [mm]": now.plan.x, "y [mm]": now.plan.y}
    for head, value in (
        ("taken since last", now.last),
        ("u(taken since last)", now.last_u),
        ("taken since start", now.taken),
        ("u(taken since start)", now.taken_u),
        ("left", now.left),
        ("u(left)", now.left_u),
        ("aim at most at", now.at_most),
        ("a round", now.rate),
    ):
        columns[f"{head} [{sign}]"] = from_millimetres(value, unit)
    if now.hours_a_round is not None:
        columns[f"an hour [{sign}]"] = from_millimetres(now.rate / now.hours_a_round, unit)
    for k, head in enumerate(("rounds to finish", "at least", "at most")):
        columns[head] = now.rounds_left[:, k]
    return DataFrame({**columns, "P(too low)": now.probability, "verdict": now.verdict})


def grid_key(unit):
    """Say how the grid of verdicts is read."""
    return (
        f"left to come off, in {unit_sign(unit)}, with its uncertainty U (k = 2); "
        "~ slow down, = stop, ! overcut, ? not known, -- left out"
    )


def grid(now, unit="um"):
    """Return what is left as a pandas table: place along the ways down, faces across, as text."""
    digits = DISPLAYS[unit]
    left, spread = from_millimetres(now.left, unit), 2 * from_millimetres(now.left_u, unit)
    unknown = {verdicts.NOT_KNOWN: "?", verdicts.LEFT_OUT: "--"}
    cells = [
        unknown[word]
        if word in unknown
        else f"{left[i]:.{digits}f} ± {spread[i]:.{digits}f} {SIGNS[word]:1}"
        for i, word in enumerate(now.verdict)
    ]
    return laid_out(now.plan, cells)


def face_table(now, unit="um"):
    """Return a small HTML table: what is left on each face, and what to do there."""
    rows = []
    for name in now.plan.faces:
        mine = np.flatnonzero((now.plan.face == name) & now.counts)
        if not mine.size:
            continue
        most, least = mine[now.left[mine].argmax()], mine[now.left[mine].argmin()]
        told = now.verdict[mine].tolist()
        rows.append(
            (
                name,
                show_length(now.left[most], unit),
                place(now.plan, most),
                show_length(now.left[least], unit),
                place(now.plan, least),
                *(str(told.count(word)) for word in verdicts.VERDICTS),
            )
        )
    heads = ("face", "most left", "at", "least left", "at", *verdicts.VERDICTS)
    head = "".join(f"<th>{word}</th>" for word in heads)
    body = "".join(
        f"<tr>{''.join(f'<td>{escape(str(cell))}</td>' for cell in row)}</tr>" for row in rows
    )
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
