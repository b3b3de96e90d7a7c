"""Faces ranked as datums, by how far off they may be used as they are."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.errors import InputError
from metrolib.form import wording
from metrolib.form.carry import directions, leverage, line_rows, outvoted
from metrolib.form.straightness import Straightness, straightness_of
from metrolib.form.unworn import Unworn, unworn_of
from metrolib.uncertain.linear import Measured, measured_together

# A form error spread evenly over a zone has a standard deviation of its width / sqrt(12).
_EVENLY = np.sqrt(12)


@dataclass(frozen=True, eq=False)
class DatumCandidate:
    """One face as a datum.

    Attributes
    ----------
    face : str
    carry : float
        How far the line through its unworn part may be off, anywhere over the length, as a
        standard uncertainty [mm]: `carry_u` and `carry_form` in quadrature.
    carry_u : float or None
        The part of it from the measurement; None where nothing is known of the uncertainty [mm].
    carry_form : float
        The part of it from the form of the unworn stations [mm].
    whole : float
        The same where an instrument rides the face over its whole length as it is: `carry` and
        the deepest wear in quadrature [mm].
    straightness : Straightness
        Of the unworn stations.
    unworn : Unworn
    against : dict of str to float or `uncertainties` number
        Slope of its line against that of each other candidate [mm/m].
    disagrees_with : tuple of str
        Candidates whose direction differs by more than both lines allow.
    outvoted : bool
        Whether more candidates that agree with each other disagree with it than agree with it.
    """

    face: str
    carry: float
    carry_u: float | None
    carry_form: float
    whole: float
    straightness: Straightness
    unworn: Unworn
    against: dict[str, object]
    disagrees_with: tuple[str, ...]
    outvoted: bool

    @property
    def share(self):
        """Share of its length that is unworn."""
        return self.unworn.share

    def reasons(self, unit="um"):
        """Return what speaks for it and against it, in words and figures, as a tuple."""
        source = f"form {wording.length(self.carry_form, unit)}"
        if self.carry_u is not None:
            source = f"measurement {wording.length(self.carry_u, unit)}, {source}"
        carry = wording.length(self.carry, unit)
        straight = wording.measured_length(self.straightness.value, unit)
        said = [
            f"its line holds within {carry} standard uncertainty ({source})",
            f"its unworn stations are straight within {straight}",
            f"{100 * self.share:.0f} % of its length is unworn",
        ]
        if self.unworn.worn:
            deepest = wording.measured_length(self.unworn.value, unit)
            said.append(
                f"the wear is {deepest} at its deepest, so an instrument that rides it all along "
                f"is out by as much"
            )
        return (*said, self._vote())

    def _vote(self):
        if not self.against:
            return "there is no other candidate to compare its direction with"
        if not self.disagrees_with:
            return "its direction agrees with all others"
        said = f"its direction disagrees with {wording.listing(self.disagrees_with)}"
        if self.outvoted:
            said += ": more of these agree with each other than with it, so most likely it is off"
        return said


@dataclass(frozen=True, eq=False)
class DatumRanking:
    """Faces as datums, the best first.

    Attributes
    ----------
    candidates : tuple of DatumCandidate
    length : (float, float)
        Where the lines must hold: from, to [mm].
    """

    candidates: tuple[DatumCandidate, ...]
    length: tuple[float, float]

    @property
    def best(self):
        """The first candidate."""
        return self.candidates[0]

    def in_words(self, unit="um"):
        """Return a line for each candidate, the best first, with its reasons.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        start, end = self.length
        lines = [f"datums for {start:.10g} to {end:.10g} mm, the best first:"]
        for place, candidate in enumerate(self.candidates, 1):
            lines.append(f"  {place}. {candidate.face}: {'; '.join(candidate.reasons(unit))}")
        return "\n".join(lines)

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return wording.table(
            "Datums, the best first",
            [(candidate.face, "; ".join(candidate.reasons())) for candidate in self.candidates],
        )

    def to_dataframe(self):
        """Return a pandas table, one row for each candidate, the best first; lengths in mm."""
        import pandas as pd

        rows = [
            {
                "face": one.face,
                "used whole [mm]": one.whole,
                "carry [mm]": one.carry,
                "carry from measurement [mm]": one.carry_u,
                "carry from form [mm]": one.carry_form,
                "straightness of unworn part [mm]": wording.nominal(one.straightness.value),
                "unworn share": one.share,
                "deepest wear [mm]": wording.nominal(one.unworn.value),
                "disagrees with": ", ".join(one.disagrees_with),
                "outvoted": one.outvoted,
            }
            for one in self.candidates
        ]
        return pd.DataFrame(rows).set_index("face")


def rank_datums(faces, u=None, *, up=None, length=None, k=2.0, tolerance=0.0):
    """Rank faces as datums by how far off they may be, used as they are.

    Parameters
    ----------
    faces : dict of str to (x, z)
        For each face its stations and heights [mm], each of shape (n_face,), n_face >= 3. The
        heights are floats or `uncertainties` numbers; each face may be counted from its own base.
    u : float or array_like, shape (n,) or (n, n), optional
        Standard uncertainty of all heights [mm], or their joint covariance [mm²], in the order
        of `faces`.
    up : dict of str to float, optional
        Upward part of each face's outward normal, along which its heights are counted: 1 for a
        top, -1 for an underside, cos 45 deg for a flank of a vee; never 0. Directions and how far
        a line carries are told of the vertical movement of what rides on the face; wear is told
        along the normal. All faces look up when not given.
    length : (float, float), optional
        Where the datum's line must hold: from, to [mm]; from the first to the last station of all
        faces when not given.
    k, tolerance : float
        A station is unworn within k u + tolerance of the line, and two directions agree within
        k times their uncertainties + tolerance over the length; see
        `metrolib.form.unworn.unworn`.

    Returns
    -------
    DatumRanking

    Raises
    ------
    InputError
        If there is no face, a face has fewer than three stations or all at one place, lengths
        differ, a number is not finite, a face looks sideways, the length is no stretch, or neither
        an uncertainty nor a tolerance is given.

    Notes
    -----
    Candidates are ranked by `whole`: how far off an instrument is that rides the face all along.
    A worn face may still carry its line well from unworn stretches at both ends: that figure is
    `carry`. Both are lengths, not scores.

    `carry` is the standard uncertainty of the line at that end of the length where it is
    larger. Two things go into it. The measurement: g'Cg of the line at that
    end, counted from what all faces have in common (one tilt, and each face's own height), since
    a tilt of the whole survey puts no datum wrong. The form: the width of the unworn stations'
    zone, taken as evenly spread and independent from station to station, which also tilts the
    line; so a short stretch carries less far than a long one, or than one at each end. Noise is
    part of that width too, so the figure is on the safe side.

    A candidate whose direction is outvoted comes last, whatever its figure: faces made in one
    setting vote against one that was not (common practice, no published source).

    Examples
    --------
    >>> from metrolib.form.datums import rank_datums
    >>> x = [0, 200, 400, 600, 800]
    >>> print(rank_datums({
    ...     "ledge": (x, [0.000, 0.001, 0.000, -0.001, 0.000]),
    ...     "front flat": (x, [0.000, -0.030, -0.040, 0.001, 0.000]),
    ... }, 0.001))
    datums for 0 to 800 mm, the best first:
      1. ledge: its line holds within 0.7 µm standard uncertainty (measurement 0.4 µm, form 0.5 µm);
      its unworn stations are straight within 1.3 µm, U = 2.5 µm (k = 2); 100 % of its length is
      unworn; its direction agrees with all others
      2. front flat: its line holds within 0.9 µm standard uncertainty (measurement 0.7 µm, form
      0.4 µm); its unworn stations are straight within 1.0 µm, U = 2.5 µm (k = 2); 25 % of its
      length is unworn; the wear is 40.3 µm, U = 2.3 µm (k = 2) at its deepest, so an instrument
      that rides it all along is out by as much; its direction agrees with all others
    """
    names, x, parts, heights = _read(faces, u)
    lift = _lifts(names, up)
    ends = start, end = _length(length, x)
    found = [
        unworn_of(x[part], _of_face(heights, part), k=k, tolerance=tolerance) for part in parts
    ]
    forms = [_straightness_of_unworn(one) for one in found]
    form = np.abs(lift) * [wording.nominal(one.value) / _EVENLY for one in forms]

    by_station = np.empty(x.size)
    for part, factor in zip(parts, lift, strict=True):
        by_station[part] = factor
    at_ends, slopes = (rows * by_station for rows in line_rows(found, parts, x, ends))
    carry_form = form * np.sqrt(1 + np.array([leverage(one, ends).max() for one in found]))
    carry_u = np.zeros(len(names))
    if heights.cov is not None:
        variance = np.array([heights.variance(row) for row in at_ends]).reshape(-1, 2)
        carry_u = np.sqrt(np.maximum(variance, 0.0)).max(axis=1)
    against, disagree = directions(heights, slopes, found, form, k, tolerance, end - start, lift)

    carry = np.hypot(carry_form, carry_u)
    wear = [max(wording.nominal(one.value), 0.0) if one.worn else 0.0 for one in found]
    wear *= np.abs(lift)
    candidates = [
        DatumCandidate(
            face=name,
            carry=float(carry[i]),
            carry_u=None if heights.cov is None else float(carry_u[i]),
            carry_form=float(carry_form[i]),
            whole=float(np.hypot(carry[i], wear[i])),
            straightness=forms[i],
            unworn=found[i],
            against={names[j]: number for j, number in against[i].items()},
            disagrees_with=tuple(names[j] for j in np.flatnonzero(disagree[i])),
            outvoted=outvoted(disagree, i),
        )
        for i, name in enumerate(names)
    ]
    candidates.sort(key=lambda one: (one.outvoted, one.whole))
    return DatumRanking(tuple(candidates), ends)


def _read(faces, u):
    """Return the names, all stations, the places of each face among them, and the heights."""
    if not faces:
        raise InputError("faces: none given; give at least one face with its x and z")
    all_x = []
    for name, (x, _) in faces.items():
        x = checks.vector(f"x of {name!r}", x, least=3)
        if np.ptp(x) == 0:
            raise checks.wrong(
                f"x of {name!r}", "all stations at one place", x.size, "measure at several places"
            )
        all_x.append(x)
    heights = measured_together({f"z of {name!r}": z for name, (_, z) in faces.items()}, u)
    for x, (name, (_, z)) in zip(all_x, faces.items(), strict=True):
        checks.same_length(**{f"x of {name!r}": x, f"z of {name!r}": z})
    parts = np.split(np.arange(heights.values.size), np.cumsum([x.size for x in all_x])[:-1])
    return list(faces), np.concatenate(all_x), parts, heights


def _lifts(names, up):
    """Return how far what rides on each face is lifted, vertically, by 1 along its normal."""
    up = dict.fromkeys(names, 1.0) if up is None else up
    for name in names:
        checks.choice("up", name, up)
        if checks.number(f"up of {name!r}", up[name]) == 0:
            raise checks.wrong(
                f"up of {name!r}", "nothing rides on a side face", 0, "leave the face out"
            )
    return np.array([1 / up[name] for name in names])


def _length(length, x):
    if length is None:
        return float(x.min()), float(x.max())
    start, end = (checks.number("length", end) for end in length)
    if end <= start:
        raise checks.wrong("length", "it is no stretch", length, "give (from, to) in ascending x")
    return start, end


def _of_face(heights, part):
    """Return the heights of one face."""
    cov, numbers = heights.cov, heights.numbers
    if cov is not None:
        cov = cov[part] if cov.ndim == 1 else cov[np.ix_(part, part)]
    return Measured(heights.values[part], cov, None if numbers is None else numbers[part])


def _straightness_of_unworn(found):
    """Return the minimum-zone straightness of the unworn stations."""
    stations = np.flatnonzero(found.stations)
    heights = _of_face(found.deviations.heights, stations)
    return straightness_of(found.x[stations], heights, "minimum zone")
