"""Pages and single forms as pictures, rendered by a library that wrote none of them.

pdfium knows nothing of UserUnit, so millimetres come from the caller. A page is never
rendered whole: windows keep the memory bounded, however long the frame is.
"""

import ctypes
import io
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from math import ceil, floor

import numpy as np
import pikepdf
import pypdfium2
import pypdfium2.raw as pdfium
from numpy.typing import NDArray
from PIL import Image

from nestplan.check.pdf_content import BROKEN, Key, Matrix, Unreadable

PT_PER_MM = 72 / 25.4
Box = tuple[float, float, float, float]  # left, bottom, right, top, mm
Pixels = NDArray[np.uint8]  # (rows, columns, 4): blue, green, red, nothing; first row on top
PIXELS_MOST = 40_000_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Window:
    """A part of a page as pixels. left, top: of the first pixel's outer corner, page mm."""

    pixels: Pixels
    left_mm: float
    top_mm: float
    across: float  # pixels a millimetre
    along: float

    def index(self, points_mm: NDArray[np.float64]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Row and column of the pixel each point (n, 2) lies in, kept inside the window."""
        rows = np.floor((self.top_mm - points_mm[:, 1]) * self.along).astype(np.intp)
        columns = np.floor((points_mm[:, 0] - self.left_mm) * self.across).astype(np.intp)
        tall, wide = self.pixels.shape[:2]
        return np.clip(rows, 0, tall - 1), np.clip(columns, 0, wide - 1)

    def places(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """x of every column's middle and y of every row's, page mm."""
        tall, wide = self.pixels.shape[:2]
        columns, rows = np.arange(wide, dtype=np.float64), np.arange(tall, dtype=np.float64)
        x: NDArray[np.float64] = self.left_mm + (columns + 0.5) / self.across
        y: NDArray[np.float64] = self.top_mm - (rows + 0.5) / self.along
        return x, y

    def image(self) -> Image.Image:
        """The window in red, green and blue."""
        tall, wide = self.pixels.shape[:2]
        return Image.frombuffer("RGB", (wide, tall), self.pixels, "raw", "BGRX", 0, 1)

    def reduced(self, times: int) -> "Window":
        """The same with so many pixels each way averaged into one; what is over is left out."""
        tall, wide = (side // times * times for side in self.pixels.shape[:2])
        held = np.ascontiguousarray(self.pixels[:tall, :wide])
        small = Image.frombuffer("RGBX", (wide, tall), held, "raw", "RGBX", 0, 1).reduce(times)
        return Window(
            pixels=np.asarray(small),
            left_mm=self.left_mm,
            top_mm=self.top_mm,
            across=self.across / times,
            along=self.along / times,
        )

    def dark(self) -> NDArray[np.float64]:
        """How dark each pixel is: 0 blank film, 1 black."""
        grey = self.pixels[..., :3].mean(axis=2)
        dark: NDArray[np.float64] = 1 - grey / 255
        return dark


class Rendered:
    """One page ready to be looked at."""

    def __init__(self, page: pypdfium2.PdfPage, width_mm: float, length_mm: float) -> None:
        self.page, self.width_mm, self.length_mm = page, width_mm, length_mm

    def window(self, box: Box, per_mm: float) -> Window:
        """The part of the page inside a box (and the page), at about so many pixels a mm."""
        wide, tall = (max(1, ceil(size * per_mm)) for size in (self.width_mm, self.length_mm))
        across, along = wide / self.width_mm, tall / self.length_mm
        first = floor(max(box[0], 0) * across), floor(max(self.length_mm - box[3], 0) * along)
        last = (
            min(ceil(box[2] * across), wide),
            min(ceil((self.length_mm - box[1]) * along), tall),
        )
        columns, rows = max(1, last[0] - first[0]), max(1, last[1] - first[1])
        assert columns * rows <= PIXELS_MOST, "the caller keeps windows small"
        held = np.full((rows, columns, 4), 255, dtype=np.uint8)
        bitmap = pdfium.FPDFBitmap_CreateEx(
            columns,
            rows,
            pdfium.FPDFBitmap_BGRx,
            held.ctypes.data_as(ctypes.c_void_p),
            columns * 4,
        )
        pdfium.FPDF_RenderPageBitmap(
            bitmap, self.page, -first[0], -first[1], wide, tall, 0, pdfium.FPDF_ANNOT
        )
        pdfium.FPDFBitmap_Destroy(bitmap)
        return Window(
            pixels=held,
            left_mm=first[0] / across,
            top_mm=self.length_mm - first[1] / along,
            across=across,
            along=along,
        )

    def words_mm(self, unit_mm: float) -> list[Box]:
        """Boxes of the words that stand on the page itself."""
        boxes = []
        for each in self.page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_TEXT], max_depth=1):
            left, bottom, right, top = each.get_bounds()
            boxes.append((left * unit_mm, bottom * unit_mm, right * unit_mm, top * unit_mm))
        return boxes


@contextmanager
def opened(data: bytes) -> Iterator[pypdfium2.PdfDocument]:
    """raises: Unreadable."""
    try:
        document = pypdfium2.PdfDocument(data)
    except pypdfium2.PdfiumError as error:
        raise Unreadable(str(error)) from error
    try:
        yield document
    finally:
        document.close()


@contextmanager
def page_of(
    document: pypdfium2.PdfDocument, number: int, width_mm: float, length_mm: float
) -> Iterator[Rendered]:
    """A page by its number from 1. raises: Unreadable."""
    try:
        page = document[number - 1]
    except (pypdfium2.PdfiumError, IndexError) as error:
        raise Unreadable(str(error)) from error
    try:
        yield Rendered(page, width_mm, length_mm)
    finally:
        page.close()


def form_cover(data: bytes, key: Key, onto: Matrix, box: Box, per_mm: float) -> NDArray[np.uint8]:
    """How opaque one form of a document is on nothing at all, 0 to 255; the first row on top.

    onto, box: as of `form_alone`. raises: Unreadable.
    """
    with opened(_alone(data, key, onto, box)) as document:
        try:
            bitmap = document[0].render(scale=per_mm / PT_PER_MM, fill_color=(255, 255, 255, 0))
            return np.array(bitmap.to_numpy()[..., 3])
        except (pypdfium2.PdfiumError, IndexError) as error:
            raise Unreadable(str(error)) from error


def form_alone(data: bytes, key: Key, onto: Matrix, box: Box, per_mm: float) -> Window:
    """One form of a document on blank film.

    onto: what to put before the form so that its units become millimetres inside the box.
    raises: Unreadable.
    """
    wide, tall = box[2] - box[0], box[3] - box[1]
    alone = _alone(data, key, onto, box)
    with opened(alone) as document, page_of(document, 1, wide, tall) as rendered:
        return rendered.window((0.0, 0.0, wide, tall), per_mm)


def _alone(data: bytes, key: Key, onto: Matrix, box: Box) -> bytes:
    """A document of one page as large as the box, with nothing but one form."""
    wide, tall = box[2] - box[0], box[3] - box[1]
    try:
        with pikepdf.open(io.BytesIO(data)) as source, pikepdf.new() as alone:
            page = alone.add_blank_page(page_size=(wide * PT_PER_MM, tall * PT_PER_MM))
            form = alone.copy_foreign(source.get_object(key))
            page.obj.Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(F=form))
            moved = onto.copy()
            moved[2] -= (box[0], box[1])
            numbers = " ".join(f"{number:.9f}" for number in (moved * PT_PER_MM).ravel())
            page.obj.Contents = alone.make_stream(f"q {numbers} cm /F Do Q".encode())
            held = io.BytesIO()
            alone.save(held)
    except BROKEN as error:
        raise Unreadable(str(error)) from error
    return held.getvalue()
