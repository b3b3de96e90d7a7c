"""What is to be decided: which faces, to what target, under which conditions."""

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Decision:
    """The conditions of a removal, as survey.toml states them.

    Attributes
    ----------
    faces : tuple of str
        Faces that end together.
    together : str
        ``"coplanar"``: one rigid target for all, each at its nominal height;
        ``"parallel"``: each face may be lowered by its own amount.
    datum : tuple of str
        Faces whose direction the target is held to; empty leaves its tilt free.
    tilt_along, tilt_across : float or None
        How far the target may tilt against the datum, along x and along y [mm/m]; 0 holds it
        parallel, None leaves it free.
    clean_up : float
        Least depth that must come off every place [mm].
    band : float
        Tolerance band above the target within which a face may stay as it is [mm].
    confidence : float or None
        Probability that every place cleans up; it sets the guard. None plans without one.
    minimise : str
        ``"volume"`` or ``"deepest cut"``.
    untouchable : tuple of str
        Faces of the group from which nothing may come off.
    greatest_cut : dict of str to float
        Most that may come off a face [mm].
    between_stations : bool
        Whether the guard covers what may hide between the stations too.
    target_height : float or None
        Mean height of the target over the faces, set by hand: above nominal, in the frame of the
        datum, or without one in the frame that fits the faces themselves [mm]. None sets it as
        high as the other conditions allow.
    crown : float
        How much higher the target is in the middle of the ways than at their ends [mm]; below zero
        it is hollow. `metrolib.rebuild.removal.crown.crown_at` tells its shape.
    """

    faces: tuple[str, ...] = ()
    together: str = "coplanar"
    datum: tuple[str, ...] = ()
    tilt_along: float | None = None
    tilt_across: float | None = None
    clean_up: float = 0.0
    band: float = 0.0
    confidence: float | None = 0.95
    minimise: str = "volume"
    untouchable: tuple[str, ...] = ()
    greatest_cut: dict[str, float] = field(default_factory=dict)
    between_stations: bool = False
    target_height: float | None = None
    crown: float = 0.0
