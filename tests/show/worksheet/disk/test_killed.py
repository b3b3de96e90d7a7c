"""Worksheets that are killed while they write: what was acknowledged is on disk, once."""

import subprocess
import sys
from pathlib import Path

import metrolib
from metrolib.show.worksheet.worksheet import worksheet
from metrolib.survey.folder import read_survey

WRITER = """
import sys
from metrolib.show.worksheet.worksheet import worksheet
sheet = worksheet(sys.argv[1])
sheet.choose(sheet.traverses[int(sys.argv[2])])
while sheet.prompt is not None:
    taken = sheet.take(f"{len(sheet.history) / 10:g}")
    print(taken.token, taken.value, flush=True)
"""


def test_two_writers_killed_in_the_middle_lose_nothing_that_they_acknowledged(folder):
    command = [sys.executable, "-c", WRITER, str(folder)]
    environment = {"PYTHONPATH": str(Path(metrolib.__file__).parents[1])}
    writers = [
        subprocess.Popen([*command, number], stdout=subprocess.PIPE, text=True, env=environment)
        for number in "01"
    ]
    said = [writer.stdout.readline() for writer in writers for _ in range(2)]
    for writer in writers:
        writer.kill()
    for writer in writers:
        said += writer.communicate()[0].splitlines()
    acknowledged = dict(line.split() for line in said)
    assert len(acknowledged) >= 4
    later = worksheet(folder)
    kept = {event.token: float(event.now) for event in later.history}
    assert {token: kept[token] for token in acknowledged} == {
        token: float(value) for token, value in acknowledged.items()
    }
    assert len(kept) == len(later.history)
    assert sorted(read_survey(folder).readings.value.tolist()) == sorted(kept.values())
    later.take("9")  # no lock is left that anybody waits for in vain
    assert 9 in read_survey(folder).readings.value
