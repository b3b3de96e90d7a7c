"""Standing: where the work at the bench stands, in words for a terminal and for a later reader."""

from dataclasses import dataclass
from html import escape

from metrolib.show.worksheet.typed import unit_sign

#: A screen above it goes on; whoever compares the two must not be puzzled.
_HEAD = "As it stood when this was written; it does not follow the screen."


@dataclass(frozen=True)
class Standing:
    """Where the work stood when it was asked for; it stays when the worksheet is closed.

    Attributes
    ----------
    lines : tuple of str
    traverses : tuple of (str, int, int, int)
        Name, stations read, skipped and open of each traverse.
    """

    lines: tuple[str, ...]
    traverses: tuple = ()

    def __str__(self):
        return "\n".join([_HEAD, *self.lines, *map(_traverse_line, self.traverses)])

    __repr__ = __str__

    def _repr_html_(self):
        head = "<br>".join(map(escape, [_HEAD, *self.lines]))
        rows = "".join(
            f"<tr><td>{escape(name)}</td><td>{read}</td><td>{skipped}</td><td>{left}</td></tr>"
            for name, read, skipped, left in self.traverses
        )
        if not rows:
            return f"<p>{head}</p>"
        heads = "<tr><th>traverse</th><th>read</th><th>skipped</th><th>to come</th></tr>"
        return f"<p>{head}</p><table>{heads}{rows}</table>"


def standing(sheet):
    """Return where a worksheet stands, without the station that it asks for, as `Standing`."""
    counted = []
    for name in sheet.traverses:
        states = [one.state for one in sheet.course_of(name) if not one.closing]
        counted.append((name, *(states.count(word) for word in ("taken", "skipped", "open"))))
    lines = [sheet.survey.machine.name]
    if last := _last(sheet):
        lines.append(f"last: {last}")
    if sheet.unsaved:
        count = len(sheet.unsaved)
        lines.append(f"on no disk yet: {count} change{'s' * (count > 1)}; save elsewhere")
    return Standing(tuple(lines), tuple(counted))


def where_it_stands(sheet):
    """Return what someone at a terminal needs to know: what is done, and what comes next."""
    found = standing(sheet)
    now = next(one for one in found.traverses if one[0] == sheet.traverse)
    others = [name for name, _, _, left in found.traverses if left and name != sheet.traverse]
    lines = [*found.lines, _traverse_line(now)]
    if sheet.work is not None:
        lines += _of_round(sheet)
    prompt = sheet.prompt
    if prompt is None:
        lines.append("This traverse is read from end to end.")
    else:
        lines += [f"next: {prompt.words}", f"      {prompt.booking}"]
        if prompt.state == "taken":
            lines.append(
                f"      {prompt.value:g} {unit_sign(prompt.unit)} is read here;"
                " another number corrects it"
            )
        lines.append(f'      sheet.take("...") in {unit_sign(prompt.unit)}')
    if others:
        lines.append("to come: " + "; ".join(others))
    return "\n".join(lines)


def _of_round(sheet):
    """Return how near the target the last reading is, and where to stop at the prompt."""
    event = _last_event(sheet)
    reach = None
    if event is not None:
        reach = sheet.work.told_reach(sheet.survey, event, float(event.now))
    stop = sheet.work.told_stop(sheet.survey, sheet.prompt)
    return [str(one) for one in (reach, stop) if one]


def _traverse_line(counted):
    name, read, skipped, left = counted
    out = f", {skipped} skipped" if skipped else ""
    return f"{name}: {read} read{out}, {left} to come"


def _last(sheet):
    """Return the last reading of the history that still stands, in words."""
    event = _last_event(sheet)
    if event is None:
        return ""
    instrument = sheet.survey.instruments[sheet.survey.traverses[event.traverse].instrument]
    return f"{event.now} {unit_sign(instrument.unit)} at {event.x:g} mm, {event.traverse}"


def _last_event(sheet):
    """Return the last event of the history by which a reading stands, or None."""
    for event in reversed(sheet.history):
        standing_yet = event.action in ("taken", "repeated", "corrected") and event.now
        if standing_yet and event.traverse in sheet.survey.traverses:
            return event
    return None
