"""One picture laid on another: the scale and the shift at which they agree best.

Both are upright, so three figures are looked for. First places and scales are tried, coarsely
and all at once by Fourier transforms; then the best is bent until what is left over cannot be
made smaller, from coarse to fine.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy.fft import irfft2, next_fast_len, rfft2
from scipy.ndimage import gaussian_filter

COARSE_PX = 56  # longer side of the model where places are tried
LEVELS = (0.25, 0.5, 1.0)
ROUNDS = 30  # of each level
BLUR_PX = 1.0
GROW_MOST, SHIFT_MOST, STILL_PX = 0.02, 2.0, 0.02  # of a round; of the level's pixels
PLACES_LEAST, PLACES_MOST = 30, 20_000
CLIP = 60.0  # of 255: what differs by more has no say in where the picture lies

Picture = NDArray[np.float32]  # (rows, columns, 3), 0 to 255
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lay:
    """Pixel (column, row) of the model lies at scale * (column, row) + shift of the picture."""

    scale: float
    column: float
    row: float
    off: float  # root of the mean square, of 255, as far as it was tried


def tried(picture: Image.Image, model: Picture, where: Mask, scales: Iterable[float]) -> list[Lay]:
    """The best place at each scale, the best scale first. scales: picture pixels a model pixel."""
    step = max(1.0, max(model.shape[:2]) / COARSE_PX)
    small, mask = _smaller(model, step), _smaller(where.astype(np.float32), step) > 0.99
    if not mask.any():
        return []
    found = []
    for scale in scales:
        size = [max(1, round(side / (scale * step))) for side in picture.size]
        if max(size) > 40 * COARSE_PX:
            continue
        seen = np.asarray(picture.resize(size, Image.Resampling.BOX), dtype=np.float32)
        row, column, off = _best_place(seen, small, mask)
        own = picture.width / size[0], picture.height / size[1]
        found.append(
            Lay(scale=scale, column=column * own[0], row=row * own[1], off=off),
        )
    return sorted(found, key=lambda lay: lay.off)


def refined(picture: Image.Image, model: Picture, where: Mask, lay: Lay) -> Lay:
    """The lay bent by least squares; parts that differ much are left out of account."""
    for level in LEVELS:
        soft = _soft(_smaller(model, 1 / level))
        mask = _smaller(where.astype(np.float32), 1 / level) > 0.99
        rows, columns = np.nonzero(mask)
        if len(rows) < PLACES_LEAST:
            continue
        every = max(1, len(rows) // PLACES_MOST)
        rows, columns = rows[::every], columns[::every]
        meant = soft[rows, columns]
        step = model.shape[1] / soft.shape[1], model.shape[0] / soft.shape[0]  # model pixels
        across, down = (columns + 0.5) * step[0], (rows + 0.5) * step[1]
        middle = float(across.mean()), float(down.mean())
        for _ in range(ROUNDS):
            seen = _soft(laid(picture, model.shape[:2], lay, soft.shape[:2]))
            left = seen[rows, columns] - meant
            slope = [
                np.gradient(seen, axis=axis)[rows, columns] / step[axis != 1] for axis in (1, 0)
            ]
            weight = CLIP / np.maximum(np.abs(left).max(axis=1, keepdims=True), CLIP)
            u, v = (across - middle[0])[:, None], (down - middle[1])[:, None]
            parts = (slope[0] * u + slope[1] * v, *slope)
            matrix = np.stack([(part * weight).ravel() for part in parts], axis=1)
            size = np.sqrt((matrix**2).sum(axis=0)) + 1e-6
            bend = np.linalg.lstsq(matrix / size, -(left * weight).ravel(), rcond=1e-3)[0] / size
            grow = 1 + float(np.clip(bend[0], -GROW_MOST, GROW_MOST))
            x, y = np.clip(bend[1:], -SHIFT_MOST / level, SHIFT_MOST / level).tolist()
            lay = Lay(
                scale=lay.scale * grow,
                column=lay.column + lay.scale * (x + (1 - grow) * middle[0]),
                row=lay.row + lay.scale * (y + (1 - grow) * middle[1]),
                off=float(np.sqrt((np.minimum(np.abs(left), CLIP) ** 2).mean())),
            )
            still = STILL_PX / level
            if abs(grow - 1) * max(model.shape) < still and max(abs(x), abs(y)) < still:
                break
    return lay


def laid(
    picture: Image.Image, shape: tuple[int, int], lay: Lay, size: tuple[int, int] | None = None
) -> Picture:
    """The picture as it lies on a model of this shape; white where it has nothing.

    size: rows and columns of what is handed back, the model's own where they are not given.
    """
    tall, wide = shape
    box = (
        lay.column,
        lay.row,
        lay.column + lay.scale * wide,
        lay.row + lay.scale * tall,
    )
    low, high = [floor(value) for value in box[:2]], [ceil(value) for value in box[2:]]
    if min(low) < 0 or high[0] > picture.width or high[1] > picture.height:
        whole = Image.new("RGB", (high[0] - low[0], high[1] - low[1]), (255, 255, 255))
        whole.paste(picture, (-low[0], -low[1]))
        picture = whole
        box = (box[0] - low[0], box[1] - low[1], box[2] - low[0], box[3] - low[1])
    rows, columns = size or shape
    cut = picture.resize((columns, rows), Image.Resampling.BILINEAR, box=box)
    return np.asarray(cut, dtype=np.float32)


def _soft(picture: Picture) -> Picture:
    """Edges made so wide that a slope tells where they are."""
    found: Picture = gaussian_filter(picture, (BLUR_PX, BLUR_PX, 0))
    return found


def _smaller(picture: Picture, step: float) -> Picture:
    """Every channel averaged to fewer pixels."""
    size = [max(1, round(side / step)) for side in picture.shape[1::-1]]
    channels = picture if picture.ndim == 3 else picture[..., None]
    parts = [
        np.asarray(Image.fromarray(channels[..., k]).resize(size, Image.Resampling.BOX))
        for k in range(channels.shape[2])
    ]
    small = np.stack(parts, axis=2)
    return small if picture.ndim == 3 else small[..., 0]


def _best_place(seen: Picture, model: Picture, mask: Mask) -> tuple[float, float, float]:
    """Row, column where the model differs least from a picture with white all round it."""
    tall, wide = mask.shape
    room = ((tall, tall), (wide, wide), (0, 0))
    ground = np.pad(255.0 - seen, room)  # white is nothing
    ink = (255.0 - model) * mask[..., None]
    size = [next_fast_len(side, real=True) for side in ground.shape[:2]]

    def over(one: NDArray[np.floating], other: NDArray[np.floating]) -> NDArray[np.float64]:
        both = rfft2(one, size) * np.conj(rfft2(other, size))
        return np.asarray(irfft2(both, size))

    squares = over((ground**2).sum(axis=2), mask.astype(np.float32))
    cross = sum(over(ground[..., k], ink[..., k]) for k in range(3))
    off = squares - 2 * cross + float((ink**2).sum())
    off = off[: ground.shape[0] - tall + 1, : ground.shape[1] - wide + 1]
    row, column = np.unravel_index(int(off.argmin()), off.shape)
    mean = float(off[row, column]) / (3 * float(mask.sum()))
    return float(row) - tall, float(column) - wide, float(np.sqrt(max(mean, 0.0)))
