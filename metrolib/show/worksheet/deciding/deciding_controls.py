"""The controls of the deciding page: faces, datum, depths, and how the target lies."""

import ipywidgets as widgets

from metrolib.errors import InputError, MetrolibError
from metrolib.form.wording import nominal
from metrolib.show.worksheet.deciding.deciding import typed_amount
from metrolib.show.worksheet.deciding.face_limits import FaceLimits
from metrolib.show.worksheet.deciding.steppers import Stepper
from metrolib.show.worksheet.screen.look import column, field, heading, row, shown_errors
from metrolib.units import from_millimetres, unit_sign

#: What a button adds or takes, in the display unit; tilts in mm/m, the confidence in per cent.
_STEP = {"um": 5, "thou": 0.2}
_TILT_STEP, _SURE_STEP = 0.01, 1
_DIGITS = {"um": 2, "thou": 3}

_TOGETHER = [("in one plane", "coplanar"), ("parallel, each at its own height", "parallel")]
_LEAST = [("least metal", "volume"), ("least deepest cut", "deepest cut")]
_TILT = ["free", "as the datum", "within"]
_HEIGHT = ["as high as it cleans up", "by hand"]


class Controls:
    """What is set on the deciding page; each change goes into the choice and is told.

    Parameters
    ----------
    deciding : function
        Returns the `Deciding` at work.
    changed : callable
        Called after each change, with what was changed besides, as sentences.
    screen : Screen
    """

    def __init__(self, deciding, changed, screen):
        self._deciding, self._changed, self._screen = deciding, changed, screen
        self._guard, self._quiet = shown_errors(screen), False
        work = deciding()
        sign = unit_sign(work.unit)
        self._faces = self._boxes(work, "faces", "metro-face")
        self._datum = self._boxes(work, "datum", "metro-datum")
        self._together = self._choice("They end", _TOGETHER, "together", "metro-together")
        self._minimise = self._choice("Take off the", _LEAST, "minimise", "metro-minimise")
        self._clean_up = self._length("Allowance, off everywhere", sign, "clean_up")
        self._band = self._length("Tolerance above the target", sign, "band")
        self._crown = self._length("Crown, the middle over the ends", sign, "crown")
        self._sure = Stepper(
            "Confidence (empty: no guard)", "%", _SURE_STEP, self._set_sure, screen, "metro-sure"
        )
        self._tilts = {
            way: self._tilt(way, words)
            for way, words in (("tilt_along", "Tilt along"), ("tilt_across", "Tilt across"))
        }
        self._height_kind = field("Height of the target", choices=_HEIGHT, name="metro-height-kind")
        self._height_kind.observe(self._heard(self._set_height_kind), "value")
        self._height = Stepper(
            "from nominal", sign, _STEP[work.unit], self._set_height, screen, "metro-height"
        )
        between = widgets.Checkbox(description="cover what may hide between stations", indent=False)
        between.add_class("metro-between")
        between.observe(self._heard(lambda on: self._set(between_stations=on)), "value")
        self._between = between
        self._limits = FaceLimits(deciding, self._set, _STEP[work.unit], screen)
        tilts = [row(kind, amount.widget) for kind, amount in self._tilts.values()]
        self.widget = column(
            heading("How much"),
            self._clean_up.widget,
            self._band.widget,
            self._sure.widget,
            between,
            heading("How the target lies"),
            row(self._height_kind, self._height.widget),
            *tilts,
            self._crown.widget,
            row(self._together, self._minimise),
            heading("Faces that end true together"),
            row(*self._faces.values()),
            self._limits.widget,
            heading("The datum that they are held to"),
            row(*self._datum.values()),
            name="metro-controls",
        )

    def show(self):
        """Show the choice as it is now."""
        self._quiet = True
        work = self._deciding()
        choice, unit = work.choice, work.unit
        for boxes, chosen in ((self._faces, choice.faces), (self._datum, choice.datum)):
            for name, box in boxes.items():
                box.value = name in chosen
        self._limits.show(_DIGITS[unit])
        self._together.value, self._minimise.value = choice.together, choice.minimise
        self._between.value = choice.between_stations
        for stepper, value in ((self._clean_up, choice.clean_up), (self._band, choice.band)):
            stepper.show(from_millimetres(value, unit), _DIGITS[unit])
        self._crown.show(from_millimetres(choice.crown, unit), _DIGITS[unit])
        self._sure.show(None if choice.confidence is None else 100 * choice.confidence, 3)
        for way, (kind, amount) in self._tilts.items():
            tilt = getattr(choice, way)
            kind.value = "free" if tilt is None else "within" if tilt > 0 else "as the datum"
            kind.disabled = not choice.datum
            amount.hide(not tilt)
            amount.show(tilt, 4)
        height = choice.target_height
        self._height_kind.value = _HEIGHT[height is not None]
        self._height.hide(height is None)
        self._height.show(None if height is None else from_millimetres(height, unit), 2)
        self._quiet = False

    # ---- the pieces ----

    def _boxes(self, work, what, name):
        """Return a checkbox for each face that was measured."""
        found = {}
        for face in work.faces:
            box = widgets.Checkbox(description=face, indent=False)
            box.add_class(name)
            box.observe(self._heard(lambda _, what=what: self._set_faces(what)), "value")
            found[face] = box
        return found

    def _choice(self, label, choices, what, name):
        made = field(label, choices=choices, name=name)
        made.observe(self._heard(lambda value: self._set(**{what: value})), "value")
        return made

    def _length(self, label, sign, what):
        unit = self._deciding().unit
        words = label.split(" ")[0].rstrip(",").lower()

        def take(text):
            self._set(**{what: typed_amount(words, text, unit)})

        return Stepper(
            label, sign, _STEP[unit], take, self._screen, f"metro-{what.replace('_', '-')}"
        )

    def _tilt(self, way, words):
        name = f"metro-{way.replace('_', '-')}"
        kind = field(words, choices=_TILT, name=f"{name}-kind")
        kind.observe(self._heard(lambda value: self._set_tilt(way, value)), "value")

        def take(text):
            self._set(**{way: typed_amount(words.lower(), text)})

        return kind, Stepper("at most", "mm/m", _TILT_STEP, take, self._screen, name)

    def _heard(self, do):
        """Return an observer that does something unless the page itself is showing a value."""
        guarded = self._guard(do)
        return lambda change: None if self._quiet else guarded(change["new"])

    # ---- what is set ----

    def _set(self, **changes):
        self._changed(self._deciding().change(**changes))

    def _set_faces(self, what):
        boxes = self._faces if what == "faces" else self._datum
        self._set(**{what: tuple(name for name, box in boxes.items() if box.value)})

    def _set_sure(self, text):
        sure = typed_amount("confidence", text) / 100 if text.strip() else None
        if sure is not None and not 0 < sure < 1:
            raise InputError(
                f"confidence: it lies between 0 and 100 %, got {text.strip()}; type 95, say, or "
                "leave the field empty to plan without a guard"
            )
        self._set(confidence=sure)

    def _set_tilt(self, way, kind):
        self._set(**{way: {"free": None, "as the datum": 0.0, "within": _TILT_STEP}[kind]})

    def _set_height_kind(self, kind):
        plan = self._deciding().outcome
        if kind == "by hand" and not isinstance(plan, MetrolibError):
            return self._set(target_height=round(nominal(plan.value), 6))
        self._set(target_height=None)

    def _set_height(self, text):
        self._set(target_height=typed_amount("height of the target", text, self._deciding().unit))
