"""The rest of a print page: its size, its marks, its scale bars."""

from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nestplan.check.code_shape import is_code
from nestplan.check.cut_layer import CutLayer, CutMark
from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.moved_together import UNMOVED, Together
from nestplan.check.outlines import SAME_MM, apart_mm, region_of
from nestplan.check.pdf_content import is_black, moved
from nestplan.check.pdf_pages import Bar, PdfPage
from nestplan.check.print_claims import Printed, page_file
from nestplan.check.printed_marks import middle, printed_marks
from nestplan.check.said import Said, SaidFrame
from nestplan.check.words import place
from nestplan.figures import fixed

BAR_MM = 100.0
BAR_OFF_MM = 0.02  # a fifth of a line's width: no tape measure shows it
MARK_SHAPE_MM = 0.03  # chords of a disc and its circle differ by less


def page_claims(
    said: Said,
    pages: Sequence[PdfPage],
    layers: Sequence[CutLayer],
    pairs: Sequence[Printed],
    moves: Mapping[int, Together],
) -> list[Claim]:
    """Sizes, marks and bars of all pages that have a frame."""
    sizes: list[Finding] = []
    marks: list[Finding] = []
    bars: list[Finding] = []
    for frame, page, layer in zip(said.frames, pages, layers, strict=False):
        sizes += _size(said, frame, page, pages[0])
        marks += _marks(said, frame, page, layer, moves.get(page.number, UNMOVED))
        printed = [pair for pair in pairs if pair.page == page.number]
        bars += _bars(said, frame, page, layer, printed)
    return [
        Claim(says="every page is its frame at true size", against=tuple(sizes)),
        Claim(
            says=f"every mark is printed solid black where the cut layer has it, within "
            f"{SAME_MM:g} mm, and nothing else is",
            against=tuple(marks),
        ),
        Claim(
            says=f"a scale bar of {BAR_MM:g} mm stands along and across on every page",
            against=tuple(bars),
        ),
    ]


def _size(said: Said, frame: SaidFrame, page: PdfPage, first: PdfPage) -> list[Finding]:
    against = []

    def wrong(found: str, meant: str) -> None:
        against.append(
            Finding(kind=Kind.PAGE_SIZE, where=page_file(page), found=found, meant=meant)
        )

    if abs(page.length_mm - frame.length_mm) > SAME_MM:
        wrong(f"{fixed(page.length_mm, 2)} mm long", f"{fixed(frame.length_mm, 2)} mm")
    if abs(page.width_mm - first.width_mm) > SAME_MM:
        wrong(f"{fixed(page.width_mm, 2)} mm wide", f"{fixed(first.width_mm, 2)} mm as page 1")
    room = said.roll.width_mm - said.page_x0_mm
    if page.width_mm > room + SAME_MM:
        wrong(f"{fixed(page.width_mm, 2)} mm wide", f"at most {fixed(room, 2)} mm on this film")
    for odd in page.odd:
        wrong(odd, "upright and whole")
    return against


def _marks(
    said: Said, frame: SaidFrame, page: PdfPage, layer: CutLayer, together: Together
) -> list[Finding]:
    """Filled shapes of the page against the marks of the cut layer."""
    file = page_file(page)
    marks, others = printed_marks(said, frame, page, layer)
    others = [shape for shape in others if not is_code(shape)]
    against = []
    for each in marks:
        where = f"{file}, mark {each.mark.number}"
        if each.seen is None:
            at = f"at {place(*middle(each.meant))}"
            against.append(
                Finding(kind=Kind.PRINTED_MARK_MISSING, where=where, found="nothing", meant=at)
            )
            continue
        seen = each.seen
        if together is not UNMOVED:
            seen = shapely.transform(seen, together.back)
        against += _mark(where, each.meant, seen, is_black(each.ink))
    for shape in others:
        against.append(
            Finding(
                kind=Kind.PRINTED_MARK_EXTRA,
                where=file,
                found=f"a filled shape at {place(*middle(shape))}",
                meant="the marks only",
            )
        )
    return against


def _mark(where: str, meant: BaseGeometry, seen: BaseGeometry, black: bool) -> list[Finding]:
    against = []

    def wrong(kind: Kind, found: str, meant: str) -> None:
        against.append(Finding(kind=kind, where=where, found=found, meant=meant))

    (x0, y0), (x1, y1) = middle(meant), middle(seen)
    off = float(np.hypot(x1 - x0, y1 - y0))
    if off > SAME_MM:
        found = f"moved by {fixed(off, 2)} mm, to {place(x1, y1)}"
        wrong(Kind.PRINTED_MARK_MOVED, found, place(x0, y0))
    back = shapely.transform(seen, lambda points: points + (x0 - x1, y0 - y1))
    if apart_mm(back, meant) > MARK_SHAPE_MM:
        left, bottom, right, top = seen.bounds
        found = f"{fixed(right - left, 2)} by {fixed(top - bottom, 2)} mm"
        found += f", {fixed(seen.area, 2)} mm²"
        wrong(Kind.PRINTED_MARK_SHAPE, found, f"{fixed(meant.area, 2)} mm² as in the cut layer")
    elif not black:
        wrong(Kind.PRINTED_MARK_SHAPE, "not black", "solid black")
    return against


def _bars(
    said: Said,
    frame: SaidFrame,
    page: PdfPage,
    layer: CutLayer,
    printed: Sequence[Printed],
) -> list[Finding]:
    against = []
    for along in (False, True):
        way = "along" if along else "across"
        where = f"{page_file(page)}, scale bar {way}"
        bars = [bar for bar in page.bars if bar.along == along]
        if not bars:
            against.append(
                Finding(kind=Kind.BAR_WRONG, where=where, found="none", meant=f"{BAR_MM:g} mm")
            )
        for bar in bars:
            against += _bar(where, bar)
    taken = in_the_way(said, frame, layer, printed)
    for bar in page.bars:
        line = shapely.LineString([bar.start, bar.end])
        if bool(shapely.intersects(line, taken).any()):
            against.append(
                Finding(
                    kind=Kind.BAR_IN_THE_WAY,
                    where=f"{page_file(page)}, scale bar {'along' if bar.along else 'across'}",
                    found="on a decal or in a mark's clear zone",
                    meant="on blank film",
                )
            )
    return against


def _bar(where: str, bar: Bar) -> list[Finding]:
    wide, tall = abs(bar.end[0] - bar.start[0]), abs(bar.end[1] - bar.start[1])
    askew = min(wide, tall)
    if abs(bar.length_mm - BAR_MM) <= BAR_OFF_MM and askew <= BAR_OFF_MM:
        return []
    found = f"{fixed(bar.length_mm, 2)} mm"
    found += f", {fixed(askew, 2)} mm askew" if askew > BAR_OFF_MM else ""
    return [Finding(kind=Kind.BAR_WRONG, where=where, found=found, meant=f"{BAR_MM:g} mm")]


def in_the_way(
    said: Said, frame: SaidFrame, layer: CutLayer, printed: Sequence[Printed]
) -> NDArray[np.object_]:
    """Where a page has its decals and its marks' clear zones, page millimetres."""
    taken = [moved(pair.placed.picture.outline, pair.placed.matrix) for pair in printed]
    taken += [
        shapely.buffer(mark_on_page(said, frame, mark), said.marks.clear_mm - SAME_MM)
        for mark in layer.marks
        if said.marks.clear_mm > SAME_MM
    ]
    return np.array(taken, dtype=object)


def mark_on_page(said: Said, frame: SaidFrame, mark: CutMark) -> BaseGeometry:
    """A mark of the cut layer in page millimetres."""
    origin = np.array([said.page_x0_mm, frame.y0_mm])
    return region_of([ring - origin for ring in mark.rings])
