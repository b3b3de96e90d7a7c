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
    words = _own if traverse.kind.startswith(OWN) else _WORDS[traverse.kind]
    said = words(survey, traverse, face, x)
    if closing:
        return f"Back at the first station: {said}"
    return said if repeat == 1 else f"{said}, reading no. {repeat}"


def booking(survey, traverse):
    """Return when a reading of a traverse counts as positive, or as the larger one.

    Parameters
    ----------
    survey : Survey
    traverse : Traverse
    """
    say = _BOOKED.get(traverse.kind)
    if traverse.kind.startswith(OWN):
        said = "its sign as your row function for it takes it"
    elif say is not None:
        said = say(survey, traverse)
    else:
        said = f"a {_size(traverse.sign)} number where there is more metal"
    return f"{said}; {traverse.approach}" if traverse.approach else said


def _booked_along(survey, traverse):
    ends = ("the far end", "the beginning") if "line" in traverse.settings else ("high x", "low x")
    return _toward(traverse, ends[0] if traverse.sign > 0 else ends[1])


def _booked_across(survey, traverse):
    sides = [traverse.settings[key] for key in ("face", "other_face")]
    low, high = sorted(sides, key=lambda names: _middle(survey, names))
    return _toward(traverse, _names(high if traverse.sign > 0 else low))


def _booked_gap(survey, traverse):
    return f"a {_size(-traverse.sign)} number where there is more metal, as the gap itself has"


def _booked_wire(survey, traverse):
    return f"a {_size(traverse.sign)} number where the face stands further out past the wire"


_BOOKED = {
    "level along": _booked_along,
    "level across": _booked_across,
    "feeler gap": _booked_gap,
    "wire": _booked_wire,
}


def _toward(traverse, where):
    if _is_level(traverse):
        return f"positive when the bubble runs toward {where}, however the level lies"
    return f"positive when it rises toward {where}, however the instrument lies"


def _size(sign):
    return "larger" if sign > 0 else "smaller"


def _middle(survey, names):
    """Return where across the ways a face, or a vee, lies [mm]."""
    flanks = (names,) if isinstance(names, str) else names
    return sum(survey.machine.faces[name].y for name in flanks) / len(flanks)


def _is_level(traverse):
    """Tell whether there is a bubble; an autocollimator with its mirror reads slopes too."""
    return "level" in traverse.instrument.casefold()


def _what(traverse):
    name = traverse.instrument
    if "collimator" in name.casefold():  # it stands at the end; what is stepped along is its mirror
        return f"Mirror of the {name}"
    return "Level" if _is_level(traverse) else name[:1].upper() + name[1:]


def _level_along(survey, traverse, face, x):
    foot = traverse.settings["foot_spacing"]
    return (
        f"{_what(traverse)} on {_seat(traverse, face)}, feet at {x:g} and {x + foot:g} mm"
        f"{_line(traverse)}, {_way_round(traverse)}"
    )


def _level_across(survey, traverse, face, x):
    one, other = (_names(traverse.settings[key]) for key in ("face", "other_face"))
    way = (
        "turned end for end together" if traverse.settings.get("turned") else "the first way round"
    )
    what = _what(traverse)
    return f"{what} bridged from {one} to {other} at {x:g} mm, bridge and {what.lower()} {way}"


def _straightedge(survey, traverse, face, x):
    settings = traverse.settings
    edge = survey.straightedges[settings["straightedge"]]
    along = x - settings.get("start", 0.0)
    along = edge.length - along if settings.get("end_for_end") else along
    lies = "sole up" if settings.get("sole_up") else "sole down"
    lies += ", turned end for end" * bool(settings.get("end_for_end")) + _supports(settings)
    reads = "feelers under it" if traverse.kind == "feeler gap" else "indicator from it"
    to = "on" if traverse.kind == "feeler gap" else "to"
    name = edge.name[:1].upper() + edge.name[1:]
    where = f"{along:g} mm from its zero end"
    return f"{name} {lies}; {reads} {to} {_the(face)} at {x:g} mm, {where}"


def _supports(settings):
    if "supports_at" not in settings:
        return ""
    one, other = settings["supports_at"]
    return f", on supports at {one:g} and {other:g} mm from its zero end"


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
