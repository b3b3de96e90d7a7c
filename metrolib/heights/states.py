"""States: which traverses belong to one shape of the machine and are adjusted together."""

from metrolib import checks
from metrolib.errors import InputError


def chosen_traverses(survey, readings, states=None):
    """Return the traverses to adjust, those with readings, in the order of the survey.

    Parameters
    ----------
    survey : Survey
    readings : Readings
        Taken or planned.
    states : str or sequence of str, optional
        Which states of the machine; may be left out where all readings belong to one.

    Returns
    -------
    list of Traverse
        Empty where there are no readings.

    Raises
    ------
    InputError
        If the readings belong to several states and none is chosen, or a state or a traverse is
        unknown.
    """
    known = survey.traverses
    read = dict.fromkeys(readings.traverse.tolist())
    for name in read:
        checks.choice("readings: traverse", name, known)
    used = [known[name] for name in known if name in read]
    present = list(dict.fromkeys(traverse.state for traverse in used))
    if states is None:
        if len(present) > 1:
            listed = ", ".join(repr(state) for state in present)
            raise InputError(
                f"states: the readings were taken in {len(present)} states of the machine, which "
                f"may be as many shapes, got {listed}; choose one, states=[{present[0]!r}], or "
                "name several to say that they are one shape"
            )
        return used
    states = [states] if isinstance(states, str) else list(states)
    for state in states if used else []:
        checks.choice("states", state, present)
    return [traverse for traverse in used if traverse.state in states]
