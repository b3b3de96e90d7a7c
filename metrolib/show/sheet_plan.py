"""The plan of the ways on a job sheet: bands with large figures, stop readings under each."""

from dataclasses import dataclass

import numpy as np

from metrolib.show.sheet_room import POINT, WIDTH
from metrolib.show.sheet_zones import lanes_of
from metrolib.show.style import HATCHES, text_width, wrapped
from metrolib.units import unit_sign

_NAMES = 37.0  # width of the names at the left [mm]
_LINE = 0.25  # of a cell's frame, which must not be cut off at the edge of the page [mm]

LEAST = 18.0  # the smallest figure of a depth, read from a metre away [points]
_MOST = 48.0
_STOP, _LEAST_STOP = 14.0, 6.0  # figures of stop readings [points]
_FILLED = 0.88  # of the height of its line that such a figure fills
_FACES, _NOTE = (4.4, 3.6, 3.0), 2.9  # letters of a face's name, and of notes under it [mm]
_PLACE = 11.0  # figures of places along the ways [points]
_BOLD = 1.13  # bold figures are so much wider
_BAND, _ROW, _AXIS, _GAP, _KEPT = (10.0, 26.0), (4.6, 8.0), 7.0, 3.2, 7.0  # [mm]


@dataclass(frozen=True)
class Row:
    """The stop readings of one stage on a face.

    Attributes
    ----------
    stage : str
    sign : str
        Unit that they are read in.
    texts : dict of int to str
        By station, as the instrument shows them.
    gauge : str
        What reads them, and where it is set to zero.
    """

    stage: str
    sign: str
    texts: dict[int, str]
    gauge: str


class _Scale:
    """Places along the ways to places on the paper."""

    def __init__(self, first, last):
        self.first, self.last = first, last
        self.factor = (WIDTH - _NAMES - _LINE) / (last - first)

    def __call__(self, x):
        return _NAMES + (x - self.first) * self.factor


def width(text, size):
    """Return how wide a bold figure of so many points is on the paper [mm]."""
    return _BOLD * text_width(text, size) * POINT


def sheet_plans(plan, rows, unit, kept, *, room):
    """Return the plans of a job sheet, one a page, as what the template draws.

    Parameters
    ----------
    plan : RemovalPlan
    rows : dict of str to list of Row
        Stop readings, by face.
    unit : str
        Display unit.
    kept : sequence of (Face, str)
        Faces that must not be touched, and why.
    room : float
        Height that a page has for its plan [mm].

    Returns
    -------
    list of dict
    """
    scale, lanes = _scaled(plan, unit)
    pages = _paged(plan, lanes, rows, kept, room)
    return [_page(plan, part, rows, unit, scale, kept, room) for part in pages]


def screen_plan(plan, unit):
    """Return the plan alone, as low as its figures allow, as what the template draws."""
    scale, lanes = _scaled(plan, unit)
    return _page(plan, lanes, {}, unit, scale, [], 0.0)


def _scaled(plan, unit):
    """Return the scale of a plan, and its lanes with zones wide enough for their figures on it."""
    zones = [zone for lane in lanes_of(plan, unit) for zone in lane.zones]
    scale = _Scale(min(zone.left for zone in zones), max(zone.right for zone in zones))
    return scale, lanes_of(plan, unit, lambda text: (width(text, LEAST) + 1.5) / scale.factor)


def _axes(plan, lanes):
    """Return how many rows of places lanes need: one where they share their stations."""
    return 1 if len({tuple(plan.x[lane.stations]) for lane in lanes}) == 1 else len(lanes)


def _paged(plan, lanes, rows, kept, room):
    """Share lanes out to pages, so that each keeps its least height."""
    room -= _KEPT * len(kept)
    axis = _AXIS * _axes(plan, lanes) / len(lanes)
    pages, used = [[]], 0.0
    for lane in lanes:
        need = axis + _BAND[0] + _GAP + _ROW[0] * len(rows.get(lane.face, ()))
        if pages[-1] and used + need > room:
            pages.append([])
            used = 0.0
        pages[-1].append(lane)
        used += need
    return pages


def _page(plan, lanes, rows, unit, scale, kept, room):
    """Lay out one page."""
    axes = _axes(plan, lanes)
    shared = axes == 1
    lines = sum(len(rows.get(lane.face, ())) for lane in lanes)
    fixed = _AXIS * axes + _GAP * len(lanes) + _KEPT * len(kept)
    least = len(lanes) * _BAND[0] + lines * _ROW[0]
    spare = max(room - fixed - least, 0.0)
    band = min(_BAND[1], _BAND[0] + 0.6 * spare / len(lanes))
    row = min(_ROW[1], _ROW[0] + (0.4 * spare / lines if lines else 0.0))
    drawn, top = [], _AXIS if shared else 0.0
    for lane in lanes:
        top += 0.0 if shared else _AXIS
        drawn.append(_lane(plan, lane, rows.get(lane.face, ()), unit, scale, (top, band, row)))
        top += band + row * len(rows.get(lane.face, ())) + _GAP
    bars = []
    for face, why in sorted(kept, key=lambda item: -item[0].y):
        left, right = scale(face.x_from), scale(face.x_to)
        bars.append({"name": face.name, "why": why, "top": top, "left": left, "right": right})
        top += _KEPT
    return {
        "width": WIDTH,
        "place": _PLACE * POINT,
        "height": top,
        "names": _NAMES,
        "lanes": drawn,
        "kept": bars,
        "governs": bool(plan.governing),
        "lacks": bool(plan.lacking.any()),
        "widened": any(lane.widened for lane in lanes),
        "left_out": bool(plan.left_out.any()),
        "axis": _places(plan, lanes[0], scale, _AXIS) if shared else [],
    }


def _lane(plan, lane, rows, unit, scale, heights):
    """Lay out one lane: its figures, what governs there, and its stop readings."""
    top, band, row = heights
    governing = {item.station: item.role for item in plan.governing}
    greatest = float(plan.depth[~plan.left_out].max(initial=0.0))
    fits = [
        (scale(zone.right) - scale(zone.left) - 1.5) / max(width(zone.text, 1.0), 1e-9)
        for zone in lane.zones
        if zone.text
    ]
    size = float(np.clip(min(fits, default=_MOST), LEAST, min(_MOST, 0.72 * band / POINT)))
    cells = [
        {
            "left": scale(zone.left),
            "width": scale(zone.right) - scale(zone.left),
            "middle": (scale(zone.left) + scale(zone.right)) / 2,
            "text": zone.text,
            "plate": min(
                width(zone.text, size) + 1.4, scale(zone.right) - scale(zone.left) - 3 * _LINE
            ),
            "hatch": _quarter(zone.depth, greatest),
            "governs": [scale(plan.x[i]) for i in zone.stations if i in governing],
            "lacks": bool((plan.lacking[list(zone.stations)] > 0).any()),
        }
        for zone in lane.zones
    ]
    wide = len(np.unique(plan.y[plan.face == lane.face])) > 1
    return {
        "face": lane.face,
        "label": _label(lane.face, [f"y {lane.y:g} mm"] * wide + [row.gauge for row in rows[:1]]),
        "top": top,
        "band": band,
        "size": size * POINT,
        "cells": cells,
        "rows": _stops(plan, lane, rows, scale, top + band, row),
        "axis": _places(plan, lane, scale, top),
        "unit": unit_sign(unit),
    }


def _label(face, notes):
    """Lay out a face's name, in smaller letters where it is long, and what is noted under it.

    Each line is its text, its letters [mm], whether it is bold, how far its foot lies below the
    middle of the band, and whether it is still too long and must be drawn closer.
    """
    for size in _FACES:
        names = wrapped(face, (_NAMES - 2) / POINT, size / POINT).splitlines()
        if len(names) <= 2:
            break
    laid = [(name, size, True) for name in names] + [(note, _NOTE, False) for note in notes]
    foot, lines = -0.58 * sum(high for _, high, _ in laid), []
    for text, high, bold in laid:
        foot += 1.16 * high
        long = text_width(text, high / POINT) * POINT > _NAMES - 2
        lines.append((text, high, bold, foot - 0.28 * high, long))
    return lines


def _quarter(depth, greatest):
    """Return which hatch a depth gets, one for each quarter of the greatest."""
    share = depth / greatest if greatest > 0 else 0.0
    return min(int(share * len(HATCHES)), len(HATCHES) - 1)


def _stops(plan, lane, rows, scale, top, height):
    """Lay out the stop readings below a lane, turned where stations stand close."""
    x = scale(plan.x[lane.stations])
    pitch = float(np.diff(x).min()) if x.size > 1 else WIDTH
    laid = []
    for number, row in enumerate(rows):
        texts = [row.texts.get(int(i), "") for i in lane.stations]
        longest = POINT * max((text_width(text, 1.0) for text in texts), default=1.0)
        size = float(np.clip((pitch - 1.0) / max(longest, 1e-9), _LEAST_STOP, _STOP))
        laid.append(
            {
                "stage": row.stage,
                "sign": row.sign,
                "base": top + height * (number + 0.5),
                "top": top + height * number,
                "height": height,
                "size": min(size * POINT, _FILLED * height),
                "texts": [(place, text) for place, text in zip(x, texts, strict=True) if text],
            }
        )
    return laid


def _places(plan, lane, scale, base):
    """Return the places along the ways that are written above a lane, with room between them."""
    found, end = [], -np.inf
    for x in plan.x[lane.stations]:
        half = width(f"{x:g}", _PLACE) / 2
        if scale(x) - half > end + 0.8:
            found.append((scale(x), f"{x:g}", base - 3.2))
            end = scale(x) + half
    return found
