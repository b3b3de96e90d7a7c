"""What the readings so far tell, and which one helps most next."""

from dataclasses import replace

import numpy as np
import pytest

from metrolib.heights.plan import plan_survey
from metrolib.show.worksheet.judged.known import known
from metrolib.survey.folder import read_survey
from tests.show.worksheet.benches import LEVEL, heights_of, stepped, survey, until

OVER = [("over the ledge", x, 25.0) for x in range(0, 700, 100)]


def told(made, traverse):
    return known(made, heights_of(made), traverse)


def test_what_is_open_names_the_planned_traverse_that_ties_it():
    planned = [(name, x, None) for name, x, _ in OVER]
    found = told(survey([*stepped([0.1] * 6), *OVER[:2], *planned[2:]]), "over the ledge")
    assert len(found.open_now) == 0 or "over the ledge" in found.open_now[0]
    rows = [*OVER, *((name, x, None) for name, x, _ in stepped([0.0] * 6))]
    found = told(survey(rows), "over the ledge")
    assert found.open_now[0].startswith("Not determined yet: shape of 'way'")
    assert "'out', which is planned, will tie it" in found.open_now[0]
    assert found.next_useful == "Next most useful: 'out' at 0 mm, 6 readings open."


def test_what_no_planned_reading_ties_gets_its_remedy():
    found = told(survey(OVER), "over the ledge")
    assert "step a level along 'way'" in found.open_now[0]


def test_the_traverse_in_hand_comes_first():
    rows = [*OVER[:3], *((name, x, None) for name, x, _ in OVER[3:])]
    rows += [(name, x, None) for name, x, _ in stepped([0.0] * 6)]
    found = told(survey(rows), "over the ledge")
    assert found.next_useful == (
        "Next most useful: go on with 'over the ledge' at 300 mm, 4 readings open, then 'out'."
    )


def test_nothing_read_yet():
    rows = [(name, x, None) for name, x, _ in OVER]
    found = known(survey(rows), None, "over the ledge")
    assert found.sentences == [
        "Next most useful: go on with 'over the ledge' at 0 mm, 7 readings open."
    ]


def test_the_best_addition_is_no_worse_than_any_single_repeat():
    """Checked by brute force over the repeats: none makes the least sure length surer."""
    made = survey([*stepped([0.1, 0.3, -0.2, 0.4, 0.0]), *stepped([0.0, 0.2], "back", start=300)])
    found = told(made, "out")
    before = plan_survey(made)
    lengths = [one for one in before.results if one.question.unit == "mm"]
    worst = max(lengths, key=lambda one: one.worst)
    assert worst.name in found.next_useful

    def after(candidate):
        plan = plan_survey(made, worst.worst / 2, most=1, candidates=[candidate])
        return plan[worst.name].worst_after

    rows = {
        (str(t), float(x)) for t, x in zip(made.readings.traverse, made.readings.x, strict=True)
    }
    least = min(after({"traverse": name, "x": x}) for name, x in rows)
    told_after = float(found.next_useful.rsplit("to ", 1)[1].split(" ")[0]) / 1e3
    assert told_after <= least + 6e-5  # it is printed to a tenth of a micrometre


def test_suspects_are_told_and_the_closure():
    made = read_survey("sample_surveys/long_rails")
    found = told(made, "wire over front rail")
    assert found.suspects[0].startswith("Suspect: 'across the rails' at 5600 mm")
    assert found.closure.kind == "station"
    assert found.sentences[:2] == [*found.suspects, found.closure.words]


def test_results_are_told_in_the_display_unit():
    made = survey(stepped([0.1, 0.3, -0.2, 0.4]), 'display = "thou"\n' + LEVEL)
    assert any("thou" in line for line in told(made, "out").sure)


def test_other_states_are_left_alone():
    toml = LEVEL.replace('kind = "micrometer"', 'kind = "micrometer"\nstate = "free"')
    rows = [*stepped([0.1] * 6), *((name, x, None) for name, x, _ in OVER)]
    made = survey(rows, toml)
    found = known(made, heights_of(made), "out")
    assert "over the ledge" not in found.next_useful


def test_it_changes_nothing():
    made = survey(stepped([0.1, 0.3, -0.2, 0.4]))
    before = replace(made)
    told(until(made, 3), "out")
    assert np.array_equal(before.readings.value, made.readings.value)


@pytest.mark.parametrize("count", [1, 2, 5])
def test_it_tells_at_any_stage(count):
    made = until(survey([*stepped([0.1] * 5), *OVER]), count)
    assert told(made, "out").next_useful
