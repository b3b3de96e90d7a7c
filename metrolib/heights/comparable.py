"""What rounds are adjusted, and whether they can be compared at all."""

from collections.abc import Mapping

from metrolib import checks
from metrolib.errors import InputError
from metrolib.heights.states import chosen_traverses


def rounds_until(surveys, until):
    """Return the rounds up to and with `until`."""
    if not isinstance(surveys, Mapping):
        raise checks.wrong(
            "surveys",
            "surveys by the name of each round are needed",
            type(surveys).__name__,
            "read_rounds gives them",
        )
    if until is not None:
        checks.choice("until", until, surveys)
        names = list(surveys)
        surveys = {name: surveys[name] for name in names[: names.index(until) + 1]}
    if len(surveys) < 2:
        raise checks.wrong(
            "surveys", "two rounds at least are needed", len(surveys), "use adjust for one survey"
        )
    return surveys


def check_machines(surveys):
    """Refuse rounds of another machine, or with a face described otherwise."""
    (start, first), *others = surveys.items()
    for name, survey in others:
        if survey.machine.name != first.machine.name:
            raise InputError(
                f"round {name!r}: it is of the machine {survey.machine.name!r}, round {start!r} of "
                f"{first.machine.name!r}; compare rounds of one machine"
            )
        for face in survey.machine.faces.values():
            checks.choice(f"round {name!r}: face", face.name, first.machine.faces)
            known = first.machine.faces[face.name]
            for key in ("y", "width", "x_from", "x_to", "normal", "nominal_height"):
                if getattr(face, key) != getattr(known, key):
                    raise InputError(
                        f"round {name!r}: {key} of {face.name!r} is {getattr(face, key):g}, in "
                        f"round {start!r} it is {getattr(known, key):g}; describe the machine "
                        "alike, whatever was cut"
                    )


def faces_cut(first, cut):
    """Return the faces that the work cuts."""
    if cut is None:
        decision = first.decision
        cut = [name for name in decision.faces if name not in decision.untouchable]
    if isinstance(cut, str):
        raise checks.wrong("cut", "a list of faces is needed", repr(cut), "put it in brackets")
    for name in cut:
        checks.choice("cut", name, first.machine.faces)
    if not cut:
        raise checks.wrong(
            "cut", "no face is named that the work cuts", "none", "give cut=[...] or a decision"
        )
    return set(cut)


def check_reset(reset, surveys):
    """Refuse a name that is no instrument or straightedge of any round."""
    if isinstance(reset, str):
        raise checks.wrong("reset", "a list of names is needed", repr(reset), "put it in brackets")
    known = {
        name: None
        for survey in surveys.values()
        for name in (*survey.instruments, *survey.straightedges)
    }
    for name in reset:
        checks.choice("reset", name, known)


def traverses_of(surveys, states):
    """Return the traverses of each round to adjust, all taken in one state of the machine."""
    present = {name: _states(survey) for name, survey in surveys.items()}
    first = {}
    for name, shown in present.items():
        for state in shown:
            first.setdefault(state, name)
    states = [states] if isinstance(states, str) else states
    if states is None and len(first) > 1:
        listed = ", ".join(f"{state!r} in round {name!r}" for state, name in first.items())
        raise InputError(
            "states: the rounds were measured in different states of the machine, which may be as "
            f"many shapes, got {listed}; measure all in one, or name the states to say that they "
            "are one shape"
        )
    for state in states or ():
        checks.choice("states", state, first)
    found = {}
    for name, survey in surveys.items():
        own = None if states is None else [each for each in states if each in present[name]]
        found[name] = chosen_traverses(survey, survey.readings, own)
        if not found[name]:
            raise InputError(f"round {name!r}: there is no reading to adjust, got none; fill it in")
    return found


def _states(survey):
    """Return the states of the machine in which a survey was measured."""
    used = dict.fromkeys(survey.readings.traverse)
    return list(dict.fromkeys(survey.traverses[name].state for name in used))


def check_common(systems, order, cut, names):
    """Refuse a later round that no untouched face ties to those before it."""
    seen = set()
    for name, system in zip(names, systems, strict=True):
        here = {order[i] for i in system.stations.face} - cut
        if not here or (seen and not here & seen):
            raise InputError(
                f"round {name!r}: it shares no untouched face with the rounds before it, got "
                f"{sorted(here) or 'none'}; measure the datum in every round, or nothing tells how "
                "far down the others went"
            )
        seen |= here
