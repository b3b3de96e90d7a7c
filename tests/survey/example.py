"""A small survey in order, as text: one bed with two flats and an underside ledge."""

TOML = """\
# Bed of a small lathe, surveyed before any work.
display = "um"

[machine]
name = "Bench lathe"
note = "worn near the headstock"

[faces."front flat"]
y = 0.0                 # mm
width = 40.0
x_from = 0.0
x_to = 1000.0
normal = "up"
nominal_height = 26.15
left_out = [{ x_from = 610, x_to = 640, reason = "oil hole" }]

[faces."rear flat"]
y = 150.0
width = 30.0
x_from = 0.0
x_to = 1000.0

[faces."ledge"]
y = 0.0
width = 20.0
x_from = 0.0
x_to = 1000.0
normal = "down"

[instruments."block level"]
unit = "division"
sensitivity = 0.02
sensitivity_unit = "mm/m"
resolution = 0.2
repeatability = 0.15
range = 20

[instruments.micrometer]
unit = "mm"
resolution = 0.001
repeatability = 0.002

[instruments."dial indicator"]
unit = "um"
resolution = 1
repeatability = 0.8

[straightedges."one metre edge"]
length = 1000
profile_uncertainty = 0.004

[traverses."level on front"]
kind = "level along"
instrument = "block level"
face = "front flat"
foot_spacing = 200

[traverses."across"]
kind = "level across"
instrument = "block level"
face = "front flat"
other_face = "rear flat"

[traverses.thickness]
kind = "micrometer"
instrument = "micrometer"
face = "front flat"
opposite_face = "ledge"

[decision]
faces = ["front flat", "rear flat"]
datum = ["ledge"]       # never wore
band = 0.0              # cut everything

[options."dress the high spots"]
band = 0.02
"""

READINGS = """\
# first day, 19.5 degC
traverse,x,reading,note
level on front,0,1.2,
level on front,200,-0.5,jack moved
level on front,400,0.25,
level on front,600,3,
level on front,800,-1.2,
across,0,2.0,
across,1000,2.5,
thickness,0,26.150,
thickness,500,26.031,
thickness,1000,26.149,
"""


def line_of(text, part):
    """Return the number of the first line that holds `part`."""
    return next(number for number, line in enumerate(text.split("\n"), start=1) if part in line)


def semicolons(text):
    """Return the readings as a spreadsheet with a decimal comma saves them."""
    lines = text.split("\n")
    return "\n".join(
        line if line.startswith("#") else line.replace(",", ";").replace(".", ",") for line in lines
    )
