"""What a decal looks like, and whether a copy looks like it.

A look is a picture of the art upright, on a grid of the decal's own millimetres. A copy
is read off the page at the same places, turned with its pose. Two renderings of one thing
differ at edges by part of a pixel, so a place is right when its colour lies between the
darkest and the lightest that the look has round it.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageFilter

from nestplan.check.outlines import Contour, Pose
from nestplan.check.pdf_content import Key, Matrix
from nestplan.check.picture import Box, Pixels, Rendered, Window, form_alone

EDGE_MM = 0.5  # the rim of a print is judged by geometry, and neighbours may touch it
BLUR_PX = 1  # three by three pixels in one: lets screens and noise be compared
ROUND_PX = 1  # how far round a place the look may lend its colours
IMAGE_PX = 2  # the same for images: a renderer may turn them by whole pixels
TOLERANCE = 40  # of 255: rounding, blending and half pixels
CLOSER = 4  # times finer, where a copy seems wrong at first sight
BAND_PIXELS = 20_000_000
PLACES_MOST = 30_000  # of one copy, where the caller does not say
EDGE_PX = 2.0  # the same rim where pixels are large
WRONG_MM2 = 0.5  # a patch as large as a full stop in 8 pt type is no rounding
WRONG_PLACES = 3.0  # one place may be wrong by chance, not three beside each other


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grid:
    """Places (n, 2) inside a decal's print, decal millimetres, and the pixels they come from."""

    box: Box
    per_mm: float
    places: NDArray[np.float64]
    rows: NDArray[np.intp]
    columns: NDArray[np.intp]
    each_mm2: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Look:
    """The darkest and the lightest colour round every place of a grid, (n, 3) each."""

    grid: Grid
    low: NDArray[np.int16]
    high: NDArray[np.int16]


def grid_of(contour: Contour, per_mm: float, most: int = PLACES_MOST) -> Grid:
    """Places over the print of a decal, evenly, about as many as `most` at most."""
    left, bottom, right, top = contour.bled.bounds
    columns, rows = int(np.ceil((right - left) * per_mm)), int(np.ceil((top - bottom) * per_mm))
    columns, rows = max(columns, 1), max(rows, 1)
    box = left, top - rows / per_mm, left + columns / per_mm, top
    inside = shapely.buffer(contour.bled, -max(EDGE_MM, EDGE_PX / per_mm), quad_segs=2)
    step = max(1, int(np.sqrt(columns * rows / most)))
    r, c = (each.ravel() for each in np.mgrid[step // 2 : rows : step, step // 2 : columns : step])
    places = np.column_stack([left + (c + 0.5) / per_mm, top - (r + 0.5) / per_mm])
    shapely.prepare(inside)
    kept = shapely.contains_xy(inside, places)
    return Grid(
        box=box,
        per_mm=per_mm,
        places=places[kept],
        rows=r[kept],
        columns=c[kept],
        each_mm2=(step / per_mm) ** 2,
    )


def look_of(
    data: bytes, form: Key, onto: Matrix, grid: Grid, finer: int = 1, round_px: int = ROUND_PX
) -> Look:
    """The look of a form. onto: from its units to decal millimetres. raises: Unreadable.

    finer: the form is rendered so many times finer than the grid, then averaged.
    round_px: how many pixels round a place count as there.
    """
    window = form_alone(data, form, onto, grid.box, grid.per_mm * finer)
    soft = blurred(window.image())
    image = soft.reduce(finer) if finer > 1 else soft
    size = 2 * round_px + 1  # 1 leaves the picture as it is
    rows = np.minimum(grid.rows, image.height - 1)
    columns = np.minimum(grid.columns, image.width - 1)
    low, high = (
        np.asarray(image.filter(each(size)))[rows, columns].astype(np.int16)
        for each in (ImageFilter.MinFilter, ImageFilter.MaxFilter)
    )
    return Look(grid=grid, low=low, high=high)


def blurred(image: Image.Image) -> Image.Image:
    """A picture without what depends on where its pixels fall."""
    return image.filter(ImageFilter.BoxBlur(BLUR_PX))


def seen_at(window: Window, soft: Pixels, grid: Grid, pose: Pose) -> NDArray[np.int16]:
    """Colours (n, 3) of a copy at the places of its grid. pose: in page millimetres.

    soft: the window's picture, blurred.
    """
    rows, columns = window.index(pose.put(grid.places))
    return soft[rows, columns].astype(np.int16)


def seen_closer(rendered: Rendered, per_mm: float, grid: Grid, pose: Pose) -> NDArray[np.int16]:
    """The same from a picture that is `CLOSER` times finer and then averaged, band by band.

    pdfium turns a picture with a soft mask by whole pixels of the page, so that at 4 pixels a
    millimetre its colours may lie a third of a millimetre off.
    """
    places = pose.put(grid.places)
    (left, bottom), (right, top) = places.min(axis=0) - 1, places.max(axis=0) + 1
    fine = CLOSER * per_mm
    high = max(1.0, BAND_PIXELS / fine**2 / (right - left))
    seen = np.zeros((len(places), 3), dtype=np.int16)
    for low in np.arange(bottom, top, high).tolist():
        here = (places[:, 1] >= low) & (places[:, 1] < low + high)
        if here.any():
            box = float(left), low - 1, float(right), low + high + 1
            window = rendered.window(box, fine).reduced(CLOSER)
            rows, columns = window.index(places[here])
            seen[here] = np.asarray(blurred(window.image()))[rows, columns]
    return seen


def wrong_mm2(look: Look, seen: NDArray[np.int16]) -> float:
    """The area on which a copy has a colour that the look does not have near there."""
    below = (seen < look.low - TOLERANCE).any(axis=1)
    above = (seen > look.high + TOLERANCE).any(axis=1)
    return float((below | above).sum()) * look.grid.each_mm2


def allowed_mm2(grid: Grid) -> float:
    """The area that two renderings may differ by."""
    return max(WRONG_MM2, WRONG_PLACES * grid.each_mm2)


def differ_mm2(one: Look, other: Look) -> float:
    """The area on which two looks on one grid have no colour in common."""
    apart = (one.low > other.high + TOLERANCE) | (other.low > one.high + TOLERANCE)
    return float(apart.any(axis=1).sum()) * one.grid.each_mm2
