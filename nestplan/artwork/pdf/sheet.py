"""A PDF file is opened and its first page measured: boxes, turn and unit as a viewer has them.

Page points: 1/72 in, y down, (0, 0) at the upper left corner of the visible page (the crop
box, turned as /Rotate says). Sources: ISO 32000-1, 7.7.3.3 (/Rotate, /UserUnit) and 14.11.2
(page boxes; a box that is absent or too large is the one around it).
"""

import io
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
import pikepdf
from pikepdf import Name, Page, Pdf

from nestplan.faults import Fault
from nestplan.geometry.polyline import Affine, Points, map_points

UNFOLDED_MOST = 100_000_000  # bytes of one stream: a page of drawing has some hundred thousand
SIDE_MOST_PT = 14_400_000.0  # a thousand times the largest page of ISO 32000-1, annex C
DAMAGE = (  # an object of another kind than the page needs shows as any of these
    pikepdf.PdfError, ArithmeticError, AttributeError, LookupError, RuntimeError, TypeError,
    ValueError,
)  # fmt: skip

Box = tuple[float, float, float, float]  # left, top, right, bottom, page points


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sheet:
    """The page's geometry.

    onto:  from the page's user space to page points.
    media: all that the page has, as bleed. trim: None when the file does not say.
    """

    width: float
    height: float
    onto: Affine
    media: Box
    trim: Box | None
    pages: int
    annotated: bool


@contextmanager
def opened(data: bytes, source: str) -> Iterator[Pdf]:
    """The document, with bounds on what its streams unfold to. raises: Fault."""
    former = pikepdf.settings.set_qpdf_limits(
        flate_max_memory=UNFOLDED_MOST,
        run_length_max_memory=UNFOLDED_MOST,
        png_max_memory=UNFOLDED_MOST,
        tiff_max_memory=UNFOLDED_MOST,
        dct_max_memory=UNFOLDED_MOST,
    )
    try:
        with Pdf.open(io.BytesIO(data), suppress_warnings=True) as pdf:
            yield pdf
    except pikepdf.PasswordError:
        raise Fault(
            what="the file is locked with a password", where=source, do="save it without one"
        ) from None
    except DAMAGE as error:
        raise Fault(
            what=f"the file cannot be read as PDF: {_short(error)}",
            where=source,
            do="export it again, and copy it whole",
        ) from None
    finally:
        pikepdf.settings.set_qpdf_limits(**former)  # type: ignore[arg-type]


def first_page(pdf: Pdf, source: str) -> Page:
    """The page that is planned. raises: Fault when there is none."""
    if len(pdf.pages) == 0:
        raise Fault(what="the file has no page", where=source, do="export it again")
    return pdf.pages[0]


def sheet_of(pdf: Pdf, source: str) -> Sheet:
    """Measure the first page. raises: Fault when its boxes make no page."""
    page = first_page(pdf, source)
    media = _box(page, "/MediaBox")
    if media is None:
        raise Fault(
            what="the page has no size that can be read (MediaBox)",
            where=f"{source}, page 1",
            do="export it again at true size",
        )
    crop = _within(_box(page, "/CropBox"), media)
    trim = _box(page, "/TrimBox")
    turn = int(float(_inherited(page, "/Rotate") or 0)) % 360
    unit = float(page.obj.get("/UserUnit", 1))
    if turn % 90 or not 0 < unit <= 75_000:
        raise Fault(
            what=f"the page is turned by {turn}° or has a unit of {unit:g} points",
            where=f"{source}, page 1",
            do="export it again, upright and at true size",
        )
    onto = _upright(crop, turn, unit)
    left, top, right, bottom = _mapped(crop, onto)
    return Sheet(
        width=right - left,
        height=bottom - top,
        onto=onto,
        media=_mapped(media, onto),
        trim=None if trim is None else _mapped(_within(trim, media), onto),
        pages=len(pdf.pages),
        annotated=any(note.get("/Subtype") != Name.Link for note in page.obj.get("/Annots", ())),
    )


def _upright(crop: Points, turn: int, unit: float) -> Affine:
    """From user space to page points: turned clockwise, y down, the corner at the origin."""
    cosine, sine = {0: (1, 0), 90: (0, 1), 180: (-1, 0), 270: (0, -1)}[turn]
    turned = np.array([[cosine, sine, 0.0], [-sine, cosine, 0.0], [0.0, 0.0, 1.0]])
    down: Affine = np.diag([unit, -unit, 1.0]) @ turned
    corner = map_points(crop, down).min(axis=0)
    down[:2, 2] -= corner
    return down


def _box(page: Page, key: str) -> Points | None:
    """A box of the page as its lower left and upper right corner; None when it is no box."""
    given = _inherited(page, key)
    try:
        corners = np.array([float(value) for value in given or ()]).reshape(2, 2)
    except (TypeError, ValueError):
        return None
    ordered = np.stack([corners.min(axis=0), corners.max(axis=0)])
    size = np.ptp(ordered, axis=0)
    if not np.isfinite(ordered).all() or size.min() <= 0 or np.abs(ordered).max() > SIDE_MOST_PT:
        return None
    return ordered


def _within(box: Points | None, media: Points) -> Points:
    """A box no larger than the media box."""
    if box is None:
        return media
    inner = np.stack([np.maximum(box[0], media[0]), np.minimum(box[1], media[1])])
    return inner if (inner[1] > inner[0]).all() else media


def _inherited(page: Page, key: str) -> pikepdf.Object | None:
    """A key of the page, or of the nodes above it."""
    node: pikepdf.Object | None = page.obj
    for _ in range(50):  # a tree that leads in circles ends here
        if node is None:
            return None
        if key in node:
            return node[key]
        node = node.get("/Parent")
    return None


def _mapped(box: Points, onto: Affine) -> Box:
    at = map_points(box, onto)
    left, top, right, bottom = np.concatenate([at.min(axis=0), at.max(axis=0)]).tolist()
    return left, top, right, bottom


def _short(error: Exception) -> str:
    words = " ".join(str(error).split())
    return words if len(words) <= 120 else words[:120] + "…"
