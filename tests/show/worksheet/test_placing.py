"""The words of a prompt: for every reading kind, where the instrument goes and which way round."""

import pytest

from metrolib.show.worksheet.course import course
from metrolib.survey.blank import blank_survey
from metrolib.survey.folder import read_survey, survey_from_texts
from metrolib.survey.readings import KINDS

OWN = "own: plumb line"


@pytest.fixture(scope="module")
def survey(tmp_path_factory):
    """A blank survey with traverses of every kind."""
    return read_survey(blank_survey(tmp_path_factory.mktemp("all") / "bed", kinds=[*KINDS, OWN]))


def _changed(survey, traverse, **keys):
    """Return the survey with keys of one traverse written anew."""
    head = f'[traverses."{traverse}"]\n'
    before, after = survey.toml_text.split(head)
    table, *rest = after.split("\n[")
    lines = [line for line in table.split("\n") if line.split(" =")[0] not in keys]
    lines += [f"{key} = {value}" for key, value in keys.items()]
    text = before + head + "\n[".join(["\n".join(lines), *rest])
    return survey_from_texts(text, survey.readings_text)


@pytest.mark.parametrize(
    ("traverse", "words"),
    [
        (
            "level along front flat",
            "Level on the front flat, feet at 100 and 200 mm, the first way round",
        ),
        (
            "level along front flat turned",
            "Level on the front flat, feet at 800 and 900 mm, turned end for end",
        ),
        (
            "level across front flat and rear flat",
            "Level bridged from the front flat to the rear flat at 100 mm, bridge and level the"
            " first way round",
        ),
        (
            "level across front flat and rear flat turned",
            "Level bridged from the front flat to the rear flat at 100 mm, bridge and level turned"
            " end for end together",
        ),
        (
            "straightedge on front flat, sole up",
            "Straightedge sole up, on supports at 220 and 780 mm from its zero end; indicator from"
            " it to the front flat at 100 mm, 100 mm from its zero end",
        ),
        (
            "feeler gap on front flat, sole down",
            "Straightedge sole down, on supports at 220 and 780 mm from its zero end; feelers under"
            " it on the front flat at 100 mm, 100 mm from its zero end",
        ),
        (
            "carriage, rear flat",
            "Carriage feet on the front flat at 100 and 300 mm, stylus on the rear flat at 200 mm",
        ),
        (
            "thickness, front flat to front ledge",
            "Micrometer over the front flat and the front ledge at 100 mm",
        ),
        (
            "gauge on front ledge",
            "Gauge resting on the front flat and the rear flat, stylus on the front ledge at"
            " 100 mm",
        ),
        ("wire over front flat", "Microscope on the wire over the front flat at 100 mm"),
        ("comparison", "Stylus on the front flat at 100 mm"),
        ("plumb line", "Plumb line on the front flat at 200 mm"),
    ],
)
def test_every_kind_says_where_the_instrument_goes(survey, traverse, words):
    assert course(survey, traverse)[1].words == words


def test_every_kind_of_the_survey_has_words(survey):
    kinds = {traverse.kind for traverse in survey.traverses.values()}
    assert kinds == {*KINDS, OWN}
    for name in survey.traverses:
        for prompt in course(survey, name):
            assert f"{prompt.x:g}" in prompt.words and prompt.booking


def test_a_straightedge_turned_end_for_end_is_counted_from_its_own_zero_end(survey):
    name = "straightedge on front flat, sole up"
    turned = _changed(survey, name, end_for_end="true")
    words = course(turned, name)[1].words
    assert words.startswith("Straightedge sole up, turned end for end, on supports at 220 and 780")
    assert words.endswith("at 100 mm, 900 mm from its zero end")


def test_a_vee_is_named_by_both_flanks(survey):
    name = "level along front flat"
    vee = _changed(survey, name, face='["front flat", "rear flat"]')
    assert course(vee, name)[0].words.startswith("Level on the vee of front flat and rear flat,")


def test_a_line_on_a_wide_face_says_from_where_to_where(survey):
    name = "level along front flat"
    line = _changed(survey, name, line="{ from = [0, 10], to = [1000, -10] }")
    prompt = course(line, name)[0]
    assert "along the line from (0, 10) to (1000, -10)" in prompt.words
    assert prompt.booking == (
        "positive when the bubble runs toward the far end, however the level lies"
    )


def _booked(survey, traverse, **keys):
    survey = _changed(survey, traverse, **keys) if keys else survey
    return course(survey, traverse)[0].booking


def test_the_sign_of_a_level_is_told_by_where_the_bubble_runs(survey):
    along, across = "level along front flat turned", "level across front flat and rear flat"
    assert _booked(survey, along) == (
        "positive when the bubble runs toward high x, however the level lies"
    )
    assert "toward low x" in _booked(survey, along, sign=-1)
    assert "toward the rear flat" in _booked(survey, across)
    assert "toward the front flat" in _booked(survey, across, sign=-1)
    # the same faces with the rear one at smaller y
    text = survey.toml_text.replace("y = 180 ", "y = -180 ")
    moved = survey_from_texts(text, survey.readings_text)
    assert "toward the front flat" in _booked(moved, across)


def test_lengths_are_told_by_the_metal(survey):
    assert _booked(survey, "comparison") == "a larger number where there is more metal"
    assert "a smaller number where" in _booked(survey, "comparison", sign=-1)
    # a gap closes where the metal is high
    gap = "feeler gap on front flat, sole down"
    assert _booked(survey, gap).startswith("a smaller number where there is more metal")
    assert "your row function" in _booked(survey, "plumb line")


def test_the_direction_of_approach_is_said(survey):
    assert _booked(survey, "comparison", approach='"from low x"').endswith("metal; from low x")


def test_an_instrument_without_a_bubble_has_none():
    survey = read_survey("sample_surveys/published_autocollimator")
    (prompt, *_) = course(survey, "carriage along the way")
    assert prompt.words == (
        "Mirror of the autocollimator on the way, feet at 0 and 110 mm, the first way round"
    )
    assert prompt.booking == "positive when it rises toward high x, however the instrument lies"
