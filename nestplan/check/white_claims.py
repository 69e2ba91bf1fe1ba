"""White below marks, where the film lets no black be seen without it."""

from collections.abc import Mapping, Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from nestplan.check.cut_layer import CutLayer
from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.moved_together import UNMOVED, Together
from nestplan.check.outlines import SAME_MM
from nestplan.check.pdf_content import moved
from nestplan.check.pdf_pages import PdfFile, PdfPage, White
from nestplan.check.print_claims import Printed, page_file
from nestplan.check.print_page_claims import mark_on_page
from nestplan.check.printed_marks import middle
from nestplan.check.said import Said, SaidFrame
from nestplan.check.white_art_claims import own_whites, run_order
from nestplan.check.words import place
from nestplan.figures import fixed

LEAST_MM2 = 0.05
AROUND_BLACK_MM = 0.21  # white that is printed after the black may keep so far off a mark


def white_claims(
    said: Said,
    file: PdfFile,
    pages: Sequence[PdfPage],
    layers: Sequence[CutLayer],
    pairs: Sequence[Printed],
    moves: Mapping[int, Together],
) -> list[Claim]:
    """Fields whole, below the black and off the decals; none on film that is white.

    moves: how a page (by number) is moved as a whole; that is said elsewhere.
    """
    base = said.film().base
    lacking: list[Finding] = []
    wrong: list[Finding] = []
    for frame, page, layer in zip(said.frames, pages, layers, strict=False):
        printed = [pair for pair in pairs if pair.page == page.number]
        if base != "white":
            together = moves.get(page.number, UNMOVED)
            lacking += _lacking(said, frame, page, layer, together)
        own = own_whites(said, file, page, printed)
        fields = [field for k, field in enumerate(page.whites) if k not in own]
        wrong += _wrong(page, fields, printed, base)
    says = f"every mark and its clear zone lie on white, which this {base} film needs"
    if run_order(said) == "over":
        says = f"white, printed last, lies round every mark on this {base} film, and on none"
    return [
        *([Claim(says=says, against=tuple(lacking))] if base != "white" else []),
        *(
            [Claim(says="white lies below the black, off the decals", against=tuple(wrong))]
            if base != "white" or wrong
            else []
        ),
    ]


def _lacking(
    said: Said, frame: SaidFrame, page: PdfPage, layer: CutLayer, together: Together
) -> list[Finding]:
    """Marks whose clear zone is not white all over, or that punch a hole into it."""
    white = shapely.union_all([field.shape for field in page.whites])
    last = run_order(said) == "over"
    against = []
    for mark in layer.marks:
        shape = mark_on_page(said, frame, mark)
        if together is not UNMOVED:
            shape = shapely.transform(shape, together.moved)
        zone: BaseGeometry = shape.buffer(max(said.marks.clear_mm - SAME_MM, 0.0))
        if last:
            zone = zone.difference(shape.buffer(AROUND_BLACK_MM))
        bare = zone.difference(white).area
        where = f"{page_file(page)}, mark {mark.number}"
        if bare > LEAST_MM2:
            against.append(
                Finding(
                    kind=Kind.WHITE_LACKING,
                    where=where,
                    found=f"no white on {fixed(bare, 1)} of {fixed(zone.area, 1)} mm²",
                    meant="white under the mark and its clear zone",
                )
            )
        elif last and _meets(shape, white):
            against.append(
                Finding(
                    kind=Kind.WHITE_WRONG,
                    where=where,
                    found="white over the mark, printed after it",
                    meant="white round it",
                )
            )
        elif any(_meets(shape, hole) for hole in page.knocked):
            against.append(
                Finding(
                    kind=Kind.WHITE_LACKING,
                    where=where,
                    found="black that knocks the white out",
                    meant="black that overprints it",
                )
            )
    return against


def _wrong(
    page: PdfPage, fields: Sequence[White], printed: Sequence[Printed], base: str
) -> list[Finding]:
    """Fields over black, over a decal, off the page, or on film that needs none."""
    sheet = shapely.box(0, 0, page.width_mm, page.length_mm).buffer(SAME_MM)
    decals = [moved(pair.placed.picture.outline, pair.placed.matrix) for pair in printed]
    tree = shapely.STRtree(decals)
    against = []

    def wrong(shape: BaseGeometry, found: str, meant: str) -> None:
        where = f"{page_file(page)}, white at {place(*middle(shape))} on the page"
        against.append(Finding(kind=Kind.WHITE_WRONG, where=where, found=found, meant=meant))

    for field in fields:
        shape = field.shape
        if base == "white":
            wrong(shape, "white on white film", "nothing")
        if field.late:
            wrong(shape, "white over what is printed before it", "white first")
        if not sheet.covers(shape):
            wrong(shape, "white beyond the page", "inside it")
        hit = [decals[k] for k in tree.query(shape).tolist() if _meets(shape, decals[k])]
        if hit:
            wrong(shape, "white on a decal's print", "white off the decals")
    return against


def _meets(one: BaseGeometry, other: BaseGeometry) -> bool:
    return bool(one.intersection(other).area > LEAST_MM2)
