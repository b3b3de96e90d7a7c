"""`plot`: one public function that draws every kind of result."""

from metrolib import checks
from metrolib.show.drawers import DRAWERS, OF_ONE_FACE, function_of, kind_of
from metrolib.units import DISPLAYS


def plot(result, ax=None, *, face=None, datum=(), unit="um"):
    """Draw a result.

    Parameters
    ----------
    result : Heights, Straightness, RemovalPlan or another result that has a picture
    ax : matplotlib.axes.Axes, optional
        Where to draw; a new figure when not given.
    face : str, optional
        Of a removal plan, draw this face's profile instead of the plan view; other results that
        hold several faces take it likewise.
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
        If there is no picture of this kind of result (the error lists those that there are), the
        unit is unknown, or the face or a datum is none of the result's.

    Examples
    --------
    >>> from metrolib import straightness
    >>> result = straightness([0, 500, 1000], [0.0, -0.02, 0.0])
    >>> plot(result).get_ylabel()
    'deviation [µm]'
    """
    checks.choice("unit", unit, DISPLAYS)
    kind = kind_of(result)
    _check_face(result, kind, face)
    _check_datum(result, kind, datum)
    ax = _new_axes(height_of(result, face)) if ax is None else ax
    if face is not None:
        return function_of(OF_ONE_FACE[kind])(result, ax, face, unit)
    draw = function_of(DRAWERS[kind][0])
    return draw(result, ax, unit, datum) if kind == "Heights" else draw(result, ax, unit)


def _check_face(result, kind, face):
    """Refuse a face that this result does not have, before a figure is made."""
    if face is None:
        return
    if kind not in OF_ONE_FACE:
        raise checks.wrong(
            "face", f"there is no picture of one face of {kind}", face, "leave it out"
        )
    plan = getattr(result, "plan", result)
    checks.choice("face", face, dict.fromkeys(plan.face.tolist()))


def _check_datum(result, kind, datum):
    """Refuse a datum that the heights do not have, before a figure is made."""
    if isinstance(datum, str):
        raise checks.wrong("datum", "a list of faces is needed", repr(datum), "put it in brackets")
    if datum and kind != "Heights":
        raise checks.wrong("datum", "only heights are drawn against one", datum, "leave it out")
    for name in datum:
        checks.choice("datum", name, dict.fromkeys(result.face.tolist()))


def height_of(result, face=None):
    """Return how high a picture of this result should be, at some 8 to 9 wide [inch]."""
    height = DRAWERS[kind_of(result)][1]
    if face is not None:
        return 3.4
    return function_of(height)(result) if isinstance(height, str) else height


def _new_axes(height):
    """Make a figure as notebooks and scripts expect it; callbacks pass an axes of their own."""
    from matplotlib import pyplot

    return pyplot.subplots(figsize=(8.0, height), layout="constrained")[1]
