"""Two 6 m rails of a veneer slicer: long level, bridge, taut wire with microscope."""

from sample import COLUMNS, Blunder, Dialect, Leg, Sample, steps
from shapes import bow, bruise, waves, wear

LENGTH, PITCH = 6000.0, 400.0
ALL = steps(0, LENGTH, PITCH)

LOST = {
    "front rail": wear(0.190, 300, 2300, 5600),
    "front rail guide": wear(0.075, 300, 2100, 5600),
    "rear rail": wear(0.110, 300, 2500, 5700),
}

#: The foundation has let the middle down; the rails have long waves; one joint is chipped.
AS_MADE = {
    "front rail": [bow(-0.060, 0, LENGTH), waves(0.004, 1700, 2900), bruise(0.150, 4380, 4420)],
    "front rail guide": [bow(0.012, 0, LENGTH), waves(0.003, 1500, 2700, phase=1)],
    "rear rail": [bow(-0.045, 0, LENGTH), waves(0.004, 1900, 2500, phase=2)],
}


def _form(face):
    return lambda x, y: sum(part(x) for part in AS_MADE[face]) - LOST[face](x)


def long_rails():
    """Return the sample."""
    watch = [{"observer": name} for name in ("first watch", "second watch")]
    legs = []
    for rail in ("front rail", "rear rail"):
        feet = steps(0, LENGTH - PITCH, PITCH)
        legs += [
            Leg(f"level on {rail}", feet, rail, cells=watch[0]),
            Leg(f"level on {rail} turned", feet[::-1], rail, cells=watch[0]),
        ]
    legs += [
        Leg("across the rails", ALL, cells=watch[0]),
        Leg("across the rails turned", (6000.0, 4000.0, 2000.0, 0.0), cells=watch[0]),
    ]
    for face, wire in (
        ("front rail", "wire over front rail"),
        ("front rail guide", "wire beside the guide"),
    ):
        legs += [
            Leg(wire, ALL, face, cells=watch[1]),
            Leg(
                wire,
                ALL[::-1],
                face,
                repeat=2,
                note="second reading, on the way back",
                cells=watch[1],
            ),
        ]
    return Sample(
        name="long_rails",
        seed=6_000_900,
        form={face: _form(face) for face in LOST},
        lost=LOST,
        stations={face: list(ALL) for face in LOST},
        legs=legs,
        blunder=Blunder("across the rails", 5600.0, swapped_sign=True),
        missing=(("wire over front rail", "front rail", 3600.0),),
        motion={"lift": 0.0, "pitch": 0.040, "roll": 0.030},
        hidden={
            "zero": {"long level": -0.021, "900 mm bridge": 0.036},
            "scale": {"long level": -0.012, "wire microscope": 0.001},
        },
        dialect=Dialect(
            columns=(*COLUMNS, "observer"),
            byte_order_mark=True,
            line_end="\r\n",
            comments=("bracket of the drive shaft at 3600: no room for the microscope",),
        ),
    )
