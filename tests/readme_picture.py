"""The picture of README: drawn from the sample survey by the library itself.

Draw it anew from the project's folder: ``python -m tests.readme_picture``.
"""

import warnings
from pathlib import Path

from matplotlib.figure import Figure

from metrolib import adjust, plan_removal, plot, read_survey
from metrolib.errors import DoubtfulReadingsWarning

SAMPLE = Path(__file__).resolve().parents[1] / "sample_surveys" / "toolroom_lathe"
PICTURE = SAMPLE / "to_take_off.png"


def plan():
    """Return the removal plan that the picture shows."""
    survey = read_survey(SAMPLE)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DoubtfulReadingsWarning)  # the sample's planted blunder
        return plan_removal(adjust(survey), survey.decision)


def draw():
    """Draw the plan view; its description says in words what it shows."""
    shown = plan()
    figure = Figure(figsize=(9.2, 3.3), layout="constrained")
    plot(shown, figure.subplots())
    description = {"Description": shown.in_words(), "Software": None}
    figure.savefig(PICTURE, dpi=110, metadata=description)


if __name__ == "__main__":
    draw()
