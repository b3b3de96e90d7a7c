"""Tables of readings from published examples, as the sample surveys carry them."""

#: Eight positions of a mirror carriage of 110 mm, minutes and seconds as printed (Virtual Labs,
#: Mechanical Engineering Department, IIT Kharagpur, "Measurement of alignment using
#: autocollimator", experiment table).
MINUTES_SECONDS = (
    (12, 41),
    (11, 44.5),
    (11, 3.5),
    (10, 41.5),
    (10, 31),
    (9, 51.5),
    (9, 3.5),
    (8, 30.5),
)

#: Positions 1 to 6 of a carriage of 100 mm, seconds of arc (lecture slides "Straightness and
#: flatness", autocollimator method, slides 14-15; position 0 of the table repeats position 1).
FORWARD = (128, 131, 135, 128, 129, 134)
BACKWARD = (132, 135, 139, 128, 131, 134)


def autocollimator():
    """Return readings.csv of the eight positions, in seconds of arc."""
    lines = ["traverse,face,x,reading,note"]
    for k, (minutes, seconds) in enumerate(MINUTES_SECONDS):
        note = f"printed {minutes} min {seconds:g} s"
        lines.append(f"carriage along the way,way,{110 * k},{60 * minutes + seconds:.1f},{note}")
    return "\n".join([*lines, ""])


def forward_backward():
    """Return readings.csv of the six positions, read forward and backward."""
    places = [100 * k for k in range(6)]
    lines = ["traverse,face,x,reading"]
    lines += [f"forward,way,{x},{r}" for x, r in zip(places, FORWARD, strict=True)]
    back = list(zip(places, BACKWARD, strict=True))[::-1]
    lines += [f"backward,way,{x},{r}" for x, r in back]
    return "\n".join([*lines, ""])


PUBLISHED = {
    "published_autocollimator": autocollimator,
    "published_forward_backward": forward_backward,
}
