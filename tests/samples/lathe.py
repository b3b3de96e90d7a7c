"""The 1.4 m bed of a toolroom lathe: true shape, hidden errors, way round the machine."""

from sample import Blunder, Leg, Sample, steps
from shapes import bow, bruise, no_wear, waves, wear

LENGTH, PITCH = 1400.0, 100.0
ALL = steps(0, LENGTH, PITCH)
INNER = steps(100, 1300, PITCH)  # where a sled with feet at +-100 mm finds metal

LOST = {
    "front flat": wear(0.120, 60, 360, 1180),
    "rear flat": wear(0.058, 60, 410, 1150),
    "tailstock flat": wear(0.004, 500, 1000, 1380),
    "front flank": wear(0.088, 70, 350, 1200),
    "rear flank": wear(0.036, 70, 380, 1150),
    "underside ledge": no_wear,
    "rear ledge": no_wear,
}

#: What the last rebuild left: long bows, scraper waves; a bruise on the rear flat.
AS_MADE = {
    "front flat": [bow(0.0015, 0, LENGTH), waves(0.0004, 310, 530)],
    "rear flat": [
        bow(0.0010, 0, LENGTH),
        waves(0.0005, 370, 590, phase=1),
        bruise(0.045, 1185, 1215),
    ],
    "tailstock flat": [bow(0.0012, 0, LENGTH), waves(0.0004, 430, 610, phase=2)],
    "front flank": [bow(0.0010, 0, LENGTH), waves(0.0005, 330, 510, phase=3)],
    "rear flank": [bow(-0.0012, 0, LENGTH), waves(0.0005, 350, 570, phase=4)],
    "underside ledge": [bow(-0.0018, 0, LENGTH), waves(0.0005, 290, 470, phase=5)],
    "rear ledge": [bow(0.0014, 0, LENGTH), waves(0.0005, 270, 490, phase=6)],
}


def _form(face):
    return lambda x, y: sum(part(x) for part in AS_MADE[face]) - LOST[face](x)


def _there_and_back(face):
    going, back = f"level on {face}", f"level on {face} turned"
    rear_feet = steps(0, LENGTH - PITCH, PITCH)
    return [Leg(going, rear_feet, face), Leg(back, rear_feet[::-1], face)]


def lathe():
    """Return the sample."""
    legs = [
        leg
        for face in ("front flat", "rear flat", "tailstock flat")
        for leg in _there_and_back(face)
    ]
    on_vee = steps(100, 1200, PITCH)
    legs += [Leg("level on the vee", on_vee), Leg("level on the vee turned", on_vee[::-1])]
    legs += [
        Leg("across front to rear", ALL),
        Leg("across front to rear turned", (1400.0, 1000.0, 700.0, 300.0, 0.0)),
        Leg("across front to tailstock", steps(0, LENGTH, 200)),
        Leg("across front to tailstock turned", (1400.0, 600.0, 0.0)),
        Leg("micrometer over the ledge", ALL, "front flat"),
        Leg("micrometer over the ledge", (1400.0,), "front flat", repeat=2),
        Leg("micrometer over the ledge", (0.0,), "front flat", repeat=2, note="back at the start"),
    ]
    ridden = ("front flat", "rear flat", "underside ledge", "front flank", "rear flank")
    legs += [Leg(f"sled to {face}", INNER, face) for face in ridden]
    legs += [Leg("sled on the vee to tailstock flat", steps(200, 1200, PITCH), "tailstock flat")]
    legs += [Leg("bridge gauge to front flank", INNER, "front flank")]
    legs += [
        Leg("micrometer over the rear ledge", ALL, "rear flat"),
        Leg("micrometer over the rear ledge", (1400.0, 0.0), "rear flat", repeat=2),
        Leg("sled to rear ledge", INNER, "rear ledge"),
    ]
    legs += [Leg("measuring arm", (100.0, 700.0, 1300.0), face) for face in LOST]
    return Sample(
        name="toolroom_lathe",
        seed=140_026,
        form={face: _form(face) for face in LOST},
        lost=LOST,
        stations={face: list(INNER if "flank" in face else ALL) for face in LOST},
        legs=legs,
        blunder=Blunder("sled to front flat", 500.0, "front flat", by=0.020),
        missing=(("sled to rear flat", "rear flat", 900.0),),
        motion={"lift": 0.0, "pitch": 0.031, "roll": -0.024},
        hidden={
            "zero": {
                "block level": 0.011,
                "vee block": -0.007,
                "bridge front to rear": -0.033,
                "bridge front to tailstock": 0.046,
                "micrometer 25-50": 0.0013,
            },
            "scale": {"block level": 0.013, "lever indicator": -0.004},
        },
    )
