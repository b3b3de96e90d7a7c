"""`plot`: one public function that draws every kind of result."""

from metrolib import checks
from metrolib.form.coplanarity import Coplanarity
from metrolib.form.flatness import Flatness
from metrolib.form.parallelism import Parallelism
from metrolib.form.straightness import Straightness
from metrolib.form.twist import Twist
from metrolib.form.unworn import Unworn
from metrolib.heights.blunders import Checks
from metrolib.heights.result import Heights
from metrolib.heights.survey_plan import SurveyPlan
from metrolib.rebuild.removal import RemovalPlan
from metrolib.show import expected, maps, plan_view, profiles
from metrolib.units import DISPLAYS

_DRAWERS = {
    Straightness: profiles.draw_straightness,
    Parallelism: profiles.draw_parallelism,
    Twist: profiles.draw_twist,
    Unworn: profiles.draw_unworn,
    Flatness: maps.draw_flatness,
    Coplanarity: maps.draw_coplanarity,
    Checks: maps.draw_checks,
    RemovalPlan: plan_view.draw_plan_view,
    SurveyPlan: expected.draw_survey_plan,
}


def plot(result, ax=None, *, face=None, datum=(), unit="um"):
    """Draw a result.

    Parameters
    ----------
    result : Heights, Checks, Straightness, Flatness, Coplanarity, Parallelism, Twist, Unworn or \
RemovalPlan
    ax : matplotlib.axes.Axes, optional
        Where to draw; a new figure when not given.
    face : str, optional
        Of a removal plan, draw this face's profile instead of the plan view.
    datum : sequence of str
        Of heights, the faces to draw them against; without it, against the rigid motion that fits
        all faces best.
    unit : {"um", "thou"}
        Display unit of heights and depths.

    Returns
    -------
    matplotlib.axes.Axes

    Raises
    ------
    InputError
        If there is no picture of this kind of result, the unit is unknown, or the face or a datum
        is none of the result's.

    Examples
    --------
    >>> from metrolib import straightness
    >>> result = straightness([0, 500, 1000], [0.0, -0.02, 0.0])
    >>> plot(result).get_ylabel()
    'deviation [µm]'
    """
    checks.choice("unit", unit, DISPLAYS)
    if type(result) not in {Heights, *_DRAWERS}:
        known = ", ".join(["Heights", *(kind.__name__ for kind in _DRAWERS)])
        raise checks.wrong(
            "result",
            "there is no picture of this kind",
            type(result).__name__,
            f"give one of {known}",
        )
    _check_choices(result, face, datum)
    ax = _new_axes(height_of(result, face)) if ax is None else ax
    if isinstance(result, Heights):
        return profiles.draw_heights(result, ax, unit, datum)
    if face is not None:
        return profiles.draw_face_removal(result, ax, face, unit)
    return _DRAWERS[type(result)](result, ax, unit)


def _check_choices(result, face, datum):
    """Refuse a face or a datum that this result does not have, before a figure is made."""
    if face is not None:
        if not isinstance(result, RemovalPlan):
            raise checks.wrong(
                "face", "only a removal plan has faces to choose", face, "leave it out"
            )
        checks.choice("face", face, dict.fromkeys(result.face.tolist()))
    if isinstance(datum, str):
        raise checks.wrong("datum", "a list of faces is needed", repr(datum), "put it in brackets")
    if datum and not isinstance(result, Heights):
        raise checks.wrong("datum", "only heights are drawn against one", datum, "leave it out")
    for name in datum:
        checks.choice("datum", name, dict.fromkeys(result.face.tolist()))


def height_of(result, face=None):
    """Return how high a picture of this result should be, at some 8 to 9 wide [inch]."""
    if isinstance(result, RemovalPlan) and face is None:
        return plan_view.room_needed(result)
    return 4.6 if isinstance(result, Flatness) else 3.4


def _new_axes(height):
    """Make a figure as notebooks and scripts expect it; callbacks pass an axes of their own."""
    from matplotlib import pyplot

    return pyplot.subplots(figsize=(8.0, height), layout="constrained")[1]
