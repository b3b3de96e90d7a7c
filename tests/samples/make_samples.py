"""Make the readings of the sample surveys, and the truth that the tests hold them to.

    python tests/samples/make_samples.py [--surveys FOLDER] [--truth FOLDER]

Each sample's survey.toml and README.md are written by hand; readings.csv follows from survey.toml,
the true shape in the sample's own file, and its seed. Run again, it writes the same bytes.
The templates (templates.py), of which nothing is read, are written as well.
"""

import argparse
from pathlib import Path

from lathe import lathe
from lathe_rounds import lathe_rounds
from long_rails import long_rails
from mill_table import mill_table
from published import PUBLISHED
from rectangular_face import rectangular_face
from templates import TEMPLATES, template_files

HERE = Path(__file__).resolve().parent
SURVEYS = HERE.parents[1] / "sample_surveys"
SAMPLES = (lathe, mill_table, rectangular_face, long_rails)


def make(surveys=SURVEYS, truths=HERE / "truth"):
    """Write readings.csv of each sample below `surveys` and its truth below `truths`."""
    truths.mkdir(parents=True, exist_ok=True)
    for sample in (*(recipe() for recipe in SAMPLES), *lathe_rounds()):
        survey_text = (SURVEYS / sample.name / "survey.toml").read_text(encoding="utf-8")
        readings, truth = sample.make(survey_text)
        _write(surveys / sample.name / "readings.csv", readings)
        _write(truths / f"{sample.name}.json", truth)
    for name, table in PUBLISHED.items():
        _write(surveys / name / "readings.csv", table().encode())
    for name in TEMPLATES:
        for file, content in template_files(name).items():
            _write(surveys / name / file, content)


def _write(path, content):
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--surveys", type=Path, default=SURVEYS)
    parser.add_argument("--truth", type=Path, default=HERE / "truth")
    chosen = parser.parse_args()
    make(chosen.surveys, chosen.truth)
