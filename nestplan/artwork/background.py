"""Opaque pictures on a plain background: what of them is art.

Pixel coordinates as in `pixels.py`.
"""

import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageFilter

from nestplan.artwork.pixels import TRACED_MOST, alpha_region
from nestplan.geometry.outline import polygons_of

SAME_MOST = 24  # levels of 255 by which a background may vary: the noise of a JPEG at its edges
SMOOTH_PX = 1.5  # the blocks of a JPEG are eight pixels, their fringes one or two
PLAIN_SHARE = 0.95  # of the border's pixels that must be alike


def border_colour(colour: NDArray[np.uint8]) -> tuple[int, ...] | None:
    """The colour that runs all along the border; None when the art itself touches it.

    colour: (h, w) or (h, w, n).
    """
    samples = colour.reshape(*colour.shape[:2], -1)
    border = np.concatenate([samples[0], samples[-1], samples[:, 0], samples[:, -1]])
    middle = np.median(border, axis=0)
    alike = np.abs(border - middle).max(axis=1) <= SAME_MOST
    if np.count_nonzero(alike) < PLAIN_SHARE * len(border):
        return None
    return tuple(int(part) for part in middle)


def foreground_region(colour: NDArray[np.uint8], background: tuple[int, ...]) -> shapely.Geometry:
    """Where the picture differs from its background, in px, without holes.

    The edge runs where a pixel differs by `SAME_MOST` levels, so soft edges are taken almost
    whole: about a pixel outside the middle of the edge. Areas in the colour of the
    background inside the art are art: only a person knows better.
    """
    step = 1
    while (colour.shape[1] // step) * (colour.shape[0] // step) > TRACED_MOST:
        step += 1
    bands = colour.reshape(*colour.shape[:2], -1)
    least = np.zeros(0)
    for band, level in enumerate(background):  # one at a time: pictures are large
        part = Image.fromarray(np.ascontiguousarray(bands[:, :, band]))
        part = part.reduce(step) if step > 1 else part
        away = np.abs(np.asarray(part, dtype=np.int16) - level)
        least = np.maximum(least, away) if least.size else away
    cover = np.clip(least * (127.5 / SAME_MOST), 0, 255).astype(np.uint8)
    smooth = Image.fromarray(cover).filter(ImageFilter.GaussianBlur(SMOOTH_PX))
    found = alpha_region(smooth)
    filled = [shapely.Polygon(part.exterior) for part in polygons_of(found)]
    whole: shapely.Geometry = shapely.union_all(filled)
    return shapely.transform(whole, lambda points: points * float(step))
