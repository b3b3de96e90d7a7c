"""Exercises: an answer is compared with the right one."""

import pytest

from metrolib import InputError, check_answer


def test_an_answer_is_right_within_its_tolerance_only():
    assert check_answer(10.5, 10, within=0.5).value is True
    assert check_answer(10.51, 10, within=0.5).value is False
    assert check_answer(None, 10).value is None


def test_words_are_compared_without_capitals_and_blanks():
    assert check_answer(" Rear Flat ", "rear flat").value is True
    assert check_answer("front flat", "rear flat").value is False


@pytest.mark.parametrize("given", ["3.2", " 3,2 ", 3.2])
def test_a_number_may_stand_in_quotes_and_have_a_comma(given):
    assert check_answer(given, 3.16, within=0.1).value is True


@pytest.mark.parametrize(
    ("given", "right", "told"),
    [
        ("ten", 10, "not yet: you say 'ten', a number is asked for, in µm"),
        ((3, 16), 3.16, "not yet: you say '(3, 16)', a number is asked for, in µm"),
        (10, "front", "not yet: you say 10, a word in quotes is asked for"),
        (True, "yes", "not yet: you say True, a word in quotes is asked for"),
    ],
)
def test_an_answer_of_the_wrong_kind_is_told_and_stops_nothing(given, right, told):
    answer = check_answer(given, right, unit="µm")
    assert answer.value is False and str(answer) == told


def test_nonsense_is_not_right():
    assert check_answer(float("nan"), 3.16, within=0.1).value is False
    assert check_answer("", 3.16, within=0.1).value is False


@pytest.mark.parametrize(
    ("right", "within", "words"),
    [(None, 0, "right: a number is needed"), (3, "a bit", "within: a number is needed")],
)
def test_refusals(right, within, words):
    with pytest.raises(InputError) as caught:
        check_answer(3, right, within=within)
    assert str(caught.value).startswith(words)
