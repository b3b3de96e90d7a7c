"""The template folders: what `blank_survey` writes for one instrument and what it needs beside it.

``make_samples.py`` writes them into the sample surveys; their README.md are written by hand.
"""

from tempfile import TemporaryDirectory

from metrolib import blank_survey
from metrolib.survey.layouts import LAYOUTS

_TWO_FLATS = [face for face in LAYOUTS["two flats and a ledge"] if face.up > 0]

#: By folder: the arguments of `blank_survey`.
TEMPLATES = {
    "template_level": {
        "machine": "My machine, measured with a level",
        "faces": _TWO_FLATS,
        "kinds": ("level along", "level across"),
    },
    "template_straightedge_and_feelers": {
        "machine": "My machine, measured with a straightedge and feelers",
        "faces": LAYOUTS["one way by itself"],
        "kinds": "feeler gap",
    },
    "template_indicator": {
        "machine": "My machine, measured with an indicator",
        "faces": _TWO_FLATS,
        "kinds": ("straightedge", "carriage"),
    },
}


def template_files(name):
    """Return the files of one template as bytes by name, as `blank_survey` writes them today."""
    with TemporaryDirectory() as place:
        folder = blank_survey(f"{place}/{name}", **TEMPLATES[name])
        return {path.name: path.read_bytes() for path in folder.iterdir()}
