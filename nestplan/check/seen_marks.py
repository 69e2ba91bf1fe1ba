"""Marks and scale bars as the picture has them: where a sensor and an eye would see them."""

from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nestplan.check.cut_layer import CutLayer, CutMark
from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.moved_together import UNMOVED, Together
from nestplan.check.outlines import region_of
from nestplan.check.pdf_pages import Bar, PdfFile, PdfPage
from nestplan.check.picture import Rendered, opened, page_of
from nestplan.check.print_claims import page_file
from nestplan.check.print_page_claims import BAR_MM
from nestplan.check.said import Said, SaidFrame
from nestplan.check.words import place
from nestplan.figures import fixed

PER_MM = 10.0
CENTRE_MM = 0.05  # half a pixel; the centre of a whole mark is found ten times finer
INK_SHARE = 0.1  # how much more or less ink than its outline a mark may show
RIM_MM = 0.3  # round a mark, for the edge's half-dark pixels
BLANK = 0.06  # darkness that is still blank film
SPECK_MM2 = 0.05
BAR_OFF_MM = 0.06
TICK_MM = (0.6, 3.6)  # how far beside a bar its end ticks are looked at
END_MM = 1.0  # how far round a bar's end


def seen_mark_claims(
    said: Said,
    file: PdfFile,
    pages: Sequence[PdfPage],
    layers: Sequence[CutLayer],
    moves: Mapping[int, Together],
) -> list[Claim]:
    """Marks dark and in place, clear zones blank, bars as long as they say.

    moves: how a page (by number) is moved as a whole; that is said elsewhere.
    raises: Unreadable.
    """
    marks: list[Finding] = []
    zones: list[Finding] = []
    bars: list[Finding] = []
    with opened(file.data) as document:
        for frame, page, layer in zip(said.frames, pages, layers, strict=False):
            if page.odd:
                continue
            with page_of(document, page.number, page.width_mm, page.length_mm) as rendered:
                for mark in layer.marks:
                    shape = _expected(said, frame, mark, moves.get(page.number, UNMOVED))
                    where = f"{page_file(page)}, mark {mark.number}"
                    found, blank = _mark(said, frame, rendered, shape, where)
                    marks += found
                    zones += blank
                for bar in page.bars:
                    bars += _bar(page, rendered, bar)
    return [
        Claim(says="every mark is seen dark, with its centre in place", against=tuple(marks)),
        Claim(says="every mark's clear zone is seen blank", against=tuple(zones)),
        Claim(says=f"the scale bars are seen {BAR_MM:g} mm long", against=tuple(bars)),
    ]


def _expected(said: Said, frame: SaidFrame, mark: CutMark, together: Together) -> BaseGeometry:
    """Where the page should show a mark, page millimetres."""
    origin = np.array([said.page_x0_mm, frame.y0_mm])
    rings = [together.moved(ring) if together is not UNMOVED else ring for ring in mark.rings]
    return region_of([ring - origin for ring in rings])


def _mark(
    said: Said, frame: SaidFrame, rendered: Rendered, shape: BaseGeometry, where: str
) -> tuple[list[Finding], list[Finding]]:
    clear = said.marks.clear_mm
    left, bottom, right, top = shape.bounds
    around = max(clear, 1.0)
    box = left - around, bottom - around, right + around, top + around
    window = rendered.window(box, PER_MM)
    x, y = np.meshgrid(*window.places())
    near = _inside(shape.buffer(RIM_MM), x, y)
    dark = window.dark()
    pixel_mm2 = 1 / (window.across * window.along)
    ink = np.where(near, dark, 0.0)
    area = float(ink.sum()) * pixel_mm2
    zone = ~near & _inside(shape.buffer(clear - RIM_MM / 2), x, y) & (dark > BLANK)
    blank = []
    if float(zone.sum()) * pixel_mm2 > SPECK_MM2:
        found = f"{fixed(float(zone.sum()) * pixel_mm2, 2)} mm² of ink"
        blank.append(
            Finding(kind=Kind.CLEAR_ZONE_INK, where=where, found=found, meant="blank film")
        )
    if area < shape.area / 2:
        found = f"{fixed(area, 2)} mm² of ink"
        meant = f"{fixed(shape.area, 2)} mm²"
        return [Finding(kind=Kind.MARK_UNSEEN, where=where, found=found, meant=meant)], blank
    centre = float((ink * x).sum() / ink.sum()), float((ink * y).sum() / ink.sum())
    meant_at = shape.centroid.x, shape.centroid.y
    far = float(np.hypot(centre[0] - meant_at[0], centre[1] - meant_at[1]))
    against = []
    if far > CENTRE_MM or abs(area / shape.area - 1) > INK_SHARE:
        x0, y0 = said.page_x0_mm, frame.y0_mm
        against.append(
            Finding(
                kind=Kind.MARK_SEEN_MOVED,
                where=where,
                found=f"{fixed(area, 2)} mm² at {place(centre[0] + x0, centre[1] + y0)}",
                meant=f"{fixed(shape.area, 2)} mm² at {place(meant_at[0] + x0, meant_at[1] + y0)}",
            )
        )
    return against, blank


def _inside(
    shape: BaseGeometry, x: NDArray[np.float64], y: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Which places of a mesh lie in a shape."""
    shapely.prepare(shape)
    inside: NDArray[np.bool_] = shapely.contains_xy(shape, x.ravel(), y.ravel()).reshape(x.shape)
    return inside


def _bar(page: PdfPage, rendered: Rendered, bar: Bar) -> list[Finding]:
    """From the middle of one end tick to the middle of the other, beside the bar itself."""
    ends = [_tick(rendered, bar, at) for at in (bar.start, bar.end)]
    where = f"{page_file(page)}, scale bar {'along' if bar.along else 'across'}"
    meant = f"{fixed(BAR_MM, 2)} mm"
    if None in ends:
        return [Finding(kind=Kind.BAR_SEEN_WRONG, where=where, found="no end tick", meant=meant)]
    length = float(ends[1] or 0) - float(ends[0] or 0)
    if abs(length - BAR_MM) <= BAR_OFF_MM:
        return []
    found = f"{fixed(length, 2)} mm"
    return [Finding(kind=Kind.BAR_SEEN_WRONG, where=where, found=found, meant=meant)]


def _tick(rendered: Rendered, bar: Bar, at: tuple[float, float]) -> float | None:
    """Where along the bar the darkness beside one of its ends has its middle; None: no ink."""
    way = 1 if bar.along else 0
    reach = [TICK_MM[1], TICK_MM[1]]
    reach[way] = END_MM
    box = at[0] - reach[0], at[1] - reach[1], at[0] + reach[0], at[1] + reach[1]
    window = rendered.window(box, PER_MM)
    x, y = np.meshgrid(*window.places())
    places = (x, y)
    beside = places[1 - way] - at[1 - way]  # ticks point inwards; a decal may lie on the other side
    near = np.abs(places[way] - at[way]) <= END_MM
    dark = np.where((beside >= TICK_MM[0]) & (beside <= TICK_MM[1]) & near, window.dark(), 0.0)
    if float(dark.sum()) / (window.across * window.along) < SPECK_MM2:
        return None
    return float((dark * places[way]).sum() / dark.sum())
