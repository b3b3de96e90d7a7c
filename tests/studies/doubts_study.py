"""How often a good reading is questioned as it is taken, and how often a slip is.

Surveys of the sample machines are made anew with other seeds and no blunder, and fed reading by
reading. Run it from the project's folder: ``python -m tests.studies.doubts_study``.
"""

import argparse
import tomllib
import warnings
from dataclasses import replace

import numpy as np

from metrolib.errors import DoubtfulReadingsWarning
from metrolib.heights.adjust import adjust
from metrolib.show.worksheet.judged.doubts import doubt_about
from metrolib.survey.folder import survey_from_texts
from tests.samples import conftest  # noqa: F401 - lets the samples find each other
from tests.samples.lathe import lathe
from tests.samples.long_rails import long_rails
from tests.samples.make_samples import SURVEYS
from tests.samples.mill_table import mill_table
from tests.samples.rectangular_face import rectangular_face
from tests.samples.sample import Dialect

SAMPLES = {one().name: one() for one in (lathe, mill_table, long_rails, rectangular_face)}

#: What a hand may write instead of a reading; a level's and a micrometer's whole step apart.
SLIPS = {
    "sign": lambda value, step: -value,
    "factor of ten": lambda value, step: value / 10,
    "whole division": lambda value, step: value + step,
    "ten divisions": lambda value, step: value - 10 * step,
}


def clean_survey(name, seed):
    """Return a sample machine's survey with other noise and no blunder, in order of taking."""
    text = (SURVEYS / name / "survey.toml").read_text(encoding="utf-8")
    sample = replace(SAMPLES[name], seed=seed, blunder=None, dialect=Dialect())
    made, _ = sample.make(text)
    toml = tomllib.loads(text)
    survey = survey_from_texts(text, made.decode(), toml.get("readings", "readings.csv"))
    order = np.argsort(survey.readings.order, kind="stable")
    return replace(survey, readings=survey.readings.select(order))


def until(survey, count):
    """Return the survey as it stands after so many readings, and its heights."""
    readings, every = survey.readings, np.arange(len(survey.readings))
    part = replace(
        survey, readings=readings.select(every[:count]), planned=readings.select(every[count:])
    )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DoubtfulReadingsWarning)
        return part, adjust(part)


def fed(survey, numbers=None):
    """Return the doubts that arise when readings are taken one by one, with their numbers."""
    found, asked = [], set()
    for count in range(1, len(survey.readings) + 1) if numbers is None else numbers:
        part, heights = until(survey, count)
        doubt = doubt_about(part, count - 1, heights, asked=asked)
        if doubt is not None:
            asked.add(doubt.place)
            found.append((count, doubt))
    return found


def with_slip(survey, row, slip):
    """Return the survey with one reading written wrong, and by how many standard uncertainties."""
    instrument = survey.instruments[survey.traverses[survey.readings.traverse[row]].instrument]
    step = 1.0 if instrument.unit == "division" else 10 * instrument.resolution
    value = survey.readings.value.copy()
    right = value[row]
    value[row] = SLIPS[slip](right, step)
    size = abs(value[row] - right) * instrument.factor / instrument.u
    return replace(survey, readings=replace(survey.readings, value=value)), size


def asked_about(survey, row):
    """Tell how many readings later a reading is questioned, within its traverse; None if not."""
    readings = survey.readings
    last = int(np.flatnonzero(readings.traverse == readings.traverse[row])[-1]) + 1
    for count, doubt in fed(survey, range(row + 1, last + 1)):
        here = (doubt.traverse, doubt.face, doubt.x, doubt.repeat)
        if here == (
            readings.traverse[row],
            readings.face[row],
            readings.x[row],
            readings.repeat[row],
        ):
            return count - row - 1
    return None


def main():
    """Print both tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--surveys", type=int, default=10, help="clean surveys of each machine")
    parser.add_argument("--slips", type=int, default=60, help="slips of each kind and machine")
    chosen = parser.parse_args()
    print("questions about good readings")
    for name in SAMPLES:
        doubts = [fed(clean_survey(name, 7_000 + k)) for k in range(chosen.surveys)]
        count = chosen.surveys * len(clean_survey(name, 7_000).readings)
        print(f"  {name}: {sum(map(len, doubts))} in {count} readings", flush=True)
        for _, doubt in (one for each in doubts for one in each):
            print(f"      {doubt.traverse}: {doubt}")
    rng = np.random.default_rng(2026)
    print(
        "slips questioned at once / later in the traverse / not, by size in standard uncertainties"
    )
    bins = ((5, 10), (10, 20), (20, 40), (40, np.inf))
    for name in SAMPLES:
        told = {each: [0, 0, 0] for each in bins}
        surveys = [clean_survey(name, 8_000 + k) for k in range(3)]
        for slip in SLIPS:
            for _ in range(chosen.slips):
                survey = surveys[rng.integers(3)]
                row = int(rng.integers(len(survey.readings)))
                spoiled, size = with_slip(survey, row, slip)
                here = next((each for each in bins if each[0] <= size < each[1]), None)
                if here is not None:
                    when = asked_about(spoiled, row)
                    told[here][2 if when is None else min(when, 1)] += 1
        words = ", ".join(f"{low}-{high}: {a}/{b}/{c}" for (low, high), (a, b, c) in told.items())
        print(f"  {name}: {words}", flush=True)


if __name__ == "__main__":
    main()
