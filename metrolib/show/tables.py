"""Tables of the report: the form of each face and of the faces together, and the options."""

from dataclasses import dataclass

from metrolib.errors import MetrolibError
from metrolib.form import wording
from metrolib.form.twist import SIGN_RULE
from metrolib.rebuild.wording import written
from metrolib.units import show_length

_TIED = "* more stations may be contacts too, so U is a first estimate"


@dataclass(frozen=True)
class Table:
    """A table, written out.

    Attributes
    ----------
    title : str
    heads : tuple of str
        The first is that of the names, the others of figures.
    rows : tuple of tuple of str
    note : str
        What stands below it.
    """

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""


def form_tables(found, unit):
    """Write out the form of the machine.

    Parameters
    ----------
    found : Findings
    unit : str
        ``"um"`` or ``"thou"``.

    Returns
    -------
    list of Table
        Without tables that would be empty.
    """
    tables = [
        _straightness(found.straightness, unit),
        _flatness(found.flatness, unit),
        _parallelism(found.parallelism, unit),
        _twist(found.twist),
        _vees(found.vee, unit),
        _coplanarity(found.coplanarity, unit),
    ]
    return [table for table in tables if table.rows]


def option_table(comparison, unit):
    """Write out the options of a decision, what each rests on below its name.

    Parameters
    ----------
    comparison : Comparison
    unit : str
        ``"um"`` or ``"thou"``.

    Returns
    -------
    heads : list of str
        Of the figures.
    rows : list of (str, str, list of str)
        Name, what is to be said of it, figures.
    """
    table = written(comparison.to_dataframe(unit))
    heads = [head for head in table.columns if "[" in head or head == "confidence"]
    rows = []
    for (name, outcome), (_, row) in zip(comparison.outcomes, table.iterrows(), strict=True):
        said = [f"deepest at {row['at']}"] if row["at"] else []
        said += [f"governed by {row['governed by']}"] if row["governed by"] else []
        if isinstance(outcome, MetrolibError):
            said = [f"cannot be done: {outcome}"]
        rows.append((name, "; ".join(said), [row[head] for head in heads]))
    return heads, rows


def _expanded(number, unit):
    """Write an expanded uncertainty, or nothing where nothing is known of it."""
    u = wording.uncertainty(number)
    return "" if u is None else show_length(2 * u, unit)


def _slopes(number):
    """Write a slope, and its expanded uncertainty, in mm/m."""
    u = wording.uncertainty(number)
    shown = round(wording.nominal(number), 4) + 0.0  # no "-0.0000"
    return f"{shown:+.4f}", "" if u is None else f"{2 * u:.4f}"


def _named(name, result):
    """Mark the name of a result whose contacts are tied."""
    return f"{name} *" if result.tied else str(name)


def _below(results):
    """Return the note that the mark asks for."""
    return _TIED if any(result.tied for result in results) else ""


def _straightness(results, unit):
    rows = [
        (
            _named(face, one),
            wording.length(one.value, unit),
            _expanded(one.value, unit),
            wording.listing(f"{one.x[i]:g}" for i in one.contacts),
        )
        for face, one in results.items()
    ]
    heads = ("face", "straightness", "U (k = 2)", "contacts at x [mm]")
    return Table("Straightness (minimum zone)", heads, tuple(rows), _below(results.values()))


def _flatness(results, unit):
    rows = [
        (
            _named(face, one),
            wording.length(one.value, unit),
            _expanded(one.value, unit),
            wording.listing(f"({one.x[i]:g}, {one.y[i]:g})" for i in one.contacts),
        )
        for face, one in results.items()
    ]
    heads = ("face", "flatness", "U (k = 2)", "contacts at (x, y) [mm]")
    return Table("Flatness (minimum zone)", heads, tuple(rows), _below(results.values()))


def _parallelism(results, unit):
    rows = [
        (
            _named(f"{face} to {datum}", one),
            wording.length(one.value, unit),
            _expanded(one.value, unit),
            *_slopes(one.tilt),
            wording.length(one.form, unit),
        )
        for (face, datum), one in results.items()
    ]
    heads = ("face to datum", "parallelism", "U (k = 2)", "tilt [mm/m]", "U (k = 2)", "form alone")
    note = "tilt: positive where the face rises toward +x against the datum"
    note = "; ".join(filter(None, [note, _below(results.values())]))
    return Table("Parallelism along the ways", heads, tuple(rows), note)


def _twist(results):
    rows = []
    for (low, high), one in results.items():
        change, where = "", ""
        if one.largest_change is not None:
            change, _ = _slopes(one.largest_change)
            where = f"{one.largest_change_from:g} to {one.largest_change_to:g}"
        rows.append((f"{low} and {high}", *_slopes(one.value), change, where))
    spans = {f"{one.span:g}" for one in results.values()}
    within = f"most within {wording.listing(sorted(spans))} mm" if spans else ""
    heads = ("faces", "twist, end to end [mm/m]", "U (k = 2)", within, "between x [mm]")
    return Table("Twist", heads, tuple(rows), SIGN_RULE)


def _vees(results, unit):
    rows = [
        (
            f"{low} and {high}",
            *(
                text
                for plane in (one.vertical, one.horizontal)
                for text in (
                    _named(wording.length(plane.value, unit), plane),
                    _expanded(plane.value, unit),
                )
            ),
        )
        for (low, high), one in results.items()
    ]
    heads = ("flanks", "vertical straightness", "U (k = 2)", "horizontal straightness", "U (k = 2)")
    planes = [plane for one in results.values() for plane in (one.vertical, one.horizontal)]
    return Table("Way of a saddle on the vee (minimum zone)", heads, tuple(rows), _below(planes))


def _coplanarity(result, unit):
    if result is None:
        return Table("", (), ())
    rows = []
    for name, face in result.faces.items():
        tilt = ("", "") if face.tilt is None else _slopes(face.tilt)
        height = show_length(wording.nominal(face.height), unit, sign=True)
        rows.append((name, height, _expanded(face.height, unit), *tilt))
    value = wording.measured_length(result.value, unit)
    heads = ("face", "mean height", "U (k = 2)", "tilt [mm/m]", "U (k = 2)")
    title = f"Together: coplanarity {value}; each face against the common plane"
    return Table(title, heads, tuple(rows), _below([result]))
