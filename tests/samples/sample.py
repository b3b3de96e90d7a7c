"""One sample survey: its hidden truth, the way round the machine, and the sheet it makes."""

import csv
import io
import json
import re
import tomllib
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field

from simulate import Bench, Noise, TrueMachine

COLUMNS = ("traverse", "face", "x", "reading", "repeat", "order", "note")


@dataclass(frozen=True)
class Dialect:
    """How the spreadsheet of this shop writes a table."""

    columns: tuple = COLUMNS
    separator: str = ","
    decimal: str = "."
    line_end: str = "\n"
    byte_order_mark: bool = False
    comments: tuple = ()

    def table(self, rows):
        """Return the table as the bytes of a file."""
        text = io.StringIO(newline="")
        text.writelines(f"# {comment}{self.line_end}" for comment in self.comments)
        sheet = csv.DictWriter(
            text,
            self.columns,
            extrasaction="ignore",
            delimiter=self.separator,
            lineterminator=self.line_end,
        )
        sheet.writeheader()
        for row in rows:
            numbers = {"x": f"{row['x']:g}", "reading": row["reading"]}
            numbers = {name: text.replace(".", self.decimal) for name, text in numbers.items()}
            sheet.writerow({**row, **numbers})
        return text.getvalue().encode("utf-8-sig" if self.byte_order_mark else "utf-8")


@dataclass(frozen=True)
class Leg:
    """A run of readings: the stations in the order in which they were visited.

    `face` is what the face column says; None leaves it empty, for the traverse's own face.
    """

    traverse: str
    stations: tuple
    face: str | None = None
    repeat: int = 1
    note: str = ""
    cells: dict = field(default_factory=dict)


@dataclass(frozen=True)
class Blunder:
    """A reading that was booked wrong: by an amount in its own unit, or with its sign swapped."""

    traverse: str
    x: float
    face: str | None = None
    by: float | None = None
    swapped_sign: bool = False

    @property
    def place(self):
        """Traverse, face and x of the reading."""
        return self.traverse, self.face, self.x

    def spoil(self, text):
        """Return what was booked instead of `text`."""
        if self.swapped_sign:
            return text[1:] if text.startswith("-") else "-" + text
        digits = len(text.split(".")[1]) if "." in text else 0
        return f"{float(text) + self.by:.{digits}f}"


@dataclass(frozen=True)
class Sample:
    """What `make_samples` needs to make a folder beside the survey.toml that is kept by hand."""

    name: str
    seed: int
    form: dict[str, Callable]
    lost: dict[str, Callable]
    stations: dict[str, list]
    legs: list
    blunder: Blunder | None
    missing: tuple  # (traverse, face, x) of each reading that was not taken
    motion: dict = field(default_factory=dict)
    hidden: dict = field(default_factory=dict)
    dialect: Dialect = Dialect()

    def make(self, survey_text):
        """Return readings.csv and the truth as bytes."""
        survey = tomllib.loads(survey_text)
        machine = TrueMachine(survey["faces"], self.form, **self.motion)
        bench = Bench(survey, machine, Noise(self.seed), self.hidden)
        rows, spoiled = self._rows(bench)
        truth = json.dumps(self._truth(machine, survey, spoiled), indent=1)
        columns = re.compile(r"\[[^\[\]{}]+\]")  # one line for each list of numbers
        truth = columns.sub(lambda found: " ".join(found[0].split()), truth) + "\n"
        return self.dialect.table(rows), truth.encode()

    def _rows(self, bench):
        rows, spoiled = [], None
        total, done = Counter(), Counter()
        for leg in self.legs:
            total[leg.traverse] += len(leg.stations)
        for leg in self.legs:
            for k, x in enumerate(leg.stations):
                progress = done[leg.traverse] / max(total[leg.traverse] - 1, 1)
                done[leg.traverse] += 1
                text = bench.read(leg.traverse, leg.face, x, progress)
                if (leg.traverse, leg.face, x) in self.missing:
                    continue
                row = {
                    "traverse": leg.traverse,
                    "face": leg.face or "",
                    "x": x,
                    "reading": text,
                    "repeat": leg.repeat,
                    "order": len(rows) + 1,
                    "note": leg.note if k == 0 else "",
                    **leg.cells,
                }
                here = (leg.traverse, leg.face, x)
                if self.blunder is not None and self.blunder.place == here:
                    row["reading"] = self.blunder.spoil(text)
                    spoiled = {"reading": row["reading"], "should_be": text, "order": row["order"]}
                rows.append(row)
        if spoiled is None and self.blunder is not None:
            raise ValueError(f"{self.name}: the blunder is not on the way round the machine")
        return rows, spoiled

    def _truth(self, machine, survey, spoiled):
        faces = {}
        for face, places in self.stations.items():
            y_middle = survey["faces"][face]["y"]
            places = [place if isinstance(place, tuple) else (place, y_middle) for place in places]
            faces[face] = {
                "x": [x for x, _ in places],
                "y": [y for _, y in places],
                "height": [_mm(machine.height(face, x, y)) for x, y in places],
                "form": [_mm(self.form[face](x, y)) for x, y in places],
                "wear": [_mm(self.lost[face](*place)) for place in places],
            }
        names = ("traverse", "face", "x")
        return {
            "units": "mm, mm/m; heights along each face's outward normal",
            "seed": self.seed,
            "motion": self.motion,
            "faces": faces,
            "instruments": {
                what: {name: _known(value) for name, value in self.hidden[what].items()}
                for what in ("zero", "scale", "drift", "profile")
                if what in self.hidden
            },
            "blunder": self.blunder
            and {**dict(zip(names, self.blunder.place, strict=True)), **spoiled},
            "missing": [dict(zip(names, place, strict=True)) for place in self.missing],
        }


def _mm(value):
    """Round to a tenth of a nanometre, so that no machine's last bit shows in the file."""
    return round(float(value), 7) + 0.0


def _known(value):
    """Return a number as it is; a straightedge's profile as places and departures."""
    if not callable(value):
        return value
    places = range(0, 1001, 50)
    return {"along": list(places), "outward": [_mm(value(place)) for place in places]}


def steps(low, high, pitch):
    """Return the stations from low to high, both included; downward when high is the lower."""
    count = round(abs(high - low) / pitch)
    return tuple(low + (high - low) * k / count for k in range(count + 1)) if count else (low,)
