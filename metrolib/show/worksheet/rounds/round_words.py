"""What is told at the bench during a round of work, in sentences."""

from metrolib.rebuild.rounds.progress_words import share
from metrolib.rebuild.rounds.standing_verdicts import GO_ON, NOT_KNOWN, OVERCUT, SLOW_DOWN, STOP
from metrolib.survey.rounds import START
from metrolib.units import show_length

#: What to do at a place, by verdict.
_DO = {
    GO_ON: "go on",
    SLOW_DOWN: "slow down: light passes, measure after each",
    STOP: "stop: nothing more may come off",
    OVERCUT: "overcut: stop, and see what it costs before anything else is cut",
}


def stop_words(method, stop):
    """Say at what reading to stop.

    Parameters
    ----------
    method : Method or None
        The present one.
    stop : str
        What the instrument then reads, with its unit.

    Examples
    --------
    >>> stop_words(None, "26.07 mm")
    'Stop here at 26.07 mm.'
    """
    by = "" if method is None else f" {method.name!r}"
    return f"Stop{by} here at {stop}."


def left_words(left, last, unit):
    """Say what was left at a place; empty where that is not known.

    Parameters
    ----------
    left : float
        What was left to come off [mm]; NaN where the last round did not measure it.
    last : str
        Name of the survey that says so.
    unit : str
        Display unit.

    Examples
    --------
    >>> left_words(0.0123, "2", "um")
    'Left after round 2: 12.3 µm.'
    """
    if left != left:
        return ""
    when = "To come off at the start" if last == START else f"Left after round {last}"
    below = f"{show_length(-left, unit)} below the target" if left < 0 else None
    return f"{when}: {below or show_length(left, unit)}."


def reach_words(reach, method, unit):
    """Say how near the target a place is by one reading, as a warning where it is near."""
    at = f"At {reach.x:g} mm on {reach.face!r}"
    left, sure = show_length(abs(reach.left), unit), show_length(2 * reach.u, unit)
    if reach.left < 0:
        words = f"{at} the metal lies {left} below the target (U = {sure}, k = 2)"
    else:
        words = f"{at} {left} are left (U = {sure}, k = 2)"
    if not reach.near:
        return words + "."
    words = f"Careful, the target is within reach. {words}. "
    if reach.left <= 0:
        return words + (
            f"It is below the target with probability {share(reach.overcut)}: take "
            "nothing more off here."
        )
    if reach.next_pass is None:
        return words + (
            f"It is below the target already with probability {share(reach.overcut)}: "
            "light passes, measure after each."
        )
    return words + (
        f"One more pass of {method.name!r} would end below the target with probability "
        f"{share(reach.next_pass)}: "
        + ("take no full pass here." if reach.next_pass > 0.5 else "measure after each pass.")
    )


def standing_words(now, station, unit):
    """Say what is left at a station by all readings of the round so far.

    Parameters
    ----------
    now : Progress
    station : int
    unit : str
        Display unit.
    """
    verdict = now.verdict[station]
    where = f"At {now.plan.x[station]:g} mm on {str(now.plan.face[station])!r}"
    if verdict == NOT_KNOWN or verdict not in _DO:
        return f"{where} it is not known yet what is left."
    left, u = float(now.left[station]), float(now.left_u[station])
    size = f"{show_length(abs(left), unit)} {'below the target' if left < 0 else 'left'}"
    words = f"{where} by all readings {size} (U = {show_length(2 * u, unit)}): {_DO[verdict]}."
    if verdict in (GO_ON, SLOW_DOWN) and now.at_most[station] > 0:
        words += f" Aim at no more than {show_length(float(now.at_most[station]), unit)}."
    if verdict == OVERCUT:
        words += f" Probability {share(float(now.probability[station]))}."
    return words
