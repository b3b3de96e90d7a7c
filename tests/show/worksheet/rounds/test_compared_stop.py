"""What is told at the prompt of instruments that tell no stop by one reading alone."""

import pytest

from metrolib.show.worksheet.rounds.round_stop import round_work
from metrolib.survey.folder import read_survey
from tests.show.worksheet.rounds.test_round_stop import FIRST, SIZES

PLAIN = FIRST[: FIRST.index("[methods.file]")]

MORE = """
[faces.rail]
y = 60.0
width = 20.0
x_from = -200.0
x_to = 600.0
[instruments.level]
unit = "mm/m"
resolution = 0.001
repeatability = 0.001
[traverses.rail]
kind = "comparison"
instrument = "plate"
setup = "plate"
face = "rail"
[traverses.ridden]
kind = "carriage"
instrument = "micrometer"
face = "flat"
riding = "rail"
feet = [-200, 200]
[traverses."level on flat"]
kind = "level along"
instrument = "level"
face = "flat"
foot_spacing = 200
"""

#: The rail stands 10 µm higher at 200 mm: the carriage is 5 µm up at 0 and 400 mm, not at 200.
RAIL = {-200: 0.0, 0: 0.0, 200: 0.010, 400: 0.0, 600: 0.0}
RIDDEN = {0: 0.0, 200: -0.055, 400: -0.030}


def write(folder, toml, read=True):
    folder.mkdir(parents=True)
    (folder / "survey.toml").write_text(toml, encoding="utf-8")
    parts = {"plate": dict.fromkeys(SIZES, 0), "over": SIZES, "rail": RAIL, "ridden": RIDDEN}
    rows = [
        f"{name},{x},{value if read else ''}"
        for name, part in parts.items()
        for x, value in part.items()
    ]
    rows += ["level on flat,0,", "level on flat,200,"]
    (folder / "readings.csv").write_text("\n".join(["traverse,x,reading", *rows]) + "\n", "utf-8")
    return folder


def told(tmp_path, toml, traverse, x, face="flat"):
    first = write(tmp_path / "bed", toml)
    now = write(first / "rounds" / "1", toml, read=False)
    return round_work(now).stop(read_survey(now), traverse, face, float(x))


@pytest.fixture
def toml():
    own = 'instrument = "plate"\nface = "ledge"\n'
    assert PLAIN.count(own) == 1
    return PLAIN.replace(own, own + 'setup = "plate"\n') + MORE


def test_an_indicator_is_compared_with_its_first_station(tmp_path, toml):
    """Finished, the flat is level: the needle shows the carriage, 5 µm lower at 200 mm."""
    assert "the other places are compared with this one" in told(tmp_path / "a", toml, "ridden", 0)
    words = told(tmp_path / "b", toml, "ridden", 200)
    assert "where both are finished, it reads about 5.0 µm more here than at 0 mm." in words
    words = told(tmp_path / "c", toml, "ridden", 400)
    assert "where both are finished, it reads the same here as at 0 mm." in words
    assert words.endswith("To come off at the start: 30.0 µm.")


def test_the_difference_has_the_sign_of_the_indicator(tmp_path, toml):
    turned = toml.replace("feet = [-200, 200]", "feet = [-200, 200]\nsign = -1")
    first = write(tmp_path / "bed", turned)
    readings = first / "readings.csv"
    text = readings.read_text(encoding="utf-8")
    for value in (0.055, 0.030):
        text = text.replace(f",-{value}", f",{value}")
    readings.write_text(text, encoding="utf-8")
    now = write(first / "rounds" / "1", turned, read=False)
    words = round_work(now).stop(read_survey(now), "ridden", "flat", 200.0)
    assert "about 5.0 µm less here than at 0 mm" in words


def test_a_level_says_why_it_has_no_stop(tmp_path, toml):
    words = told(tmp_path, toml, "level on flat", 0)
    assert words.startswith("No stop reading: it reads slopes, which tell no depth.")


def test_what_is_read_from_a_face_that_is_cut_too_says_so(tmp_path, toml):
    both = toml.replace('faces = ["flat"]', 'faces = ["flat", "rail"]')
    both = both.replace("tilt_along = 0.0", 'tilt_along = 0.0\ntogether = "parallel"')
    words = told(tmp_path, both, "ridden", 400)
    assert words.startswith("No stop reading: 'rail', which it is read from, must be cut as well.")
