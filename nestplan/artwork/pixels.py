"""Raster files are opened here, and areas found in their transparency.

Pixel coordinates: px, y down, (0, 0) at the outer corner of the first pixel, so that the
value of a pixel stands at its centre, half a pixel in.
"""

import io
import struct
import warnings
import zlib
from itertools import pairwise
from typing import cast

import contourpy
import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageFilter

from nestplan.artwork.webp import webp_size
from nestplan.geometry.polyline import Points

PIXELS_MOST = 60_000_000  # 0.65 m square at 300 dpi; a plan of it stays within 1 GiB
TRACED_MOST = 16_000_000  # more pixels than this are averaged before their edge is traced
HALF = 127.5  # the edge runs where a pixel is half covered
SPECK_PX2 = 0.5  # noise of single pixels
DAMAGE = (  # by these the library tells a damaged file, kind by kind
    ArithmeticError, AttributeError, EOFError, LookupError, OSError, RuntimeError, SyntaxError,
    TypeError, ValueError, struct.error, zlib.error,
)  # fmt: skip


class PixelsUnreadable(Exception):
    """The bytes are not a picture of the kinds asked for, or a broken one."""


class TooManyPixels(PixelsUnreadable):
    """The picture would fill the memory of the machine."""


def open_pixels(raw: bytes, kinds: tuple[str, ...]) -> Image.Image:
    """The picture, its pixels not decoded yet; size may exceed `PIXELS_MOST`.

    kinds: Pillow's format names. raises: PixelsUnreadable.
    """
    said = webp_size(raw)
    if said is not None and said[0] * said[1] > PIXELS_MOST:  # its decoder takes room at once
        raise TooManyPixels("it says that it unfolds to too many pixels")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of size, the caller looks; of damage, too
            return Image.open(io.BytesIO(raw), formats=kinds)
    except Image.DecompressionBombError:
        raise TooManyPixels("it unfolds to too many pixels") from None
    except DAMAGE as error:
        raise PixelsUnreadable(str(error)) from None


def alpha_region(alpha: Image.Image) -> shapely.Geometry:
    """Where a picture is more than half opaque, in px.

    alpha: mode L. An edge without soft pixels is smoothed by about one pixel first: a knife
    must not follow stairs. Measured on a disc of 40 mm at 300 dpi: within 0.01 mm of the
    circle from soft edges, within 0.04 mm from hard ones.
    """
    step = 1
    while (alpha.width // step) * (alpha.height // step) > TRACED_MOST:
        step += 1
    alpha = alpha.reduce(step) if step > 1 else alpha
    border = 4  # so that shapes at the edge of the picture close, smoothed or not
    framed = Image.new("L", (alpha.width + 2 * border, alpha.height + 2 * border))
    framed.paste(alpha, (border, border))
    if _is_hard(np.asarray(framed)):
        framed = framed.filter(ImageFilter.GaussianBlur(1.0))
    levels = np.asarray(framed, dtype=np.float64)
    tracer = contourpy.contour_generator(z=levels, fill_type=contourpy.FillType.OuterOffset)
    filled = cast("tuple[list[Points], list[NDArray[np.uint32]]]", tracer.filled(HALF, 256.0))
    parts = [
        _polygon((ring + 0.5 - border) * step, offsets)
        for ring, offsets in zip(*filled, strict=True)
    ]
    return shapely.union_all([part for part in parts if part.area > SPECK_PX2])


def _is_hard(alpha: NDArray[np.uint8]) -> bool:
    """Whether the edge is drawn in black and white: hardly any pixel is half covered."""
    inside = alpha > HALF
    edge = np.count_nonzero(inside[:, 1:] != inside[:, :-1])
    edge += np.count_nonzero(inside[1:] != inside[:-1])
    soft = np.count_nonzero((alpha > 8) & (alpha < 247))
    return bool(soft < 0.2 * edge)


def _polygon(points: Points, offsets: NDArray[np.uint32]) -> shapely.Polygon:
    """One area with its holes; holes of less than a speck are filled."""
    rings = [points[a:b] for a, b in pairwise(offsets)]
    holes = [ring for ring in rings[1:] if shapely.Polygon(ring).area > SPECK_PX2]
    return shapely.Polygon(rings[0], holes)
