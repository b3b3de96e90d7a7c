import pytest

from metrolib.errors import InputError
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.survey.machine import LeftOut
from tests.rebuild.beds import HELD, lathe_bed, one_flat


def _plan(**conditions):
    heights = lathe_bed([0, -0.05, 0.1], [0, 0, 0])
    return plan_removal(heights, faces=["front", "rear"], confidence=None, **HELD, **conditions)


def test_sentence_says_what_to_take_where_and_what_governs():
    # low spot -50 at 700; target 30 below it: -80; front 80, 30, 180; rear 80 all along
    # front (80 * 350 + 30 * 700 + 180 * 350) * 40, rear 80 * 1400 * 40: 4480 mm3 each
    # each 10 um lower there: all but the 700 x 40 under it: (2800 - 700) * 40 * 0.01 = 840 mm3
    assert str(_plan(clean_up=0.03)) == (
        "Take 'front' down by up to 180.0 µm (most at 1400 mm, least 30.0 µm at 700 mm); "
        "'rear' down by 80.0 µm. In all 8.96 cm³ come off. The target is set by the low spot at "
        "700 mm on 'front': each 10 µm lower there costs 0.84 cm³."
    )


def test_sentence_in_thou():
    words = _plan(clean_up=0.03).in_words("thou")
    assert "up to 7.09 thou" in words
    assert "each 1 thou lower there costs 2.13 cm³" in words


def test_sentence_says_where_nothing_comes_off():
    words = _plan(band=0.05).in_words()
    assert "up to 100.0 µm (most at 1400 mm; nothing from 0 to 700 mm)" in words
    assert "Take nothing off 'rear'." in words


def test_sentence_with_a_guard():
    plan = plan_removal(one_flat([0, -0.02, 0], u=0.002), faces=["flat"], clean_up=0.01)
    assert "All places clean up with a probability of 95 %; the guard" in plan.in_words()
    plan = plan_removal(one_flat([0, -0.02, 0], u=0.002), faces=["flat"], confidence=None)
    assert "without a guard" in plan.in_words()


def test_nothing_to_do():
    plan = plan_removal(one_flat([0, 0, 0]), faces=["flat"])
    assert str(plan) == "Take nothing off 'flat'."


def test_table_has_a_row_for_each_station():
    table = _plan(clean_up=0.03).to_dataframe()
    assert list(table.columns) == [
        "face",
        "x [mm]",
        "y [mm]",
        "measured [mm]",
        "target [mm]",
        "take off [µm]",
        "u(take off) [µm]",
        "note",
    ]
    assert table["take off [µm]"].round(6).tolist() == [80, 30, 180, 80, 80, 80]
    assert table["note"].tolist() == ["", "governs (low spot)", "", "", "", ""]


def test_table_notes_what_is_left_out_and_adds_the_nominal_height():
    hole = LeftOut(240, 260, "oil hole")
    heights = one_flat([26.15, 20.0, 26.13], left_out=(hole,), nominal_height=26.15)
    table = plan_removal(heights, faces=["flat"]).to_dataframe("thou")
    assert table["note"][1] == "left out"
    # a line lies on both ends
    assert table["take off [thou]"].round(9).tolist() == [0, 0, 0]
    difference = table["measured [mm]"] - table["target [mm]"]
    assert difference.round(9).tolist()[::2] == [0, 0]


def test_text_and_html_of_the_table():
    plan = _plan(clean_up=0.03)
    assert "180.0" in plan.to_text() and "7.09" in plan.to_text("thou")
    assert "<td>180.0 ± 0.0</td>" in plan.to_html()
    page = plan._repr_html_()
    assert "<td>180.0 µm</td>" in page and "'front'" not in page  # quotes are escaped


def test_faces_in_short():
    front, rear = _plan(clean_up=0.03).per_face
    assert (front.face, front.most_at, front.least_at) == ("front", 1400, 700)
    assert (front.most, front.least) == pytest.approx((0.18, 0.03))
    # 350, 700, 350 mm long, 40 wide
    assert front.volume == pytest.approx((0.08 * 350 + 0.03 * 700 + 0.18 * 350) * 40)
    assert rear.volume == pytest.approx(0.08 * 1400 * 40)
    assert front.untouched == rear.untouched == ()


def test_unknown_unit():
    with pytest.raises(InputError, match="unit: this is not one of the choices, got 'furlong'"):
        _plan().in_words("furlong")
