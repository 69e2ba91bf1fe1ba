"""Pictures of pixels: the contour from what is not transparent or not background."""

import io
import zlib
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pikepdf
import shapely
from numpy.typing import NDArray
from pikepdf import Array, Dictionary, Name, Pdf, Stream
from PIL import Image

from nestplan.artwork.art import Box, Traced, upright
from nestplan.artwork.art_faults.subject import Family, Printed
from nestplan.artwork.background import border_colour, foreground_region
from nestplan.artwork.edge import knife_edge, page_region
from nestplan.artwork.pixel_file import read_pixels
from nestplan.artwork.pixels import alpha_region
from nestplan.artwork.rings import Trail
from nestplan.artwork.rule import Rule
from nestplan.artwork.svg.picture import POINTS_PER_MM, srgb_profile
from nestplan.faults import Fault, Note
from nestplan.geometry.outline import FLATTEN_MM
from nestplan.geometry.polyline import Points, map_points

HEAVY_MM = 1.0  # ink is judged over so much: single pixels do not stay wet


@dataclass(frozen=True, kw_only=True, eq=False)
class RasterArt:
    """A picture that answers what `Art` asks.

    colour: (h, w) grey, (h, w, 3) RGB or (h, w, 4) CMYK, bytes. alpha: (h, w), None when opaque.
    dpi: across and down; None when the file does not say. deep: 16 bits a channel in the file.
    told: what else of the file is not planned as it is.
    """

    source: str
    colour: NDArray[np.uint8]
    alpha: NDArray[np.uint8] | None
    dpi: tuple[float, float] | None
    profile: bytes | None
    deep: bool
    told: tuple[str, ...] = ()

    @property
    def page_px(self) -> tuple[float, float]:
        """Width, and height in px as wide as they are high."""
        height, width = self.colour.shape[:2]
        return float(width), height * self._stretch

    @property
    def own_mm_per_px(self) -> float | None:
        """From the resolution in the file."""
        return None if self.dpi is None else 25.4 / self.dpi[0]

    def notes(self, mm_per_px: float, sized: bool) -> list[Note]:
        """Depth that printing does not use."""
        notes = []
        if self.deep:
            text = "16 bits a channel are printed as 8"
            notes.append(Note(level="know", where=self.source, text=text))
        notes += [Note(level="look", where=self.source, text=text) for text in self.told]
        return notes

    def extent_px(self, rule: Rule) -> tuple[float, float]:
        """Width and height of the contour before an offset."""
        self._refuse_drawn(rule)
        if rule.kind == "page":
            return self.page_px
        left, top, right, bottom = shapely.bounds(self._region_px).tolist()
        return right - left, bottom - top

    def contour(self, rule: Rule, mm_per_px: float) -> Traced:
        """The contour before an offset."""
        if rule.kind == "page":
            width, height = (side * mm_per_px for side in self.page_px)
            return Traced(region=page_region(width, height), notes=())
        onto = upright(mm_per_px)
        mm = shapely.transform(self._region_px, lambda points: map_points(points, onto))
        region, notes = knife_edge(shapely.simplify(mm, FLATTEN_MM), self.source)
        return Traced(region=region, notes=[*self._background_notes(), *notes])

    def picture(self, rule: Rule, mm_per_px: float, box_mm: Box) -> tuple[bytes, Box]:
        """The whole picture; there is nothing around it."""
        width, height = (side * mm_per_px for side in self.page_px)
        pdf = pixels_pdf(self.colour, self.alpha, self.profile, width, height)
        return pdf, (0.0, -height, width, 0.0)

    def trails(self, rule: Rule, mm_per_px: float) -> list[Trail]:
        """Pixels draw no lines."""
        return []

    def printed(self, rule: Rule, mm_per_px: float) -> list[Printed]:
        """The picture, and of process inks the heaviest place."""
        width, height = (side * mm_per_px for side in self.page_px)
        parts = 1 if self.colour.ndim == 2 else self.colour.shape[2]
        families: dict[int, Family] = {1: "grey", 3: "rgb", 4: "cmyk"}
        whole = Printed(
            where=self.source,
            kind="picture",
            runs=(_corners(0.0, 0.0, width, height),),
            family=families[parts],
            dpi=25.4 / mm_per_px / max(1.0, self._stretch),
        )
        if parts != 4:
            return [whole]
        block = max(1, round(HEAVY_MM / mm_per_px))
        ink, row, column = heaviest(self.colour, block)
        x, y = column * mm_per_px, row * mm_per_px * self._stretch
        side, rise = block * mm_per_px, block * mm_per_px * self._stretch
        heavy = Printed(
            where=f"{self.source}, pixel {column}, {row}",
            kind="fill",
            runs=(_corners(x, y, side, rise),),
            family="cmyk",
            ink_percent=ink,
        )
        return [whole, heavy]

    @property
    def _stretch(self) -> float:
        """Height of a pixel in its widths."""
        return 1.0 if self.dpi is None else self.dpi[0] / self.dpi[1]

    @cached_property
    def _region_px(self) -> shapely.Geometry:
        """Where the picture is opaque, or not background. raises: Fault when it has no edge."""
        if self.alpha is None or self.alpha.min() > 127:
            if self._background is None:
                raise Fault(
                    what="the picture is opaque everywhere and has no plain background, so it has "
                    "no outer edge",
                    where=self.source,
                    do="save it with transparency around the art, or write contour = 'page'",
                )
            region = foreground_region(self.colour, self._background)
            if shapely.is_empty(region):
                raise Fault(
                    what="the picture is opaque everywhere and of one colour: it has no outer edge",
                    where=self.source,
                    do="save it again, with the art in it, or write contour = 'page'",
                )
            return shapely.transform(region, lambda points: points * (1.0, self._stretch))
        if self.alpha.max() < 128:
            raise Fault(
                what="the picture is transparent everywhere",
                where=self.source,
                do="save it again, with the art in it",
            )
        region = alpha_region(Image.fromarray(self.alpha))
        return shapely.transform(region, lambda points: points * (1.0, self._stretch))

    @cached_property
    def _background(self) -> tuple[int, ...] | None:
        """The one colour along the picture's border; None when there is none."""
        return border_colour(self.colour)

    def _background_notes(self) -> list[Note]:
        if self._background is None or not (self.alpha is None or self.alpha.min() > 127):
            return []
        shown = " ".join(str(part) for part in self._background)
        text = (
            f"the picture has no transparency: its edge is taken where it leaves the plain "
            f"background ({shown}), which is printed as bleed; parts of that colour inside are "
            "not cut out"
        )
        return [Note(level="look", where=self.source, text=text)]

    def _refuse_drawn(self, rule: Rule) -> None:
        """Pixels have no layers and no strokes."""
        if rule.is_drawn or rule.kind == "trim":
            raise Fault(
                what=f"{rule.text} names a drawn line or box, but a picture of pixels has none",
                where=self.source,
                do="write contour = 'outline', 'offset:2.0' or 'page', or give the art as SVG",
            )


def open_raster(data: bytes, source: str) -> RasterArt:
    """Read PNG, JPEG, TIFF or WebP artwork. raises: Fault."""
    read = read_pixels(data, source)
    return RasterArt(
        source=source,
        colour=read.colour,
        alpha=read.alpha,
        dpi=read.dpi,
        profile=read.profile,
        deep=read.deep,
        told=read.told,
    )


def heaviest(colour: NDArray[np.uint8], block: int) -> tuple[float, int, int]:
    """Most process ink, in hundredths, of a block so many pixels wide, and its row and column.

    colour: (h, w, 4).
    """
    height, width = colour.shape[:2]
    block = max(1, min(block, height, width))
    rows, columns = height // block, width // block
    kept = colour[: rows * block, : columns * block]
    total = kept.reshape(rows, block, columns, block, 4).mean(axis=(1, 3)).sum(axis=2)
    row, column = np.unravel_index(int(total.argmax()), total.shape)
    return float(total.max()) / 2.55, int(row) * block, int(column) * block


def _corners(x_mm: float, down_mm: float, width_mm: float, height_mm: float) -> Points:
    """A closed rectangle, (5, 2) page mm, from its distance to the upper left corner."""
    right, low = x_mm + width_mm, -down_mm - height_mm
    return np.array(
        [[x_mm, -down_mm], [right, -down_mm], [right, low], [x_mm, low], [x_mm, -down_mm]]
    )


def pixels_pdf(
    colour: NDArray[np.uint8],
    alpha: NDArray[np.uint8] | None,
    profile: bytes | None,
    width_mm: float,
    height_mm: float,
) -> bytes:
    """A PDF page filled by one image and its soft mask; every pixel kept, bytes reproducible."""
    pdf = Pdf.new()
    width, height = width_mm * POINTS_PER_MM, height_mm * POINTS_PER_MM
    grey = colour.ndim == 2
    parts = 1 if grey else colour.shape[2]
    space: pikepdf.Object = Name.DeviceCMYK if parts == 4 else Name.DeviceGray
    if profile or parts == 3:
        icc = Stream(pdf, profile or srgb_profile(), N=parts)
        space = Array([Name.ICCBased, pdf.make_indirect(icc)])
    image = _image(pdf, colour, space)
    if alpha is not None:
        image.SMask = _image(pdf, alpha, Name.DeviceGray)
    page = pdf.add_blank_page(page_size=(100, 100))  # its own limits are those of paper
    page.MediaBox = Array([0, 0, round(width, 5), round(height, 5)])
    page.Resources = Dictionary(XObject=Dictionary(Pixels=image))
    drawn = f"q {width:.5f} 0 0 {height:.5f} 0 0 cm /Pixels Do Q"
    page.Contents = Stream(pdf, drawn.encode())
    out = io.BytesIO()
    pdf.save(out, deterministic_id=True)
    return out.getvalue()


def _image(pdf: Pdf, samples: NDArray[np.uint8], space: pikepdf.Object) -> pikepdf.Object:
    """An image object; each row is stored as its difference from the one above (PNG filter 2)."""
    height, width = samples.shape[:2]
    colours = 1 if samples.ndim == 2 else samples.shape[2]
    rows = samples.reshape(height, width * colours)
    stored = np.full((height, 1 + width * colours), 2, dtype=np.uint8)
    stored[:, 1:] = np.diff(rows, axis=0, prepend=np.zeros_like(rows[:1]))
    image = Stream(
        pdf,
        zlib.compress(stored.tobytes(), 6),
        Type=Name.XObject,
        Subtype=Name.Image,
        Width=width,
        Height=height,
        ColorSpace=space,
        BitsPerComponent=8,
        Filter=Name.FlateDecode,
        DecodeParms=Dictionary(Predictor=12, Colors=colours, BitsPerComponent=8, Columns=width),
    )
    return pdf.make_indirect(image)
