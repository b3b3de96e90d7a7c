"""Gauges: what watches a face while it is cut, and which of a survey's traverses can."""

from collections.abc import Mapping
from dataclasses import dataclass

from metrolib import checks
from metrolib.rebuild.removal.plan import RemovalPlan
from metrolib.survey.instruments import Instrument
from metrolib.survey.readings import Traverse

#: Reading kinds that can watch a face, the best first: a size across needs no setting to zero.
WATCHING = ("micrometer", "carriage", "gauge")


@dataclass(frozen=True)
class Gauge:
    """What watches a face while it is cut.

    Attributes
    ----------
    face : str
        The face that is cut.
    traverse : Traverse
        How it reads: of the kind ``"micrometer"`` (over an opposite face), ``"carriage"`` (an
        indicator on a carriage that rides another face) or ``"gauge"`` (resting on two others);
        its sign is -1 where the reading falls when the metal is higher.
    instrument : Instrument
        Its resolution is the division that a stop reading is rounded to.
    zero_at : float or None
        Where an indicator is set to zero, on the face as it stands before the work [mm]; None is
        the station that loses least. A micrometer needs none.

    Examples
    --------
    A micrometer over a ledge, read to 0.01 mm, without a survey folder:

    >>> from metrolib import Face, Gauge, Method, given_heights, plan_removal, stages
    >>> from metrolib.survey.instruments import Instrument
    >>> from metrolib.survey.readings import Traverse
    >>> micrometer = Instrument("micrometer", "mm", resolution=0.01, repeatability=0.002)
    >>> over = {"face": "flat", "opposite_face": "ledge"}
    >>> over = Traverse("over the ledge", "micrometer", "micrometer", settings=over)
    >>> gauge = Gauge("flat", over, micrometer)
    >>> shape = {"y": 0, "width": 30, "x_from": 0, "x_to": 500}
    >>> faces = [Face("flat", nominal_height=25, **shape), Face("ledge", normal=180, **shape)]
    >>> x = [0, 250, 500]
    >>> heights = given_heights(faces, {"flat": (x, [25, 24.95, 25]), "ledge": (x, [0, 0.004, 0])})
    >>> plan = plan_removal(heights, faces=["flat"], datum=["ledge"])
    >>> work = stages(plan, [Method("scraper", 0.0, 0.005, 0.3)], gauges=[gauge])
    >>> work["scraper"].readings["flat"].written()
    ['24.95 mm', '24.96 mm', '24.95 mm']
    """

    face: str
    traverse: Traverse
    instrument: Instrument
    zero_at: float | None = None

    @property
    def absolute(self):
        """Whether it reads a size, and not a difference from where it was set to zero."""
        return self.traverse.kind == "micrometer"

    @property
    def division(self):
        """Smallest step that is read [mm]."""
        return self.instrument.factor * self.instrument.resolution

    @property
    def rests_on(self):
        """The faces that its reading is taken from, a set of names."""
        keys = ("opposite_face", "riding", "resting_on")
        return {name for key in keys for name in _names(self.traverse.settings.get(key))}


def gauges_of(survey, plan, *, traverses=None, zero_at=None):
    """Return the gauges by which the faces of a plan can be watched, from the survey's traverses.

    Parameters
    ----------
    survey : Survey
    plan : RemovalPlan
    traverses : sequence of str, optional
        Names of the traverses to be used. Without it, for each face that is cut, the first that
        takes its reading from faces outside the plan: a micrometer before an indicator on a
        carriage, and that before a gauge resting on two faces. A face that has none is left out.
    zero_at : dict of str to float, optional
        By face, where an indicator is set to zero [mm].

    Returns
    -------
    tuple of Gauge

    Raises
    ------
    InputError
        If a traverse is unknown or of another kind, or something names no face of the plan.
    """
    checks.kind("plan", plan, RemovalPlan, "it comes from plan_removal")
    zero_at = {} if zero_at is None else zero_at
    if not isinstance(zero_at, Mapping):
        raise checks.wrong(
            "zero_at", "places by the name of each face are needed", zero_at, "give a dict"
        )
    if isinstance(traverses, str):
        raise checks.wrong(
            "traverses", "a list of names is needed", repr(traverses), "put it in brackets"
        )
    for name in zero_at:
        checks.choice("zero_at", name, plan.faces)
    found = []
    for name in survey.traverses if traverses is None else traverses:
        checks.choice("traverses", name, survey.traverses)
        traverse = survey.traverses[name]
        face = traverse.settings.get("face")
        fits = traverse.kind in WATCHING and face in plan.faces
        if traverses is not None and not fits:
            raise checks.wrong(
                "traverses",
                "a micrometer, carriage or gauge over a face of the plan is needed",
                f"{name!r}, {traverse.kind} on {face!r}",
                "name another, or leave traverses out",
            )
        if fits:
            instrument = survey.instruments[traverse.instrument]
            found.append(Gauge(face, traverse, instrument, zero_at.get(face)))
    if traverses is not None:
        return tuple(found)
    best = {}
    for one in sorted(found, key=lambda one: WATCHING.index(one.traverse.kind)):
        if not one.rests_on & {*plan.faces}:
            best.setdefault(one.face, one)
    return tuple(best[name] for name in plan.faces if name in best)


def _names(item):
    """Yield the names in a setting: one face, or faces and vees in a row."""
    if isinstance(item, str):
        yield item
    else:
        for part in item or ():
            yield from _names(part)
