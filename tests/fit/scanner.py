"""A scanner and a camera made of arithmetic: sheets with marks become noisy, tilted pictures.

Shares nothing with the product: the ink is a shapely area, each pixel near it is asked 25 times
whether it lies inside, and the way from sheet to picture is written here as its own formulas.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import shapely
from PIL import Image
from scipy import ndimage

FINE = 5  # askings along a pixel's side


def mark_area(shape: str, size: float, line: float, gain: float) -> shapely.Geometry:
    """Ink about the mark's own centre, spread by `gain` mm to each side."""
    half = size / 2
    if shape == "disc":
        return shapely.Point(0, 0).buffer(half + gain, quad_segs=64)
    solid = {
        "square": [shapely.box(-half, -half, half, half)],
        "cross": [
            shapely.box(-half, -line / 2, half, line / 2),
            shapely.box(-line / 2, -half, line / 2, half),
        ],
        "corner": [
            shapely.box(-half, -half, half, line - half),
            shapely.box(-half, -half, line - half, half),
        ],
    }[shape]
    return shapely.union_all(solid).buffer(gain, quad_segs=16)


@dataclass(kw_only=True)
class Device:
    """How a sheet becomes a picture. tilt_deg: the sheet lies turned counter-clockwise."""

    dpi: float = 300.0
    tilt_deg: float = 2.0
    border_mm: float = 15.0
    blur_px: float = 1.0
    noise: float = 4.0
    shadow: float = 0.25  # how much darker the far corner is
    ink: float = 40.0
    film: float = 235.0
    keystone_deg: tuple[float, float] = (0.0, 0.0)  # of a camera
    distance_mm: float = 1500.0
    barrel: float = 0.0  # of the distance to the picture's corner, lost there
    seed: int = 1
    stretch: tuple[float, float] = (1.0, 1.0)
    extra: list[shapely.Geometry] = field(default_factory=list)  # more ink, sheet mm


def picture(
    marks: np.ndarray,
    area: shapely.Geometry,
    sheet_mm: tuple[float, float],
    device: Device,
    *,
    turned: float = 0.0,
) -> tuple[np.ndarray, np.ndarray]:
    """Grey levels (h, w), and the marks' true centres (n, 2) in px. turned: by more than tilt."""
    scale = device.dpi / 25.4
    to_px, size = _sheet_to_px(sheet_mm, device, scale, turned)
    width, height = size
    inked = [
        (shapely.transform(area, lambda p, at=at: p + at)) for at in np.asarray(marks, dtype=float)
    ] + device.extra
    cover = np.zeros((height, width), dtype=np.float32)
    for ink in inked:
        ring = np.asarray(shapely.segmentize(ink, 0.5).exterior.coords)
        seen = shapely.Polygon(to_px(ring))  # straight between points half a millimetre apart
        left, top, right, below = (round(v) for v in seen.bounds)
        left, top = max(left - 2, 0), max(top - 2, 0)
        right, below = min(right + 3, width), min(below + 3, height)
        if right <= left or below <= top:
            continue
        fine = (np.arange((right - left) * FINE) + 0.5) / FINE + left
        rows = (np.arange((below - top) * FINE) + 0.5) / FINE + top
        shapely.prepare(seen)
        asked = shapely.contains_xy(seen, *np.meshgrid(fine, rows))
        share = asked.reshape(below - top, FINE, right - left, FINE).mean((1, 3))
        patch = cover[top:below, left:right]
        np.maximum(patch, share, out=patch)
    levels = device.film + (device.ink - device.film) * cover
    levels = ndimage.gaussian_filter(levels, device.blur_px)
    x, y = np.linspace(0, 1, width, dtype=np.float32), np.linspace(0, 1, height, dtype=np.float32)
    levels *= 1 - device.shadow * (0.6 * x[None, :] ** 2 + 0.4 * y[:, None])
    rng = np.random.default_rng(device.seed)
    levels += device.noise * rng.standard_normal(levels.shape, dtype=np.float32)
    return np.clip(levels, 0, 255).round().astype(np.uint8), to_px(np.asarray(marks, dtype=float))


def _sheet_to_px(
    sheet_mm: tuple[float, float], device: Device, scale: float, turned: float
) -> tuple[Callable[[np.ndarray], np.ndarray], tuple[int, int]]:
    """The way from sheet mm (y up) to px (y down), and the picture's size."""
    wide, long = sheet_mm
    turn = np.radians(device.tilt_deg + turned)
    c, s = np.cos(turn), np.sin(turn)
    reach = abs(c) * wide + abs(s) * long, abs(s) * wide + abs(c) * long
    width, height = (round((side + 2 * device.border_mm) * scale) for side in reach)
    pitch, yaw = (np.radians(angle) for angle in device.keystone_deg)

    def to_px(points: np.ndarray) -> np.ndarray:
        p = (points - (wide / 2, long / 2)) * device.stretch
        x, y = c * p[:, 0] - s * p[:, 1], s * p[:, 0] + c * p[:, 1]
        # a plane tilted about both axes, seen from a point in front of its middle
        depth = device.distance_mm + x * np.sin(yaw) + y * np.sin(pitch)
        x = x * np.cos(yaw) * device.distance_mm / depth
        y = y * np.cos(pitch) * device.distance_mm / depth
        u, v = x * scale, -y * scale
        corner2 = (width / 2) ** 2 + (height / 2) ** 2
        shrink = 1 - device.barrel * (u**2 + v**2) / corner2
        return np.column_stack([width / 2 + u * shrink, height / 2 + v * shrink])

    return to_px, (width, height)


def save(levels: np.ndarray, path, dpi: float | None, **how: object) -> None:
    """Write the picture, with a resolution where one is given."""
    more = {"dpi": (dpi, dpi)} if dpi else {}
    Image.fromarray(levels).save(path, **more, **how)
