"""A blued face with known spots, and what a camera would make of it.

Run it from the project's folder, ``python tests/samples/blued_face.py``, to make the sample's
photograph again. Nothing here is taken from the library.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

PHOTO = Path(__file__).resolve().parents[2] / "sample_surveys/toolroom_lathe/rear_flat_blued.jpg"

IRON = np.array([0.66, 0.65, 0.62])
BLUE = np.array([0.29, 0.37, 0.53])  # a thin film, the iron shines through


@dataclass(frozen=True)
class BluedFace:
    """Spots on a face: elliptic, apart from each other, in mm from its corner."""

    length: float
    width: float
    centres: np.ndarray  # (k, 2)
    half_axes: np.ndarray  # (k, 2)
    turned: np.ndarray  # (k,) rad

    @property
    def areas(self):
        return np.pi * self.half_axes.prod(axis=1)

    def on_spot(self, spot, x, y):
        """Tell which places lie on a spot."""
        (dx, dy), turn = (x - self.centres[spot, 0], y - self.centres[spot, 1]), self.turned[spot]
        along = dx * np.cos(turn) + dy * np.sin(turn)
        across = dy * np.cos(turn) - dx * np.sin(turn)
        a, b = self.half_axes[spot]
        return (along / a) ** 2 + (across / b) ** 2 < 1

    def counts(self, square, corner=(0.0, 0.0), rows=1, columns=1):
        """Return how many middles lie in each square, row by row."""
        place = np.floor((self.centres - corner) / square).astype(int)
        return np.array(
            [(place == (i, j)).all(axis=1).sum() for j in range(rows) for i in range(columns)]
        )


def strewn(length, width, count, seed, *, half=(1.3, 2.6), gap=0.9, patchy=0.0):
    """Return a face on which so many spots keep their distance.

    `patchy` from 0 to 1 thins them out from one end to the other.
    """
    random = np.random.default_rng(seed)
    centres, sizes = [], []
    while len(centres) < count:
        place = random.uniform((0, 0), (length, width))
        long = random.uniform(*half)
        if random.uniform() < patchy * place[0] / length:
            continue
        if all(
            np.hypot(*(place - c)) > long + s + gap for c, s in zip(centres, sizes, strict=True)
        ):
            centres.append(place)
            sizes.append(long)
    long = np.array(sizes)
    half_axes = np.column_stack([long, long * random.uniform(0.6, 1.0, count)])
    return BluedFace(length, width, np.array(centres), half_axes, random.uniform(0, np.pi, count))


def lattice(length, width, pitch, radius):
    """Return a face of discs in rows and columns, half a pitch from its sides."""
    x = np.arange(pitch / 2, length, pitch)
    y = np.arange(pitch / 2, width, pitch)
    centres = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    return BluedFace(length, width, centres, np.full(centres.shape, radius), np.zeros(len(centres)))


@dataclass(frozen=True)
class Camera:
    """How the picture is taken: pixels to a mm, turn of the face [deg], rim around it [mm]."""

    per_mm: float = 6.0
    turned: float = 0.0
    rim: float = 4.0

    def at(self, face, points):
        """Return where places of a face [mm] lie in the picture, across and down [pixels]."""
        turn = np.deg2rad(self.turned)
        turning = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
        corners = np.array([[0, 0], [face.length, 0], [face.length, face.width], [0, face.width]])
        low = (corners @ turning.T).min(axis=0) - self.rim
        return (np.asarray(points, dtype=float) @ turning.T - low) * self.per_mm

    def size(self, face):
        """Return columns and rows of the picture."""
        corners = [[0, 0], [face.length, 0], [face.length, face.width], [0, face.width]]
        return np.ceil(self.at(face, corners).max(axis=0) + self.rim * self.per_mm).astype(int)

    def take(self, face, *, slope=(0.0, 0.0), shade=0.0, glare=None, noise=0.0, seed=0):
        """Return the picture, whole numbers 0 to 255, shape (rows, columns, 3).

        Parameters
        ----------
        slope : (float, float)
            By how much the light grows across and down the whole picture, of its middle.
        shade : float
            How much darker its corners are than its middle.
        glare : (x, y, radius), optional
            Where a lamp is mirrored [mm].
        noise : float
            Standard deviation of each pixel, of full white.
        """
        columns, rows = self.size(face)
        fine = 3  # pictures three times as fine are averaged, for soft edges
        across, down = ((np.arange(n * fine) + 0.5) / fine for n in (columns, rows))
        x, y = self._on_face(face, across, down[:, None])
        on = (x > 0) & (x < face.length) & (y > 0) & (y < face.width)
        blue = np.zeros(on.shape, dtype=bool)
        for spot, middle in enumerate(self.at(face, face.centres)):
            reach = face.half_axes[spot].max() * self.per_mm
            near = tuple(
                slice(max(int(fine * (at - reach)), 0), int(fine * (at + reach)) + 2)
                for at in middle[::-1]
            )
            blue[near] |= face.on_spot(spot, x[near], y[near])
        share, metal = (
            mask.reshape(rows, fine, columns, fine).mean(axis=(1, 3)) for mask in (blue & on, on)
        )
        colour = IRON + share[..., None] * (BLUE - IRON)
        colour = 0.16 + metal[..., None] * (colour - 0.16)  # the dark bench around it
        u = (np.arange(columns) + 0.5) / columns - 0.5
        v = (np.arange(rows)[:, None] + 0.5) / rows - 0.5
        light = (1 + slope[0] * u + slope[1] * v) * (1 - 2 * shade * (u**2 + v**2))
        colour = colour * light[..., None]
        if glare is not None:
            middle = self.at(face, glare[:2])
            pixels = np.stack(np.meshgrid(np.arange(columns), np.arange(rows)))
            away = np.hypot(*(pixels - middle[:, None, None]))
            colour = colour + np.clip(2.0 - away / (glare[2] * self.per_mm), 0, 1)[..., None]
        random = np.random.default_rng(seed)
        colour = colour + noise * random.standard_normal((rows, columns, 1))
        return np.clip(np.round(255 * colour), 0, 255).astype(np.uint8)

    def _on_face(self, face, across, down):
        turn = np.deg2rad(self.turned)
        start = self.at(face, [[0.0, 0.0]])[0]
        dx, dy = (across - start[0]) / self.per_mm, (down - start[1]) / self.per_mm
        return dx * np.cos(turn) + dy * np.sin(turn), dy * np.cos(turn) - dx * np.sin(turn)


#: The rear flat of the toolroom lathe, 30 mm wide, from the tailstock end: a third evener than the
#: rest. Turned a little, as a hand-held picture is, and lit by a window at the right.
FACE = strewn(180.0, 30.0, 104, seed=25, half=(1.6, 2.9), gap=0.5, patchy=0.35)
CAMERA = Camera(per_mm=6.0, turned=2.5, rim=5.0)


def sample_photo():
    """Return the sample's photograph."""
    return CAMERA.take(
        FACE, slope=(0.95, -0.15), shade=0.25, glare=(63.0, 21.0, 3.5), noise=0.03, seed=3
    )


if __name__ == "__main__":
    from PIL import Image

    Image.fromarray(sample_photo()).save(PHOTO, quality=88)
    corners = [[0, 0], [FACE.length, 0], [FACE.length, FACE.width], [0, FACE.width]]
    print("corners of the face", CAMERA.at(FACE, corners).round().astype(int).tolist())
    print("marks 150 mm apart", CAMERA.at(FACE, [[10, 31.5], [160, 31.5]]).round().tolist())
