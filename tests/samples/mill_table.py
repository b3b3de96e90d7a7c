"""Flat ways of a small milling machine's knee, surveyed by straightedge reversal."""

from sample import Blunder, Dialect, Leg, Sample, steps
from shapes import bow, no_wear, waves, wear

ALL = steps(0, 700, 50)
SOME = steps(0, 700, 100)
ENDS_AND_MIDDLE = (700.0, 350.0, 0.0)

LOST = {
    "left strip": no_wear,
    "left way": wear(0.062, 40, 340, 680, sharpness=2.0),
    "right way": wear(0.041, 40, 380, 690, sharpness=2.0),
    "right strip": no_wear,
}
AS_MADE = {
    "left strip": [bow(0.0020, 0, 700), waves(0.0004, 190, 310)],
    "left way": [bow(0.0010, 0, 700), waves(0.0004, 170, 290, phase=1)],
    "right way": [bow(0.0012, 0, 700), waves(0.0004, 210, 330, phase=2)],
    "right strip": [bow(0.0015, 0, 700), waves(0.0004, 180, 270, phase=3)],
}


def _form(face):
    return lambda x, y: sum(part(x) for part in AS_MADE[face]) - LOST[face](x)


def _sole(along):
    """Return the straightedge's own shape: hollow, most near its zero end; outward positive."""
    return bow(-0.0035, 0, 750)(along) - waves(0.0035, 750)(along)


def _across(name, stations):
    return [
        Leg(f"across {name}", stations),
        Leg(f"across {name} turned", ENDS_AND_MIDDLE),
    ]


def mill_table():
    """Return the sample."""
    legs = []
    for face, second in (
        ("left way", "sole up"),
        ("right way", "sole up"),
        ("left strip", "end for end"),
    ):
        first = f"edge on {face} sole down"
        legs += [
            Leg(first, ALL, face),
            Leg(first, (0.0,), face, repeat=2, note="back at the start"),
            Leg(f"edge on {face} {second}", ALL, face),
        ]
    legs += [
        *(
            Leg(f"feelers on {face}", ALL, face, note="middle of go and no-go leaf")
            for face in ("right strip", "right way")
        ),
        *_across("strip to strip", ALL),
        *_across("way to way", ALL),
        *_across("left strip to right way", SOME),
        *_across("left way to right strip", SOME),
    ]
    return Sample(
        name="milling_table",
        seed=700_230,
        form={face: _form(face) for face in LOST},
        lost=LOST,
        stations={face: list(ALL) for face in LOST},
        legs=legs,
        blunder=Blunder("edge on left way sole up", 250.0, "left way", by=0.020),
        missing=(("edge on right way sole up", "right way", 600.0),),
        motion={"lift": 0.0, "pitch": -0.018, "roll": 0.042},
        hidden={
            "zero": {
                "bridge 260": 0.021,
                "bridge 200": -0.034,
                "bridge 230 left": 0.008,
                "bridge 230 right": -0.015,
            },
            "scale": {"electronic level": -0.006, "dial indicator": 0.005},
            "drift": {
                "edge on left way sole down": 0.0024,
                "edge on right way sole down": -0.0015,
                "edge on left strip sole down": 0.0010,
            },
            "profile": {"750 mm edge": _sole},
            "stands": {"feelers on right strip": 0.52, "feelers on right way": 0.51},
        },
        dialect=Dialect(
            columns=("traverse", "face", "x", "reading", "repeat", "note"),
            separator=";",
            decimal=",",
            line_end="\r\n",
        ),
    )
