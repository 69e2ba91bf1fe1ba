"""PNG artwork: the contour from its transparency, the picture with every pixel it has."""

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
from nestplan.artwork.edge import knife_edge, page_region
from nestplan.artwork.pixels import (
    PIXELS_MOST,
    PixelsUnreadable,
    alpha_region,
    open_pixels,
)
from nestplan.artwork.rule import Rule
from nestplan.artwork.svg.picture import POINTS_PER_MM, srgb_profile
from nestplan.artwork.vector import COARSE_DPI
from nestplan.faults import Fault, Note
from nestplan.geometry.outline import FLATTEN_MM
from nestplan.geometry.polyline import map_points

DPI_DECIMALS = 2  # PNG stores whole pixels a metre: 300 dpi comes back as 299.9994
GREY = {"1", "L", "LA", "La", "I", "I;16", "I;16B"}


@dataclass(frozen=True, kw_only=True, eq=False)
class RasterArt:
    """A PNG that answers what `Art` asks.

    colour: (h, w) grey or (h, w, 3) RGB, bytes. alpha: (h, w) or None when opaque.
    dpi: across and down; None when the file does not say. deep: 16 bits a channel in the file.
    """

    source: str
    colour: NDArray[np.uint8]
    alpha: NDArray[np.uint8] | None
    dpi: tuple[float, float] | None
    profile: bytes | None
    deep: bool

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
        """Coarse pixels, and depth that printing does not use."""
        notes = []
        dpi = 25.4 / mm_per_px
        if dpi < COARSE_DPI:
            text = f"the picture has {dpi:.0f} dpi at its printed size, under {COARSE_DPI:.0f}"
            notes.append(Note(level="look", where=self.source, text=text))
        if self.deep:
            text = "16 bits a channel are printed as 8"
            notes.append(Note(level="know", where=self.source, text=text))
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
        return Traced(region=region, notes=notes)

    def picture(self, rule: Rule, mm_per_px: float, box_mm: Box) -> tuple[bytes, Box]:
        """The whole picture; there is nothing around it."""
        width, height = (side * mm_per_px for side in self.page_px)
        pdf = pixels_pdf(self.colour, self.alpha, self.profile, width, height)
        return pdf, (0.0, -height, width, 0.0)

    @property
    def _stretch(self) -> float:
        """Height of a pixel in its widths."""
        return 1.0 if self.dpi is None else self.dpi[0] / self.dpi[1]

    @cached_property
    def _region_px(self) -> shapely.Geometry:
        """Where the picture is opaque. raises: Fault when that is everywhere or nowhere."""
        if self.alpha is None or self.alpha.min() > 127:
            raise Fault(
                what="the picture is opaque everywhere, so it has no outer edge",
                where=self.source,
                do="save it with transparency around the art, or write contour = 'page'",
            )
        if self.alpha.max() < 128:
            raise Fault(
                what="the picture is transparent everywhere",
                where=self.source,
                do="save it again, with the art in it",
            )
        region = alpha_region(Image.fromarray(self.alpha))
        return shapely.transform(region, lambda points: points * (1.0, self._stretch))

    def _refuse_drawn(self, rule: Rule) -> None:
        """Pixels have no layers and no strokes."""
        if rule.is_drawn or rule.kind == "trim":
            raise Fault(
                what=f"{rule.text} names a drawn line or box, but a picture of pixels has none",
                where=self.source,
                do="write contour = 'outline', 'offset:2.0' or 'page', or give the art as SVG",
            )


def open_raster(data: bytes, source: str) -> RasterArt:
    """Read PNG artwork. raises: Fault."""
    try:
        image = open_pixels(data, ("PNG",))
    except PixelsUnreadable:
        raise _unreadable("it is not a PNG, or its first bytes are damaged", source) from None
    if image.width * image.height > PIXELS_MOST:
        raise Fault(
            what=f"the picture has {image.width} × {image.height} pixels, more than "
            f"{PIXELS_MOST // 1_000_000} million",
            where=source,
            do="save it at the resolution it is printed at",
        )
    try:
        image.load()
    except (OSError, SyntaxError, ValueError, zlib.error) as error:
        raise _unreadable(f"it is cut off or damaged ({error})", source) from None
    colour, alpha = _channels(image)
    across, down = image.info.get("dpi", (0.0, 0.0))
    return RasterArt(
        source=source,
        colour=colour,
        alpha=alpha,
        dpi=(round(across, DPI_DECIMALS), round(down, DPI_DECIMALS))
        if min(across, down) > 1
        else None,
        profile=_fitting_profile(image.info.get("icc_profile"), colour.ndim),
        deep=data[24:25] == b"\x10",  # bit depth in the header chunk (PNG, 11.2.1)
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
    space: pikepdf.Object = Name.DeviceGray
    if profile or not grey:
        icc = Stream(pdf, profile or srgb_profile(), N=1 if grey else 3)
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
    colours = 1 if samples.ndim == 2 else 3
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


def _channels(image: Image.Image) -> tuple[NDArray[np.uint8], NDArray[np.uint8] | None]:
    """Colour and alpha as bytes, whatever the file's mode."""
    grey = image.mode in GREY
    if image.mode.startswith("I"):  # 16 bits of grey
        whole = np.asarray(image).astype(np.int64)
        see_through = image.info.get("transparency")
        alpha = None
        if see_through is not None:
            alpha = np.where(whole == int(see_through), 0, 255).astype(np.uint8)
        return (whole >> 8).clip(0, 255).astype(np.uint8), alpha
    has_alpha = "A" in image.getbands() or "transparency" in image.info
    samples = np.asarray(image.convert("RGBA" if has_alpha else "RGB"))
    colour = samples[:, :, 0] if grey else samples[:, :, :3]
    alpha = samples[:, :, 3] if has_alpha else None
    if alpha is not None and alpha.min() == 255:
        alpha = None
    return np.ascontiguousarray(colour), None if alpha is None else np.ascontiguousarray(alpha)


def _fitting_profile(profile: bytes | None, dimensions: int) -> bytes | None:
    """The file's own ICC profile, if it is one and speaks of these channels (ICC.1, 7.2)."""
    wanted = b"GRAY" if dimensions == 2 else b"RGB "
    if profile and profile[36:40] == b"acsp" and profile[16:20] == wanted:
        return profile
    return None


def _unreadable(why: str, source: str) -> Fault:
    return Fault(
        what=f"the picture cannot be read: {why}",
        where=source,
        do="save it again as PNG and copy it whole",
    )
