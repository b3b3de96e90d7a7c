"""Datum ranking: by hand, short stretches, the vote, refusals."""

import numpy as np
import pytest
from uncertainties import correlated_values

from metrolib.errors import InputError
from metrolib.form.datums import rank_datums

X = np.arange(0, 1500, 100.0)
RNG = np.random.default_rng(20260101)
NOISE = 0.001 * RNG.normal(size=(3, X.size))
WORN = np.where((X > 250) & (X < 1450), -0.05 - 0.00002 * X, 0.0)  # unworn from 0 to 200


def test_form_alone_by_hand():
    # stations 0, 1, 2, 3 with heights 0, 4, 0, 4 (µm): the zone is 8/3 + ... chord 0-2, slope 0:
    # chord of 0 and 2 has slope 0; the other side's chord 1-3 too: width 4
    x, z = np.arange(4) * 100.0, np.array([0, 0.004, 0, 0.004])
    ranking = rank_datums({"a": (x, z)}, tolerance=0.005)
    (found,) = ranking.candidates
    assert found.straightness.value == pytest.approx(0.004)
    # leverage of a least-squares line through four even stations at its end: 1/4 + 9/20 = 0.7
    assert found.carry_form == pytest.approx(0.004 / np.sqrt(12) * np.sqrt(1.7))
    assert (found.carry_u, found.carry) == (None, found.carry_form)
    # carried over twice the length, at 600: 1/4 + 4.5^2 / 5
    longer = rank_datums({"a": (x, z)}, tolerance=0.005, length=(0, 600)).best
    assert longer.carry_form == pytest.approx(0.004 / np.sqrt(12) * np.sqrt(1.25 + 20.25 / 5))


def test_a_short_unworn_stretch_carries_less_far_than_a_whole_face():
    ranking = rank_datums({"worn": (X, WORN + NOISE[0]), "ledge": (X, NOISE[1])}, 0.001)
    assert [one.face for one in ranking.candidates] == ["ledge", "worn"]
    worn = ranking.candidates[1]
    assert worn.carry > 5 * ranking.best.carry
    assert worn.share == pytest.approx(2 / 14)
    # independent heights: 1, x-mean over three stations at 0, 100, 200, carried to 1400
    line = 0.001 * np.sqrt(1 / 3 + 1300**2 / 20000)
    assert worn.carry_u == pytest.approx(line, rel=0.1)


def test_two_faces_vote_against_a_third():
    tilted = NOISE[2] + 5e-5 * X
    faces = {"tilted": (X, tilted), "one": (X, NOISE[0]), "two": (X, NOISE[1])}
    ranking = rank_datums(faces, 0.001)
    assert {one.face for one in ranking.candidates[:2]} == {"one", "two"}
    last = ranking.candidates[-1]
    assert (last.face, last.outvoted, last.disagrees_with) == ("tilted", True, ("one", "two"))
    assert not ranking.best.outvoted
    assert last.against["one"].n == pytest.approx(0.05, abs=0.003)
    assert "most likely it is off" in str(ranking)


def test_two_faces_alone_cannot_outvote_each_other():
    ranking = rank_datums({"a": (X, NOISE[0]), "b": (X, NOISE[1] + 5e-5 * X)}, 0.001)
    assert [one.disagrees_with for one in ranking.candidates] in (
        [("b",), ("a",)],
        [("a",), ("b",)],
    )
    assert not any(one.outvoted for one in ranking.candidates)


def test_what_all_faces_share_puts_no_datum_wrong():
    faces = {"worn": (X, WORN + NOISE[0] + 3), "ledge": (X, NOISE[1] + 5)}
    plain = rank_datums(faces, 0.001)
    both = np.concatenate([X, X])
    cov = 100 + 1e-4 * np.outer(both, both) + 1e-6 * np.eye(both.size)
    shared = rank_datums(faces, cov)
    for one, other in zip(plain.candidates, shared.candidates, strict=True):
        assert one.face == other.face
        assert other.carry_u == pytest.approx(one.carry_u, rel=1e-3)


def test_the_three_ways_to_give_uncertainties_agree():
    faces = {"worn": (X, WORN + NOISE[0]), "ledge": (X, NOISE[1])}
    cov = 1e-6 * (np.eye(2 * X.size) + 0.2)
    z = np.array(correlated_values(np.concatenate([faces["worn"][1], faces["ledge"][1]]), cov))
    one = rank_datums(faces, cov)
    two = rank_datums({"worn": (X, z[: X.size]), "ledge": (X, z[X.size :])})
    for a, b in zip(one.candidates, two.candidates, strict=True):
        assert (a.face, a.carry) == (b.face, pytest.approx(b.carry))


def test_order_offset_and_scale_do_not_matter():
    faces = {"worn": (X, WORN + NOISE[0]), "ledge": (X, NOISE[1])}
    one = rank_datums(faces, 0.001)
    two = rank_datums({n: (x, 2 * z + 7) for n, (x, z) in reversed(faces.items())}, 0.002)
    for a, b in zip(one.candidates, two.candidates, strict=True):
        assert a.face == b.face
        assert b.carry == pytest.approx(2 * a.carry)


def test_words_and_tables():
    ranking = rank_datums({"<worn>": (X, WORN + NOISE[0]), "ledge": (X, NOISE[1])}, 0.001)
    lines = str(ranking).splitlines()
    assert lines[0] == "datums for 0 to 1400 mm, the best first:"
    assert lines[1].startswith("  1. ledge: its line holds within ")
    assert "14 % of its length is unworn" in lines[2]
    assert "&lt;worn&gt;" in ranking._repr_html_()
    table = ranking.to_dataframe()
    assert list(table.index) == ["ledge", "<worn>"]
    assert table.loc["ledge", "carry [mm]"] == ranking.best.carry
    assert " thou" in ranking.in_words("thou")
    alone = rank_datums({"ledge": (X, NOISE[1])}, 0.001)
    assert "there is no other candidate" in str(alone)


@pytest.mark.parametrize(
    ("faces", "options", "words"),
    [
        ({}, {"u": 1}, "faces: none given"),
        ({"a": ([0, 1], [0, 1])}, {"u": 1}, "x of 'a': at least 3 values are needed"),
        ({"a": ([1, 1, 1], [0, 1, 2])}, {"u": 1}, "x of 'a': all stations at one place"),
        ({"a": ([0, 1, 2], [0, 1])}, {"u": 1}, "x of 'a' and z of 'a': lengths differ"),
        ({"a": ([0, 1, 2], [0, 1, 2])}, {}, "tolerance: without an uncertainty"),
        ({"a": (X, X)}, {"u": 1, "length": (5, 5)}, "length: it is no stretch"),
    ],
)
def test_refusals(faces, options, words):
    with pytest.raises(InputError, match=words):
        rank_datums(faces, **options)
