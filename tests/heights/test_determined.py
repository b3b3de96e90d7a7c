"""What is not determined: said once, in words, with the reading that would tie it."""

import numpy as np
import pytest

from metrolib.heights.adjust import adjust
from metrolib.heights.covariance import Given
from metrolib.heights.ties import Candidate, pieces_of, tied, would_tie
from metrolib.survey.instruments import Instrument
from tests.heights.build import INDICATOR, LEVEL, Leg, flat, survey

X = np.arange(0.0, 1401.0, 200.0)
REAR = X[:-1]
MICROMETER = Instrument("micrometer", "mm", 0.0, 0.002)


def along(face, x=REAR, name=None, spacing=200.0, instrument=LEVEL, **keys):
    settings = {"foot_spacing": spacing, **keys.pop("settings", {})}
    return Leg(
        name or f"on {face}",
        "level along",
        instrument,
        x,
        0.0 * np.asarray(x),
        settings,
        face,
        **keys,
    )


def across(low, high, x=X, name="across", **settings):
    settings = {"face": low, "other_face": high, **settings}
    return Leg(name, "level across", LEVEL, x, 0.0 * np.asarray(x), settings)


def said(faces, legs):
    return [(item.what, item.remedy) for item in adjust(survey(faces, legs)).not_determined]


FRONT, BACK = flat("front flat"), flat("rear flat", y=250.0)


def test_a_single_face_has_nothing_open():
    assert said([FRONT], [along("front flat")]) == []


def test_faces_that_nothing_connects_are_named_once():
    own = Instrument("other level", "mm/m", 0.0, 0.004)
    legs = [along("front flat"), along("rear flat", instrument=own)]
    assert said([FRONT, BACK], legs) == [
        (
            "height of 'rear flat' against 'front flat', and the twist between them,",
            "take level readings across 'front flat' and 'rear flat' at both ends, both ways round",
        )
    ]


def test_the_remedy_that_is_named_is_one_that_works():
    own = Instrument("other level", "mm/m", 0.0, 0.004)
    legs = [along("front flat"), along("rear flat", instrument=own)]
    ends = X[[0, -1]]
    legs += [
        across("front flat", "rear flat", ends),
        across("front flat", "rear flat", ends, name="turned", turned=True),
    ]
    assert said([FRONT, BACK], legs) == []


def test_one_level_ties_the_slopes_of_two_faces_but_not_their_heights():
    legs = [along("front flat"), along("rear flat")]
    assert said([FRONT, BACK], legs) == [
        (
            "height of 'rear flat' against 'front flat'",
            "take a level reading across 'front flat' and 'rear flat' at one place, "
            "both ways round",
        )
    ]


def test_heights_tied_at_one_place_leave_the_twist():
    own = Instrument("other level", "mm/m", 0.0, 0.004)
    legs = [along("front flat"), along("rear flat", instrument=own)]
    legs += [
        across("front flat", "rear flat", [0.0], "a"),
        across("front flat", "rear flat", [0.0], "b", turned=True),
    ]
    assert said([FRONT, BACK], legs) == [
        (
            "twist between 'front flat' and 'rear flat'",
            "take level readings across 'front flat' and 'rear flat' at both ends, both ways round",
        )
    ]


def test_an_underside_is_tied_by_a_micrometer():
    under = flat("ledge", normal=180.0)
    own = Instrument("other level", "mm/m", 0.0, 0.004)
    legs = [along("front flat"), along("ledge", instrument=own)]
    assert said([FRONT, under], legs) == [
        (
            "height of 'ledge' against 'front flat', and the parallelism between them,",
            "measure across 'front flat' and 'ledge' with a micrometer at both ends",
        )
    ]
    legs.append(
        Leg(
            "m",
            "micrometer",
            MICROMETER,
            X[[0, -1]],
            [0.0, 0.0],
            {"opposite_face": "ledge"},
            "front flat",
        )
    )
    assert said([FRONT, under], legs) == []


def test_a_carriage_ties_the_twist_where_only_that_is_open():
    own = Instrument("other level", "mm/m", 0.0, 0.004)
    upper = flat("upper", y=0.0)  # over the front flat: a level across cannot stand there
    legs = [along("front flat"), along("upper", instrument=own)]
    plate = Leg("p", "own: step", MICROMETER, [0.0], [0.0])
    from metrolib.heights.rows import At

    def step(traverse, readings, survey):
        return [At("upper", readings.x, 1.0), At("front flat", readings.x, -1.0)]

    heights = adjust(survey([FRONT, upper], [*legs, plate]), row_functions={"step": step})
    (item,) = heights.not_determined
    assert item.what == "parallelism between 'front flat' and 'upper'"
    assert (
        item.remedy
        == "run an indicator over 'upper' from a carriage that rides 'front flat', end to end"
    )


def test_several_loose_faces_are_one_group():
    third = flat("tailstock flat", y=400.0)
    own = Instrument("other level", "mm/m", 0.0, 0.004)
    legs = [
        along("front flat"),
        along("rear flat", instrument=own),
        along("tailstock flat", instrument=own),
        across("rear flat", "tailstock flat", X, "a"),
        across("rear flat", "tailstock flat", X, "b", turned=True),
    ]
    (item,) = said([FRONT, BACK, third], legs)
    assert (
        item[0] == "height of 'rear flat' and 'tailstock flat' against 'front flat', "
        "and the twist between them,"
    )
    assert item[1].startswith(
        "take level readings across 'front flat' and 'rear flat' at both ends"
    )


def test_a_gap_in_the_steps_is_bridged():
    legs = [along("front flat", REAR[[0, 1, 2, 5, 6]])]
    assert said([FRONT], legs) == [
        (
            "shape of 'front flat' as a whole (the parts 0 to 600 mm and 1000 to 1400 mm hang "
            "together each for itself)",
            "take a level step from 600 to 1000 mm on 'front flat' with the same level, not reset",
        )
    ]
    legs.append(along("front flat", [600.0], "bridge", spacing=400.0))
    assert said([FRONT], legs) == []


def test_a_gap_between_two_levels_needs_steps_on_either_side_too():
    own = Instrument("other level", "mm/m", 0.0, 0.004)
    legs = [along("front flat", REAR[:3], "a"), along("front flat", REAR[4:], "b", instrument=own)]
    ((what, remedy),) = said([FRONT], legs)
    assert "0 to 600 mm and 800 to 1400 mm" in what
    assert remedy == (
        "step one level over 400 to 600 mm and 600 to 800 mm and 800 to 1000 mm on 'front flat', "
        "without resetting it"
    )


def test_steps_that_never_meet_are_no_shape():
    legs = [along("front flat", [0.0, 400.0, 800.0], spacing=150.0)]
    assert said([FRONT], legs) == [
        (
            "shape of 'front flat' along its length",
            "step a level along 'front flat', over all its stations",
        )
    ]


def test_a_straightedge_alone_of_unknown_profile():
    from metrolib.survey.instruments import Straightedge

    unknown = Straightedge("edge", 1400.0, 10.0)
    leg = Leg("s", "straightedge", INDICATOR, X, 0 * X, {"straightedge": "edge"}, "side")
    side = flat("side", normal=90.0)
    heights = adjust(survey([side], [leg], [unknown]))
    (item,) = heights.not_determined
    assert str(item) == (
        "shape of 'side' along its length is not determined: run an indicator along 'side' against "
        "a straightedge, or compare it with a surface plate, over all its stations"
    )
    assert item.faces == ("side",)


def test_flanks_known_only_as_a_seat():
    flanks = [flat("left", -20, normal=-45.0), flat("right", 20, normal=45.0)]
    seat = along("left", name="vee", settings={"face": ["left", "right"]})
    seat.face = ""
    open_items = said([FRONT, *flanks], [along("front flat"), seat])
    assert [what for what, _ in open_items] == [
        "shape of 'left' along its length",
        "shape of 'right' along its length",
        "height of 'right' against 'front flat' and 'left'",
    ]
    assert open_items[2][1].startswith("no single usual reading") or "compare" in open_items[2][1]


def test_absolute_height_and_tilt_are_nobodys_business():
    heights = adjust(survey([FRONT], [along("front flat")]))
    z = heights.on("front flat").z
    assert z[0].s > 1 and (z[-1] - z[0]).s > 1
    assert heights.not_determined == ()


def test_two_stations_have_no_shape_and_one_no_slope():
    plate = Leg("p", "comparison", INDICATOR, [0.0, 900.0, 300.0], [0.0, 0, 0], {}, ["a", "a", "b"])
    faces = [flat("a"), flat("b")]
    assert said(faces, [plate]) == []


# -- the pieces underneath -----------------------------------------------------------------------


def test_tied_compares_with_the_prior():
    cov = np.diag([100.0, 0.009, 0.011])
    assert tied(np.eye(3), cov).tolist() == [False, True, False]  # 0.01 of 10 mm is 0.1 mm
    assert tied(np.eye(3) * 7, cov).tolist() == [False, True, False]


def test_would_tie_by_hand():
    cov = np.diag([100.0, 0.0])
    g = np.array([[1.0, 0.0]])
    read = Candidate("", np.array([[1.0, 0.0]]), np.array([[0.01]]))
    vague = Candidate("", np.array([[1.0, 0.0]]), np.array([[0.02]]))
    assert would_tie(read, g, cov)  # 1 / (1/100 + 1/0.01) is just below 0.01
    assert not would_tie(vague, g, cov)


@pytest.mark.parametrize("count", [1, 2])
def test_pieces_of_few_stations(count):
    pieces = pieces_of(np.arange(float(count)) * 100, Given(100 * np.eye(count)))
    assert sum(len(piece) for piece in pieces) == count


def test_pieces_by_hand():
    x = np.arange(7) * 100.0
    # three and four stations, each rigid in itself but for its own lift and tilt
    columns = np.zeros((7, 4))
    columns[:3, 0], columns[:3, 1] = 1, x[:3] / 100
    columns[3:, 2], columns[3:, 3] = 1, x[3:] / 100
    cov = 100 * columns @ columns.T + 1e-6 * np.eye(7)
    assert [piece.tolist() for piece in pieces_of(x, Given(cov))] == [[3, 4, 5, 6], [0, 1, 2]]
    assert [len(piece) for piece in pieces_of(x, Given(100 * np.eye(7)))] == [1] * 7
