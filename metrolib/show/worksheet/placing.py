"""Placing: in words, where an instrument goes for a reading and which way round it lies."""

from metrolib.survey.readings import OWN


def placing(survey, traverse, face, x, *, repeat=1, closing=False):
    """Return where the instrument goes, in the words of the trade.

    Parameters
    ----------
    survey : Survey
    traverse : Traverse
    face : str
    x : float
        [mm]
    repeat : int
    closing : bool
        Whether it is the return to the first station.
    """
    words = _OWN if traverse.kind.startswith(OWN) else _WORDS[traverse.kind]
    said = words(survey, traverse, face, x)
    if closing:
        return f"Back at the first station: {said}"
    return said if repeat == 1 else f"{said}, reading no. {repeat}"


def booking(traverse):
    """Return when a reading of a traverse counts as positive."""
    rises = traverse.sign > 0
    if traverse.kind == "level along":
        end = "high" if rises else "low"
        return f"positive when the bubble runs toward {end} x, however the level lies"
    if traverse.kind == "level across":
        side = "+y" if rises else "-y"
        return f"positive when the bubble runs toward {side}, however the level lies"
    return f"a {'larger' if rises else 'smaller'} number where there is more metal"


def _level_along(survey, traverse, face, x):
    foot = traverse.settings["foot_spacing"]
    return (
        f"Level on {_seat(traverse, face)}, feet at {x:g} and {x + foot:g} mm"
        f"{_line(traverse)}, {_way_round(traverse)}"
    )


def _level_across(survey, traverse, face, x):
    one, other = (_names(traverse.settings[key]) for key in ("face", "other_face"))
    turned = "bridge and level turned end for end together"
    way = turned if traverse.settings.get("turned") else "bridge and level the first way round"
    return f"Level bridged from {one} to {other} at {x:g} mm, {way}"


def _straightedge(survey, traverse, face, x):
    settings = traverse.settings
    sole = "sole up" if settings.get("sole_up") else "sole down"
    turned = ", turned end for end" if settings.get("end_for_end") else ""
    start = settings.get("start", 0.0)
    tool = "Feelers under" if traverse.kind == "feeler gap" else "Indicator along"
    return (
        f"{tool} {settings['straightedge']} ({sole}{turned}{_supports(settings)}) on"
        f" {_the(face)} at {x:g} mm, {x - start:g} mm from its zero end"
    )


def _supports(settings):
    if "supports_at" not in settings:
        return ""
    one, other = settings["supports_at"]
    return f", on supports {one:g} and {other:g} mm along it"


def _carriage(survey, traverse, face, x):
    one, other = (x + foot for foot in traverse.settings["feet"])
    return (
        f"Carriage feet on {_names(traverse.settings['riding'])} at {one:g} and {other:g} mm,"
        f" stylus on {_the(face)} at {x:g} mm"
    )


def _micrometer(survey, traverse, face, x):
    opposite = _the(traverse.settings["opposite_face"])
    return f"Micrometer over {_the(face)} and {opposite} at {x:g} mm"


def _gauge(survey, traverse, face, x):
    rests = " and ".join(_names(rest) for rest in traverse.settings["resting_on"])
    return f"Gauge resting on {rests}, stylus on {_the(face)} at {x:g} mm"


def _wire(survey, traverse, face, x):
    return f"Microscope on the wire over {_the(face)} at {x:g} mm"


def _comparison(survey, traverse, face, x):
    return f"Stylus on {_the(face)} at {x:g} mm"


def _own(survey, traverse, face, x):
    name = traverse.kind.removeprefix(OWN).strip()
    where = f" on {_the(face)}" if face else ""
    return f"{name[:1].upper()}{name[1:]}{where} at {x:g} mm"


_OWN = _own

_WORDS = {
    "level along": _level_along,
    "level across": _level_across,
    "straightedge": _straightedge,
    "feeler gap": _straightedge,
    "carriage": _carriage,
    "micrometer": _micrometer,
    "gauge": _gauge,
    "wire": _wire,
    "comparison": _comparison,
}


def _the(face):
    return f"the {face}"


def _names(names):
    """Return a face, or the two flanks of a vee, in words."""
    if isinstance(names, str):
        return _the(names)
    return f"the vee of {' and '.join(names)}"


def _seat(traverse, face):
    own = traverse.settings.get("face")
    return _names(own) if isinstance(own, tuple) else _the(face)


def _line(traverse):
    line = traverse.settings.get("line")
    if line is None:
        return ""
    (x, y), (to_x, to_y) = line["from"], line["to"]
    return f" along the line from ({x:g}, {y:g}) to ({to_x:g}, {to_y:g})"


def _way_round(traverse):
    return "turned end for end" if traverse.settings.get("turned") else "the first way round"
