"""Pictures of pixels as a PDF page: every pixel kept, and a ring round them where one is made."""

import io
import zlib
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pikepdf
import shapely
from numpy.typing import NDArray
from pikepdf import Array, Dictionary, Name, Pdf, Stream

from nestplan.artwork.art import Box
from nestplan.artwork.jpeg import Jpeg
from nestplan.artwork.made_bleed.ring import Ring
from nestplan.artwork.svg.picture import POINTS_PER_MM, srgb_profile
from nestplan.geometry.outline import outline_of

CLIP_MM = 0.01  # a clip may be simplified by so much
LEVEL = 6  # of packing
BLOCK_BYTES = 4_000_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RingRound:
    """A ring as it lies on the page.

    pixel_mm: width and height of its pixels. over: it covers the picture; else it lies below,
    and the picture is seen only in `clip` (page mm, y up; None: everywhere).
    """

    ring: Ring
    pixel_mm: tuple[float, float]
    over: bool
    clip: shapely.Geometry | None = None

    @property
    def box_mm(self) -> tuple[float, float, float, float]:
        """Left, bottom, right, top, in page mm."""
        across, down = self.pixel_mm
        height, width = self.ring.there.shape
        left, top = self.ring.column * across, -self.ring.row * down
        return left, top - height * down, left + width * across, top


def pixels_pdf(
    colour: NDArray[np.uint8],
    alpha: NDArray[np.uint8] | None,
    profile: bytes | None,
    width_mm: float,
    height_mm: float,
    round_it: RingRound | None = None,
    jpeg: Jpeg | None = None,
) -> tuple[bytes, Box]:
    """A PDF page with one image and its soft mask; every pixel kept, bytes reproducible.

    The page ends with the picture, or with the ring round it: its box is told in page mm.
    jpeg: the file of these pixels, which is carried over instead of them.
    """
    pdf = Pdf.new()
    box: Box = (0.0, -height_mm, width_mm, 0.0)
    if round_it is not None:
        left, bottom, right, top = round_it.box_mm
        box = min(box[0], left), min(box[1], bottom), max(box[2], right), max(box[3], top)
    grey = colour.ndim == 2
    parts = 1 if grey else colour.shape[2]
    space: pikepdf.Object = Name.DeviceCMYK if parts == 4 else Name.DeviceGray
    if profile or parts == 3:
        icc = Stream(pdf, profile or srgb_profile(), N=parts)
        space = Array([Name.ICCBased, pdf.make_indirect(icc)])
    image = image_object(pdf, colour, space) if jpeg is None else _jpeg(pdf, jpeg, colour, space)
    if alpha is not None:
        image.SMask = image_object(pdf, alpha, Name.DeviceGray)
    page = pdf.add_blank_page(page_size=(100, 100))  # its own limits are those of paper
    sides = [(high - low) * POINTS_PER_MM for low, high in zip(box[:2], box[2:], strict=True)]
    page.MediaBox = Array([0, 0, *(round(side, 5) for side in sides)])
    page.Resources = Dictionary(XObject=Dictionary(Pixels=image))
    drawn = placed("Pixels", (0.0, -height_mm, width_mm, 0.0), box)
    if round_it is not None:
        ring = image_object(pdf, round_it.ring.colour, space)
        there = np.where(round_it.ring.there, 255, 0).astype(np.uint8)
        ring.SMask = image_object(pdf, there, Name.DeviceGray)
        page.Resources.XObject.Ring = ring
        if round_it.clip is not None:
            drawn = f"{_clip(round_it.clip, box)}{drawn}"
        parts_drawn = [placed("Ring", round_it.box_mm, box), f"q {drawn}Q\n"]
        drawn = "".join(reversed(parts_drawn) if round_it.over else parts_drawn)
    page.Contents = Stream(pdf, drawn.encode())
    out = io.BytesIO()
    pdf.save(out, deterministic_id=True)
    return out.getvalue(), box


def placed(name: str, box: Box, page: Box) -> str:
    """Operators that draw an image into a box of the page."""
    left, bottom, right, top = (value * POINTS_PER_MM for value in box)
    x, y = left - page[0] * POINTS_PER_MM, bottom - page[1] * POINTS_PER_MM
    return f"q {right - left:.5f} 0 0 {top - bottom:.5f} {x:z.5f} {y:z.5f} cm /{name} Do Q\n"


def _clip(region: shapely.Geometry, page: Box) -> str:
    """Operators that clip to a region, even-odd."""
    said = []
    corner = np.array(page[:2])
    for ring in outline_of(shapely.simplify(region, CLIP_MM)).rings:
        points = (ring - corner) * POINTS_PER_MM
        lines = [f"{x:z.4f} {y:z.4f}" for x, y in points.tolist()]
        said.append(" l\n".join([f"{lines[0]} m\n{lines[1]}", *lines[2:]]) + " l h\n")
    return f"{''.join(said)}W* n\n"


def image_object(pdf: Pdf, samples: NDArray[np.uint8], space: pikepdf.Object) -> pikepdf.Object:
    """An image object; each row is stored as its difference from the one above (PNG filter 2)."""
    height, width = samples.shape[:2]
    colours = 1 if samples.ndim == 2 else samples.shape[2]
    packer = zlib.compressobj(LEVEL)
    packed = [packer.compress(part) for part in _stored(samples.reshape(height, width * colours))]
    image = _image(pdf, b"".join([*packed, packer.flush()]), samples, space, Name.FlateDecode)
    image.DecodeParms = Dictionary(Predictor=12, Colors=colours, BitsPerComponent=8, Columns=width)
    return pdf.make_indirect(image)


def _jpeg(
    pdf: Pdf, jpeg: Jpeg, samples: NDArray[np.uint8], space: pikepdf.Object
) -> pikepdf.Object:
    """An image object that is the JPEG itself."""
    image = _image(pdf, jpeg.data, samples, space, Name.DCTDecode)
    if jpeg.inverted:
        image.Decode = Array([1, 0] * samples.shape[2])
    return pdf.make_indirect(image)


def _image(
    pdf: Pdf, data: bytes, samples: NDArray[np.uint8], space: pikepdf.Object, packed_by: Name
) -> Stream:
    height, width = samples.shape[:2]
    return Stream(
        pdf,
        data,
        Type=Name.XObject,
        Subtype=Name.Image,
        Width=width,
        Height=height,
        ColorSpace=space,
        BitsPerComponent=8,
        Filter=packed_by,
    )


def _stored(rows: NDArray[np.uint8]) -> Iterator[bytes]:
    """Rows as PNG filter 2 has them, some megabytes at a time."""
    at_once = max(1, BLOCK_BYTES // (rows.shape[1] + 1))
    above = np.zeros_like(rows[:1])
    for first in range(0, len(rows), at_once):
        part = rows[first : first + at_once]
        stored = np.full((len(part), 1 + part.shape[1]), 2, dtype=np.uint8)
        np.subtract(part[:1], above, out=stored[:1, 1:])
        np.subtract(part[1:], part[:-1], out=stored[1:, 1:])
        above = part[-1:]
        yield stored.tobytes()
