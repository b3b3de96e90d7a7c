"""Two worksheets worked at random: whatever is done, nothing typed is lost and all files agree."""

import random

import numpy as np
import pytest

from metrolib.errors import InputError
from metrolib.show.worksheet.disk.merging import values_by_place
from metrolib.show.worksheet.disk.others import last_readings
from metrolib.show.worksheet.worksheet import worksheet
from metrolib.survey.folder import read_survey


def _typed(sheet, chance):
    """Take a reading with a number that no other has."""
    chance.count += 1
    sheet.take(str(chance.count))
    return chance.count


def _step(sheet, chance):
    chance.choice([sheet.step_back, sheet.step_on, sheet.repeat])()


def _choose(sheet, chance):
    sheet.choose(chance.choice(sheet.traverses[:3]))


def _correct(sheet, chance):
    chance.count += 1
    sheet.correct(chance.choice([row for row in sheet.rows if row.digits]), str(chance.count))
    return chance.count


def _take_back(sheet, chance):
    sheet.take_back(chance.choice([row for row in sheet.rows if row.digits]), "slipped")


def _skip(sheet, chance):
    sheet.skip("hole")


def _undo(sheet, chance):
    sheet.undo()


def _reopen(sheet, chance):
    sheet.close()
    sheet.__init__(sheet.folder)


_DOINGS = [_typed] * 6 + [_step] * 3 + [_choose, _correct, _take_back, _skip, _undo, _reopen]


@pytest.mark.parametrize("seed", range(6))
def test_nothing_typed_is_lost_and_the_files_agree(folder, seed):
    chance = random.Random(seed)
    chance.count = 0
    sheets = [worksheet(folder), worksheet(folder)]
    typed = []
    for _ in range(60):
        try:
            typed.append(chance.choice(_DOINGS)(chance.choice(sheets), chance))
        except (InputError, IndexError):
            continue  # nothing to correct, to undo or to read
    typed = [number for number in typed if number is not None]
    history = worksheet(folder).history
    assert len(typed) > 12
    assert set(map(str, typed)) <= {event.now for event in history}
    assert len({event.token for event in history}) == len(history)
    survey = read_survey(folder)
    standing = {p: e.value for p, e in last_readings(history).items() if not np.isnan(e.value)}
    assert values_by_place(survey.readings) == standing
    news = [line for sheet in sheets for line in sheet.news]
    assert not any("lacked" in line or "another program" in line for line in news)
    for sheet in sheets:
        assert values_by_place(sheet.survey.readings) == standing
    # what was typed and never corrected, taken back or undone stands
    touched = {event.was for event in history if event.was and event.value is not None}
    left = {number for number in typed if str(number) not in touched}
    assert left <= set(standing.values())
