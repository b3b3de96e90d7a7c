"""Each fault of traverses and decision: its line, what is wrong with the value, and what to do."""

import pytest

#: What is replaced, by what, a part of the line that is at fault, what is wrong, what to do.
FAULTS = {
    "kind": (
        '"level along"',
        '"levle along"',
        "levle",
        "unknown kind 'levle along'",
        "'level along'?",
    ),
    "own kind without a name": ('"level along"', '"own: "', "own:", "has no name", "own: NAME"),
    "instrument": (
        'instrument = "block level"\nface = "front flat"\nfoot',
        'instrument = "blok level"\nface = "front flat"\nfoot',
        "blok level",
        "traverse 'level on front': unknown instrument 'blok level'",
        "did you mean 'block level'?",
    ),
    "missing instrument": (
        'kind = "micrometer"\ninstrument = "micrometer"\n',
        'kind = "micrometer"\n',
        "[traverses.thickness]",
        "instrument is missing",
        "add instrument",
    ),
    "foot spacing missing": (
        "foot_spacing = 200\n",
        "",
        '[traverses."level on front"]',
        "foot_spacing is missing",
        "add foot_spacing",
    ),
    "key of another kind": (
        "foot_spacing = 200\n",
        'foot_spacing = 200\nopposite_face = "ledge"\n',
        'opposite_face = "ledge"',
        "unknown key 'opposite_face'",
        "foot_spacing",
    ),
    "face of a traverse": (
        'opposite_face = "ledge"',
        'opposite_face = "legde"',
        "legde",
        "traverse 'thickness': unknown face 'legde'",
        "did you mean 'ledge'?",
    ),
    "vee of three": (
        'other_face = "rear flat"',
        'other_face = ["rear flat", "front flat", "ledge"]',
        "other_face",
        "other_face names 3 faces",
        "name two",
    ),
    "vee of a face and itself": (
        'other_face = "rear flat"',
        'other_face = ["rear flat", "rear flat"]',
        "other_face",
        "names 'rear flat' twice",
        "name it once",
    ),
    "turned": (
        "foot_spacing = 200",
        'foot_spacing = 200\nturned = "no"',
        "turned",
        "'no'",
        "false",
    ),
    "state": (
        "foot_spacing = 200",
        'foot_spacing = 200\nstate = "loose"',
        "state",
        "'loose'",
        "'free'",
    ),
    "sign": ("foot_spacing = 200", "foot_spacing = 200\nsign = 2", "sign", "sign is 2", "else -1"),
    "drift": (
        "foot_spacing = 200",
        "foot_spacing = 200\ndrift_uncertainty = -1",
        "drift_unc",
        "drift_uncertainty is -1",
        "at least 0",
    ),
    "line": (
        "foot_spacing = 200",
        "foot_spacing = 200\nline = { from = [0, 0], too = [1000, 0] }",
        "line =",
        "to is missing",
        "add to",
    ),
    "line of no length": (
        "foot_spacing = 200",
        "foot_spacing = 200\nline = { from = [0, 0], to = [0, 0] }",
        "line =",
        "ends where it begins",
        "two places",
    ),
    "slope instrument for a length": (
        'instrument = "micrometer"\nface',
        'instrument = "block level"  # here\nface',
        "# here",
        "'micrometer' needs a length, the instrument 'block level' shows a slope",
        "name another instrument",
    ),
    "length instrument for a slope": (
        'instrument = "block level"\nface = "front flat"\nother',
        'instrument = "dial indicator"\nface = "front flat"\nother',
        'instrument = "dial',
        "'level across' needs a slope, the instrument 'dial indicator' shows a length",
        "name another instrument",
    ),
    "micrometer across one side": (
        'normal = "down"',
        'normal = "plus y"',
        "opposite_face",
        r"'front flat' (normal 0 deg) and 'ledge' (90 deg) are not",
        "correct the face or its normal",
    ),
    "bridge of no width": ("y = 150.0", "y = 0", "other_face", "both lie at y = 0", "distance"),
    "foot spacing against stations": (
        "foot_spacing = 200",
        "foot_spacing = 150",
        "foot_spacing",
        "does not match the stations: 4 of 4 steps end where no other begins, e.g. from x = 0"
        " to 150, the next station is 200",
        "distance between the feet",
    ),
    "decision, face": (
        'faces = ["front flat", "rear flat"]',
        'faces = ["front flat", "rare flat"]',
        "rare flat",
        "decision: faces names the unknown face 'rare flat'",
        "did you mean 'rear flat'?",
    ),
    "decision, no list": ('["ledge"]', '"ledge"', "datum", "a list is needed", '["face name"]'),
    "decision, band": (
        "band = 0.0 ",
        "band = -0.1 ",
        "-0.1",
        "decision: band is -0.1",
        "at least 0",
    ),
    "decision, key": ("band = 0.0 ", "bant = 0.1 ", "bant", "unknown key 'bant'", "'band'?"),
    "confidence 95": ("band = 0.0 ", "confidence = 95\n#", "95", "95, outside 0 to 1", "0.95"),
    "confidence below 0": ("band = 0.0 ", "confidence = -0.1\n#", "-0.1", "-0.1, outside", "none"),
    "confidence 1": ("band = 0.0 ", "confidence = 1.0\n#", "1.0", "is 1, outside", "0.95"),
    "together": ("band = 0.0 ", 'together = "planar"\n#', "planar", "'planar'", "'coplanar'?"),
    "minimise": ("band = 0.0 ", 'minimise = "time"\n#', "minimise", "'time'", "'deepest cut'"),
    "tilt": ("band = 0.0 ", "tilt_along = -1\n#", "tilt", "tilt_along is -1", "at least 0"),
    "greatest cut": (
        "band = 0.0 ",
        'greatest_cut = { "front flat" = -1 }\n#',
        "greatest_cut",
        "front flat is -1",
        "at least 0",
    ),
    "greatest cut, face": (
        "band = 0.0 ",
        'greatest_cut = { "frontflat" = 1 }\n#',
        "greatest_cut",
        "unknown face 'frontflat'",
        "did you mean 'front flat'?",
    ),
    "option": (
        "band = 0.02",
        "band = -0.02",
        "band = -0.02",
        "option 'dress the high spots': band is -0.02",
        "at least 0",
    ),
}


@pytest.mark.parametrize("name", FAULTS)
def test_fault(expect_fault, name):
    expect_fault(*FAULTS[name])
