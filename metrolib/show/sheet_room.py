"""How much of a job sheet's page its words and its list of stages leave to the plan."""

from metrolib.show.style import wrapped

POINT = 25.4 / 72  # [mm]
WIDTH = 277.0  # of the page inside its margins [mm]
_SHEET = 189.5  # height inside the margins [mm]

#: Of the list: its first columns (the others share what is left), and their padding [mm].
COLUMNS = {"stage": 46.0, "stop above target": 30.0, "passes at most": 36.0, "time": 18.0}
_PADDING = 4.0

_TITLE, _SAID, _KEY, _NAME, _FACE = 17.0, 11.0, 10.0, 13.0, 9.5  # letters [points]
_BOLD = 1.1  # bold letters are so much wider
_BETWEEN, _CAUTIONS, _GAPS = 1.0, 10.0, 7.0  # paragraphs; the last lines; air between parts [mm]
_LEAST_ROW = 7.3  # of the list, for a box of 5 mm [mm]
_KEY_LINES = 2


def plan_room(title, said, lines, faces):
    """Return the height that is left to the plan [mm].

    Parameters
    ----------
    title : str
    said : sequence of str
        The sentences under it.
    lines : sequence of str
        Names of the stages.
    faces : sequence of str
        To be ticked off, a column each.
    """
    head = _height(title, WIDTH - 40, _TITLE, 1.1) + _height(" ".join(said), WIDTH, _SAID, 1.25)
    head += 1.25 * _KEY * POINT * _KEY_LINES + 2 * _BETWEEN
    return _SHEET - head - _list_height(lines, faces) - _CAUTIONS - _GAPS


def face_width(faces):
    """Return the width of a column of boxes [mm]."""
    return (WIDTH - sum(COLUMNS.values())) / max(len(faces), 1)


def _list_height(lines, faces):
    """Return the height of the list of stages [mm]."""
    room = face_width(faces) - 2.0
    heads = [_height(f"{face} done", room, _BOLD * _FACE, 1.1) for face in faces]
    names = [_height(name, COLUMNS["stage"] - _PADDING, _BOLD * _NAME, 1.15) for name in lines]
    return max(heads, default=0.0) + 2.0 + sum(max(_LEAST_ROW, high + 0.5) for high in names)


def _height(text, width, size, leading):
    """Return how high a text is when it is broken into lines of a width [mm]."""
    return size * POINT * leading * len(wrapped(text, width / POINT, size).splitlines())
