import tomllib

import pytest

from metrolib.survey.places import Places

GOOD = (
    '''\
a = 1
b.c."d e" = { x = 1, y = [1,
 {q = "]"}, # c ]
 3] }
s = """
[no]
x = 1 \\""" still
"""
[faces."front.flat"]
y = 0.0 # [z]
left_out = [
  { x_from = 1, x_to = 2 },
  # between
  { x_from = 3, x_to = 4 },
]
'with '''
    + "'"
    + """ = 1979-05-27 07:32:00
[[tests]]
a = 1
[tests.sub]
z = 1
[[tests]]
[tests.sub]
z = 2
[[tests.inner]]
k = 1
[[tests.inner]]
k = 2
"""
)


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("a",), 1),
        (("b", "c"), 2),
        (("b", "c", "d e", "y"), 2),
        (("b", "c", "d e", "y", 1, "q"), 3),
        (("b", "c", "d e", "y", 2), 4),
        (("s",), 5),
        (("faces",), 9),
        (("faces", "front.flat", "y"), 10),
        (("faces", "front.flat", "left_out", 1, "x_to"), 14),
        (("with ",), None),
        (("faces", "front.flat", "with "), 16),
        (("tests", 0), 17),
        (("tests", 0, "sub", "z"), 20),
        (("tests", 1), 21),
        (("tests", 1, "sub", "z"), 23),
        (("tests", 1, "inner", 0, "k"), 25),
        (("tests", 1, "inner", 1, "k"), 27),
    ],
)
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_the_line_of_a_key(path, line, end):
    tomllib.loads(GOOD)  # the scanner promises nothing for a text that is no TOML
    assert Places(GOOD.replace("\n", end)).line(*path) == line


def test_a_missing_key_is_placed_at_its_table():
    assert Places(GOOD).line("faces", "front.flat", "normal") == 9
    assert Places(GOOD).line("faces", "rear", "normal") == 9
    assert Places(GOOD).line("nowhere", "rear") is None


def test_escapes_in_a_key_are_read():
    assert Places('\ufeff\n"a\\"b" = 1').line('a"b') == 2


def test_numbers_with_points_and_signs_are_no_keys():
    places = Places("a = -1.5e-3\nb = [1.5, +2.0]\nc = 3")
    assert places.line("b", 1) == 2
    assert places.line("c") == 3
