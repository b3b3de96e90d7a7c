"""Bearing from photographs: made pictures of faces whose spots are known."""

import numpy as np
import pytest
from PIL import Image
from scipy import ndimage

from metrolib.errors import InputError
from metrolib.rebuild.bearing.bearing_photo import bearing_from_photo
from metrolib.rebuild.bearing.photo_file import brightness
from metrolib.rebuild.bearing.photo_light import even_light
from tests.samples.blued_face import CAMERA, FACE, PHOTO, Camera, lattice, sample_photo, strewn

STREWN = strewn(110.0, 60.0, 145, seed=3)


def corners_of(face, camera, low=(0.0, 0.0), high=None):
    (x0, y0), (x1, y1) = low, high or (face.length, face.width)
    return camera.at(face, [[x0, y0], [x1, y0], [x1, y1], [x0, y1]])


def measure(face, camera, picture, **choices):
    corners = corners_of(face, camera)
    return bearing_from_photo(picture, (corners[0], corners[1], face.length), corners, **choices)


def true_share(face, corner, side, rows, columns):
    """Return the share of spots in each square, by counting a fine grid of points."""
    points = (np.arange(250) + 0.5) / 250 * side
    shares = []
    for j in range(rows):
        for i in range(columns):
            x, y = corner[0] + i * side + points, corner[1] + j * side + points[:, None]
            held = np.zeros((250, 250), dtype=bool)
            for spot in range(len(face.centres)):
                held |= face.on_spot(spot, x, y)
            shares.append(held.mean())
    return np.array(shares)


@pytest.mark.parametrize("radius", [1.0, 1.5, 2.4])
def test_discs_in_rows_and_columns(radius):
    face, camera = lattice(96.0, 48.0, 6.0, radius), Camera(per_mm=8.0)
    bearing = measure(face, camera, camera.take(face), square=24.0)
    assert bearing.counts.tolist() == [16] * 8
    assert bearing.value.n == pytest.approx(16 * (25 / 24) ** 2)
    # the half-height edge of a disc of radius r under a blur b moves inward by about b² / 2 r
    blur = 0.25 * 2 * np.sqrt(0.5 / np.pi)
    inward = blur**2 / 2 / radius
    share = np.pi * radius**2 / 36
    assert bearing.share.n == pytest.approx(share, rel=2 * inward / radius + 0.01)


@pytest.mark.parametrize(
    ("camera", "light"),
    [
        (Camera(), {}),
        (Camera(per_mm=7.0, turned=33.0), {"slope": (0.9, 0.3), "shade": 0.3, "noise": 0.04}),
        (Camera(per_mm=5.0, turned=-90.0), {"slope": (-0.6, 0.5), "noise": 0.02}),
        (Camera(per_mm=8.0, turned=180.0), {"slope": (0.3, -0.3), "noise": 0.06}),
    ],
)
def test_spots_are_found_in_any_light_turn_and_scale(camera, light):
    bearing = measure(STREWN, camera, camera.take(STREWN, **light))
    corner = (5.0, 5.0)  # four by two squares in the middle of 110 by 60
    assert np.abs(bearing.counts - STREWN.counts(25.0, corner, 2, 4)).max() <= 1
    truth = true_share(STREWN, corner, 25.0, 2, 4)
    assert np.abs(bearing.shares - truth).max() < 0.02
    assert abs(bearing.share.n - truth.mean()) < 3 * bearing.share.s


def test_one_threshold_for_all_would_fail_in_that_light():
    # spots at the bright end are as bright as bare ground at the dark one
    camera = Camera(per_mm=6.0)
    picture = camera.take(STREWN, slope=(0.9, 0.0))
    edge = int(camera.rim * camera.per_mm)
    red = picture[edge:-edge, edge:-edge, 0]
    assert np.percentile(red[:, -40:], 5) > 0.95 * np.percentile(red[:, :40], 70)
    bearing = measure(STREWN, camera, picture)
    assert np.abs(bearing.counts - STREWN.counts(25.0, (5.0, 5.0), 2, 4)).max() <= 1


def test_evened_light_is_the_ratio_of_reflectances():
    face, camera = lattice(100.0, 50.0, 8.0, 2.5), Camera(per_mm=4.0, rim=0.0)
    grey = brightness(camera.take(face, slope=(0.5, 0.3)), "blue")
    evened = even_light(grey, np.ones(grey.shape, dtype=bool), 100.0, dark=True, blur=1.0)
    # iron reflects 0.66 of red, ink on it 0.29
    assert 1 + evened.contrast == pytest.approx(0.29 / 0.66, abs=0.03)
    assert np.median(evened.ratio[evened.ratio > 0.6]) == pytest.approx(1.0, abs=0.03)


def test_spots_across_the_sides_of_a_part_are_counted_by_their_middle():
    camera = Camera()
    low, high = (17.0, 4.0), (92.0, 54.0)  # just three by two squares
    area = corners_of(STREWN, camera, low, high)
    bearing = bearing_from_photo(camera.take(STREWN), (area[0], area[1], 75.0), area)
    assert bearing.counts.tolist() == STREWN.counts(25.0, low, 2, 3).tolist()


def test_where_the_picture_cuts_spots_gain_and_loss_are_even():
    camera, gained = Camera(per_mm=5.0), []
    picture = camera.take(STREWN)
    for shift in range(8):
        x, y = 4 + 4 * shift, 4 + 0.5 * shift
        left, top = (camera.at(STREWN, [[x, y]])[0]).astype(int)
        part = picture[top : top + 250, left : left + 250]  # 50 by 50 mm
        found = bearing_from_photo(part, ((0, 0), (250, 0), 50.0))
        gained.append(found.counts.sum() - STREWN.counts(50.0, (x, y)).sum())
    # some 12 of 55 spots are cut each time; counted by what is seen of them, 6 were too many
    assert abs(np.mean(gained)) < 2


def test_glare_leaves_its_square_out_and_no_other():
    camera = Camera()
    picture = camera.take(STREWN, glare=(17.0, 17.0, 4.0))
    bearing = measure(STREWN, camera, picture)
    assert bearing.photo.counted.tolist() == [False] + [True] * 7
    assert "from 7 squares; 1 left out under glare" in str(bearing)
    truth = STREWN.counts(25.0, (5.0, 5.0), 2, 4)[1:]
    assert np.abs(bearing.counts - truth).max() <= 1


def test_rubbed_spots_that_shine():
    camera = Camera(per_mm=5.0)
    picture = (255 - camera.take(STREWN)[:, :, 0]).astype(np.uint8)
    bearing = measure(STREWN, camera, picture, spots="bright")
    assert np.abs(bearing.counts - STREWN.counts(25.0, (5.0, 5.0), 2, 4)).max() <= 1


def test_red_ink_is_seen_in_the_other_light():
    camera = Camera(per_mm=5.0)
    picture = camera.take(STREWN)[:, :, ::-1]  # what was blue is red
    bearing = measure(STREWN, camera, picture, ink="red")
    assert np.abs(bearing.counts - STREWN.counts(25.0, (5.0, 5.0), 2, 4)).max() <= 1


def scraper_marks(shape, depth):
    """Return a factor on the light: streaks at 45 degrees, some millimetres long."""
    streaks = ndimage.gaussian_filter(np.random.default_rng(0).standard_normal(shape), (2.0, 9.0))
    streaks = ndimage.rotate(streaks / streaks.std(), 45, reshape=False, mode="reflect")
    return 1 + depth * streaks[..., None]


def test_scraper_marks_raise_the_uncertainty_and_at_last_forbid_the_count():
    camera = Camera(per_mm=7.0, turned=12.0)
    picture = camera.take(STREWN, slope=(0.6, 0.2), noise=0.02)
    truth = STREWN.counts(25.0, (5.0, 5.0), 2, 4)

    def marked(depth):
        marks = scraper_marks(picture.shape[:2], depth)
        return measure(STREWN, camera, np.clip(picture * marks, 0, 255).astype(np.uint8))

    fine, coarse = marked(0.05), marked(0.12)
    assert np.abs(fine.counts - truth).max() <= 1
    assert coarse.parts["what counts as a spot"] > 0.5 > fine.parts.get("what counts as a spot", 0)
    assert abs(coarse.value.n - truth.mean()) < 2 * coarse.parts["what counts as a spot"]
    with pytest.raises(InputError, match="cannot be told apart"):
        marked(0.2)


def test_the_area_may_be_given_either_way_round_and_have_any_corners():
    camera = Camera(per_mm=5.0, turned=20.0)
    picture = camera.take(STREWN)
    corners = corners_of(STREWN, camera)
    scale = (corners[0], corners[1], STREWN.length)
    found = [
        bearing_from_photo(picture, scale, area).counts.sum()
        for area in (corners, corners[[1, 0, 3, 2]], corners[[2, 3, 0, 1]])
    ]
    assert len(set(found)) == 1
    # a corner cut off by 20 by 20 mm: its square has no room
    five = camera.at(STREWN, [[0, 0], [90, 0], [110, 20], [110, 60], [0, 60]])
    bearing = bearing_from_photo(picture, scale, five)
    truth = STREWN.counts(25.0, (5.0, 5.0), 2, 4)
    assert np.abs(bearing.counts - np.delete(truth, 3)).max() <= 1


def test_touching_spots_show_in_the_uncertainty():
    face = lattice(96.0, 48.0, 6.0, 1.9)
    pairs = face.centres.copy()
    pairs[::2, 0] += 2.3  # every second one moves to its neighbour: waists of 0.9 mm
    camera = Camera(per_mm=8.0)
    apart = measure(face, camera, camera.take(face), square=24.0)
    touching = type(face)(96.0, 48.0, pairs, face.half_axes, face.turned)
    together = measure(touching, camera, camera.take(touching), square=24.0)
    assert apart.photo.otherwise["as read"][0] == 16
    counts = {name: mean for name, (mean, _) in together.photo.otherwise.items()}
    assert (counts["as read"], counts["cut at their waists"]) == (8, 16)
    # 8 as read of an even spread from 8 to 16: its second moment about 8 is 8² / 3
    assert together.parts["what counts as a spot"] == pytest.approx(8 / 3**0.5 * (25 / 24) ** 2)
    assert apart.parts.get("what counts as a spot", 0) < 0.1


def test_u_of_the_scale_follows_the_clicks():
    camera = Camera()
    picture = camera.take(STREWN)
    near, far = (measure(STREWN, camera, picture, u_click=u) for u in (1.0, 4.0))
    # two clicks over 660 pixels; spots on a square go with the square of the scale
    assert near.parts["scale"] == pytest.approx(near.value.n * 2 * np.sqrt(2) / 660, rel=1e-3)
    assert far.parts["scale"] == pytest.approx(4 * near.parts["scale"])


def test_scale_of_the_scene_does_not_matter():
    # the same pixels, told to be twice as large: a quarter of the spots per square
    camera = Camera(per_mm=6.0)
    picture, corners = camera.take(STREWN), corners_of(STREWN, camera)
    plain = bearing_from_photo(picture, (corners[0], corners[1], 110.0), corners)
    larger = bearing_from_photo(
        picture, (corners[0], corners[1], 220.0), corners, square=50.0, smallest=2.0, window=50.0
    )
    assert larger.counts.tolist() == plain.counts.tolist()
    assert larger.value.n == pytest.approx(plain.value.n / 4)


def test_the_sample_photograph_is_the_one_that_is_made_and_tells_its_truth():
    with Image.open(PHOTO) as picture:
        stored = np.asarray(picture.convert("RGB")).astype(float)
    made = sample_photo().astype(float)
    assert stored.shape == made.shape
    assert np.abs(stored - made).mean() < 6  # what the compression of the file changes
    corners = corners_of(FACE, CAMERA)
    bearing = bearing_from_photo(PHOTO, (corners[0], corners[1], FACE.length), corners)
    truth = FACE.counts(25.0, (2.5, 2.5), 1, 7)
    assert bearing.photo.counted.tolist() == [True, True, False, True, True, True, True]
    assert np.abs(bearing.counts - truth[bearing.photo.counted]).max() <= 1


def test_a_file_an_array_and_floats_are_one(tmp_path):
    camera = Camera(per_mm=5.0)
    picture = camera.take(STREWN)
    Image.fromarray(picture).save(tmp_path / "face.png")
    from_file = measure(STREWN, camera, str(tmp_path / "face.png"))
    from_array = measure(STREWN, camera, picture)
    from_floats = measure(STREWN, camera, picture / 255)
    assert from_file.counts.tolist() == from_array.counts.tolist() == from_floats.counts.tolist()


def test_a_picture_lies_as_the_camera_says(tmp_path):
    exif = Image.Exif()
    exif[0x0112] = 6  # to be turned a quarter to the right
    Image.fromarray(np.zeros((20, 30), dtype=np.uint8)).save(tmp_path / "a.jpg", exif=exif)
    assert brightness(tmp_path / "a.jpg", "blue").shape == (30, 20)


def _noise():
    return np.random.default_rng(1).normal(0.5, 0.05, (300, 600)).clip(0, 1)


SCALE = ((0, 0), (600, 0), 100.0)


@pytest.mark.parametrize(
    ("photo", "scale", "choices", "words"),
    [
        (_noise(), SCALE, {}, "cannot be told apart.*softer light"),
        (np.full((300, 600), 0.5), SCALE, {}, "cannot be told apart"),
        (np.linspace(0.2, 0.9, 600) * np.ones((300, 1)), SCALE, {}, "cannot be told apart"),
        (_noise(), ((5, 5), (5, 5), 10), {}, r"scale: both points are the same, got \[5.0, 5.0\]"),
        (_noise(), ((0, 0), (700, 0), 10), {}, "scale: a point lies outside the picture of 600 by"),
        (_noise(), ((0, 0), (600, 0), 0), {}, "scale: it must be above 0"),
        (_noise(), 6.0, {}, "two points and their distance are needed"),
        (_noise(), SCALE, {"area": [(0, 0), (601, 0), (9, 9)]}, "area: a corner lies outside"),
        (_noise(), SCALE, {"area": [(0, 0), (9, 9)]}, "three corners or more"),
        (_noise(), SCALE, {"area": [(0, 0), (99, 99), (99, 0), (0, 99)]}, "cross or turn inward"),
        (_noise(), SCALE, {"area": [(0, 0), (90, 0), (90, 90)]}, "no whole square of 25 mm fits"),
        (_noise(), ((0, 0), (60, 0), 100.0), {}, "3 pixels across.*from nearer"),
        (np.ones((300, 600)), SCALE, {}, "full white covers too much of every square"),
        (_noise(), SCALE, {"ink": "green"}, "ink: this is not one of the choices"),
        (_noise(), SCALE, {"spots": "round"}, "spots: this is not one of the choices"),
        (_noise() * 3, SCALE, {}, "brightness lies outside its range"),
        (np.zeros((4, 4, 2)), SCALE, {}, "rows and columns of grey or colour"),
        (np.zeros((0, 4)), SCALE, {}, "the picture is empty"),
        ("no such file.jpg", SCALE, {}, "'no such file.jpg' cannot be read as a picture"),
    ],
)
def test_refusals(photo, scale, choices, words):
    with pytest.raises(InputError, match=words):
        bearing_from_photo(photo, scale, **choices)
