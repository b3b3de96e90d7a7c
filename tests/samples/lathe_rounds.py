"""The rounds of work on the bed of the toolroom lathe: what file, stone and scraper left.

Metal only comes off: each round leaves the lower of what was there and what the tool was led to.
The first survey's plan sets its target 0.1477 mm below the unworn faces; in the third round the
scraper goes through it at one place of the front flat.
"""

from lathe import ALL, AS_MADE, INNER, LENGTH, LOST, PITCH, _form
from sample import Leg, Sample, steps
from shapes import waves, wear

TARGET = -0.1477
CUT = ("front flat", "rear flat", "tailstock flat")

#: Name of each round, what it leaves above the target, the height of the waves of its tool [mm].
WORK = (
    ("1", 0.045, 0.006),
    ("2", 0.018, 0.003),
    ("3", 0.0045, 0.0012),
    ("4_finished", 0.0, 0.0006),
)

#: Where the scraper went too deep in the third round: chatter at the edge of an oil groove.
TOO_DEEP = {"front flat": wear(0.0075, 820, 900, 980)}


def _led(face, number):
    """Return the height that the tool was led to in a round."""
    _, allowance, amplitude = WORK[number]
    rough = waves(amplitude, 270, 430, phase=number + 2 * CUT.index(face))
    deep = TOO_DEEP.get(face) if WORK[number][0] == "3" else None
    return lambda x: TARGET + allowance + rough(x) - (deep(x) if deep else 0.0)


def _left(face, number):
    """Return the form of a face after a round."""
    before = _form(face)
    if face not in CUT:
        return before
    led = [_led(face, each) for each in range(number + 1)]
    return lambda x, y: min([before(x, y), *(each(x) for each in led)])


def _gone(face, number):
    """Return the metal that wear and work have taken off a face since it was made."""
    after = _left(face, number)
    return lambda x, y=None: sum(part(x) for part in AS_MADE[face]) - after(x, y)


def _stepped(*faces):
    """Return the legs of a level stepped out and, turned, back."""
    feet = steps(0, LENGTH - PITCH, PITCH)
    return [
        leg
        for face in faces
        for leg in (
            Leg(f"level on {face}", feet, face),
            Leg(f"level on {face} turned", feet[::-1], face),
        )
    ]


def _ridden(*faces):
    return [Leg(f"sled to {face}", INNER, face) for face in faces]


_ACROSS = [
    Leg("across front to tailstock", steps(0, LENGTH, 200)),
    Leg("across front to tailstock turned", (1400.0, 600.0, 0.0)),
    Leg("across front to rear", steps(0, LENGTH, 200)),
    Leg("across front to rear turned", (1400.0, 800.0, 0.0)),
]
_MICROMETER = [
    Leg("micrometer over the ledge", ALL, "front flat"),
    Leg("micrometer over the ledge", (1400.0, 0.0), "front flat", repeat=2),
    Leg("micrometer over the rear ledge", ALL, "rear flat"),
    Leg("micrometer over the rear ledge", (1400.0, 0.0), "rear flat", repeat=2),
]
_LATE = [
    *_stepped(*CUT),
    *_ACROSS,
    *_MICROMETER,
    *_ridden("front flat", "rear flat", "underside ledge", "rear ledge"),
]

LEGS = (
    [
        *_stepped("tailstock flat"),
        *_ACROSS,
        *_MICROMETER,
        *_ridden("front flat", "rear flat", "underside ledge"),
    ],
    [
        *_stepped("tailstock flat"),
        *_ACROSS,
        *_MICROMETER,
        *_ridden("front flat", "rear flat", "rear ledge"),
    ],
    _LATE,
    _LATE,
)

#: How the bed stood, and the zeros of the bridges, which were put together anew each time.
STOOD = (
    {"lift": 0.4, "pitch": -0.022, "roll": 0.015},
    {"lift": 0.4, "pitch": 0.008, "roll": -0.031},
    {"lift": 0.3, "pitch": 0.012, "roll": 0.006},
    {"lift": 0.3, "pitch": -0.004, "roll": 0.010},
)
BRIDGES = ((0.021, -0.017), (-0.012, 0.027), (0.006, -0.019), (0.014, 0.009))


def _measured(number):
    """Return the faces that a round's legs reach."""
    named = {leg.face for leg in LEGS[number] if leg.face}
    return [face for face in LOST if face in named | {"underside ledge", "rear ledge", *CUT}]


def _round(number):
    to_rear, to_tailstock = BRIDGES[number]
    return Sample(
        name=f"toolroom_lathe/rounds/{WORK[number][0]}",
        seed=140_127 + number,
        form={face: _left(face, number) for face in LOST},
        lost={face: _gone(face, number) for face in LOST},
        stations={face: list(ALL) for face in _measured(number)},
        legs=LEGS[number],
        blunder=None,
        missing=(),
        motion=STOOD[number],
        hidden={
            "zero": {
                "block level": 0.011,
                "fine level": 0.004,
                "bridge front to rear": to_rear,
                "bridge front to tailstock": to_tailstock,
                "micrometer 25-50": 0.0013,
            },
            "scale": {
                "block level": 0.013,
                "fine level": -0.009,
                "lever indicator": -0.004,
                "plunger indicator": 0.006,
            },
        },
    )


def lathe_rounds():
    """Return the samples of all rounds."""
    return [_round(number) for number in range(len(WORK))]
