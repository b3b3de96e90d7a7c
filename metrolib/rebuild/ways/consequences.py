"""Consequences of a plan: how far what rides on the faces drops, hangs and goes out of line."""

import numpy as np

from metrolib import checks
from metrolib.errors import MetrolibError
from metrolib.rebuild.lowering.centres import centre_offset
from metrolib.rebuild.lowering.drive import drive_offsets
from metrolib.rebuild.lowering.lowering import lowering
from metrolib.rebuild.lowering.lowering_words import numbers
from metrolib.survey.carried import Carried, Drive


def consequences(plan, carried, drive=None):
    """Tell what a plan does to what rides on the faces, a length for each thing that moves.

    Parameters
    ----------
    plan : RemovalPlan
    carried : mapping of str to Carried
        By name; those named ``saddle``, ``headstock`` and ``tailstock`` are asked for what `drive`
        tells of them.
    drive : Drive, optional

    Returns
    -------
    dict of str to float
        The most that each body drops, and that it stands off a face which should carry it; the
        half-nut against the lead screw, and the tailstock's centre over the headstock's, each
        where it is furthest off [mm]. What cannot be told is left out.

    Notes
    -----
    From the faces as measured to the faces as planned, by `lowering`, `drive_offsets` and
    `centre_offset`, which tell all places and how sure each figure is.
    """
    down, told = {}, {}
    for name, body in carried.items():
        moved = _unless_unknown(lambda body=body: lowering(body, plan.heights.faces, plan))
        if moved is None or moved.drop is None:
            continue
        down[name] = moved
        told[f"{name} drops"] = _furthest(moved.drop)
        told[f"{name} stands off a face by"] = max(moved.hangs.values(), default=0.0)
    if drive is None:
        return told
    if "saddle" in down and drive.lead_screw is not None:
        offsets = _unless_unknown(lambda: drive_offsets(down["saddle"], drive))
        if offsets is not None:
            told["half-nut over the lead screw"] = _furthest(offsets.screw_height)
    if {"headstock", "tailstock"} <= down.keys():
        stock = _unless_unknown(lambda: centre_offset(down["headstock"], down["tailstock"], drive))
        if stock is not None:
            told["tailstock centre over the headstock's"] = _furthest(stock.height)
    return told


def check_carried(carried, drive):
    """Refuse what describes nothing that rides on faces."""
    if not all(isinstance(body, Carried) for body in carried.values()):
        raise checks.wrong(
            "carried", "each must be a Carried", carried, "give them by name, as a survey does"
        )
    if drive is not None and not isinstance(drive, Drive):
        raise checks.wrong(
            "drive", "a Drive is needed", repr(drive), "describe it, or leave it out"
        )
    if drive is not None and not carried:
        raise checks.wrong("drive", "it says nothing without what rides", "no carried", "give both")


def _furthest(lengths):
    """Return the length furthest from nothing, with its sign."""
    plain = numbers(lengths)
    return float(plain[np.abs(plain).argmax()])


def _unless_unknown(make):
    """Return what is made, or None where it cannot be told of this plan."""
    try:
        return make()
    except MetrolibError:
        return None
