"""How a page of the proof is divided: a drawing as large as may be, and words beside it.

The drawing wants a large scale, the words want room. Every way to divide an A4 sheet
is tried, with all words and with fewer (the rest goes to a page of its own), and the
largest scale wins; moving words away is held against a division.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Generic, TypeVar

from nestplan.files.proof_block import Block
from nestplan.files.proof_flow import balanced_mm, column_mm, draw_stack, pour, stack_mm
from nestplan.files.proof_sheet import Box, Sheet
from nestplan.files.proof_style import (
    BLOCK_GAP_MM,
    FOOTER_MM,
    GREY,
    GUTTER_MM,
    HEADER_MM,
    LANDSCAPE_MM,
    MARGIN_BOTTOM_MM,
    MARGIN_TOP_MM,
    MARGIN_X_MM,
    PORTRAIT_MM,
    SMALL_PT,
    TITLE_PT,
)
from nestplan.files.proof_text import fitted, width_mm

INFO_SHARE = 0.62  # words below a drawing take no more of the page than this
MORE_COLUMNS = 3  # of narrow blocks on a page of words alone

Fit = TypeVar("Fit")


@dataclass(frozen=True, slots=True, kw_only=True)
class Info:
    """The words of a page. moved: blocks that go to a page of their own instead."""

    wide: tuple[Block, ...] = ()
    narrow: tuple[Block, ...] = ()
    foot: Block | None = None
    moved_wide: tuple[Block, ...] = ()
    moved_narrow: tuple[Block, ...] = ()
    weight: float = 1.0  # how good a page with just these words is, 1 at best
    variant: int = 0  # which of the caller's choices this is


@dataclass(frozen=True, slots=True, kw_only=True)
class _Division:
    """A way to divide the page into columns. beside: those left to the words; 0: all, below."""

    paper_mm: tuple[float, float]
    columns: int
    beside: int = 0


DIVISIONS = (
    _Division(paper_mm=PORTRAIT_MM, columns=3),
    _Division(paper_mm=LANDSCAPE_MM, columns=4, beside=2),
    _Division(paper_mm=LANDSCAPE_MM, columns=5, beside=3),
    _Division(paper_mm=LANDSCAPE_MM, columns=4, beside=1),
    _Division(paper_mm=PORTRAIT_MM, columns=3, beside=2),
    _Division(paper_mm=PORTRAIT_MM, columns=3, beside=1),
    _Division(paper_mm=LANDSCAPE_MM, columns=4),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Divided(Generic[Fit]):
    """The division that won. fit: what `fits` said of the drawing's room."""

    paper_mm: tuple[float, float]
    drawing: Box
    words: Box
    columns: int
    info: Info
    fit: Fit


def body_of(paper_mm: tuple[float, float]) -> Box:
    """The page between header, footer and margins."""
    return (
        MARGIN_X_MM,
        MARGIN_BOTTOM_MM + FOOTER_MM,
        paper_mm[0] - MARGIN_X_MM,
        paper_mm[1] - MARGIN_TOP_MM - HEADER_MM,
    )


def divided(
    infos: Sequence[Info], fits: Callable[[float, float], tuple[Fit, float] | None]
) -> Divided[Fit]:
    """Divide a page between a drawing and words.

    fits: for a room (width, height) in mm, how the drawing is laid in it and how good
    that is (its scale), or None where it does not fit.
    """
    best: tuple[float, Divided[Fit]] | None = None
    for info in infos:
        for division in DIVISIONS:
            made = _rooms(info, division)
            if made is None:
                continue
            drawing, words, columns = made
            fit = fits(drawing[2] - drawing[0], drawing[3] - drawing[1])
            if fit is None:
                continue
            worth = fit[1] * info.weight
            if best is None or worth > best[0] * 1.02:
                page = Divided(
                    paper_mm=division.paper_mm,
                    drawing=drawing,
                    words=words,
                    columns=columns,
                    info=info,
                    fit=fit[0],
                )
                best = worth, page
    assert best is not None, "the barest words leave room for a drawing"
    return best[1]


def _rooms(info: Info, division: _Division) -> tuple[Box, Box, int] | None:
    """Boxes of drawing and words, and the columns of the words; None where they do not fit."""
    left, bottom, right, top = body_of(division.paper_mm)
    unit = column_mm(right - left, division.columns)
    if division.beside:
        wide = unit * division.beside + GUTTER_MM * (division.beside - 1)
        if _words_mm(info, wide, division.beside) > top - bottom:
            return None
        edge = right - wide - GUTTER_MM
        return (left, bottom, edge, top), (right - wide, bottom, right, top), division.beside
    tall = _words_mm(info, right - left, division.columns)
    if tall > INFO_SHARE * (top - bottom):
        return None
    edge = bottom + tall
    return (left, edge + BLOCK_GAP_MM, right, top), (left, bottom, right, edge), division.columns


@dataclass(frozen=True, slots=True, kw_only=True)
class _Arranged:
    """Wide blocks over all columns, or over the first two with the narrow ones beside them."""

    height_mm: float
    wide_mm: float
    over: bool
    columns: int


def _arranged(info: Info, width_mm: float, columns: int) -> _Arranged | None:
    """The lowest arrangement of wide and narrow blocks; None where wide ones find no room."""
    unit = column_mm(width_mm, columns)
    if not info.wide:
        tall = balanced_mm(info.narrow, unit, columns)
        return _Arranged(height_mm=tall, wide_mm=0.0, over=True, columns=columns)
    if columns < 2:
        return None
    under = balanced_mm(info.narrow, unit, columns)
    tall = stack_mm(info.wide, width_mm) + (BLOCK_GAP_MM + under if info.narrow else 0.0)
    best = _Arranged(height_mm=tall, wide_mm=width_mm, over=True, columns=columns)
    if columns > 2:
        two = 2 * unit + GUTTER_MM
        beside = balanced_mm(info.narrow, unit, columns - 2)
        tall = max(stack_mm(info.wide, two), beside)
        if tall < best.height_mm:
            best = _Arranged(height_mm=tall, wide_mm=two, over=False, columns=columns - 2)
    return best


def _words_mm(info: Info, width_mm: float, columns: int) -> float:
    made = _arranged(info, width_mm, columns)
    if made is None:
        return float("inf")
    foot = info.foot.height_mm(width_mm) + BLOCK_GAP_MM if info.foot else 0.0
    return made.height_mm + foot


def draw_words(sheet: Sheet, info: Info, words: Box, columns: int) -> None:
    """Draw the words of a divided page."""
    left, bottom, right, top = words
    made = _arranged(info, right - left, columns)
    assert made is not None, "the division was found with these words"
    if info.foot is not None:
        info.foot.draw(sheet, left, bottom + info.foot.height_mm(right - left), right - left)
    draw_stack(sheet, info.wide, left, top, made.wide_mm)
    unit = column_mm(right - left, columns)
    x, y, tall = left, top, made.height_mm
    if info.wide and made.over:
        used = stack_mm(info.wide, made.wide_mm) + BLOCK_GAP_MM
        y, tall = top - used, tall - used
    elif info.wide:
        x = left + made.wide_mm + GUTTER_MM
    poured = pour(info.narrow, unit, made.columns, tall, part=False)
    assert not poured.rest, "the arrangement was measured with these blocks"
    for column in poured.columns:
        draw_stack(sheet, column, x, y, unit)
        x += unit + GUTTER_MM


@dataclass(slots=True)
class More:
    """Pages of words alone: each is the wide blocks and the columns of narrow ones it holds."""

    pages: list[tuple[tuple[Block, ...], tuple[tuple[Block, ...], ...]]] = field(
        default_factory=list
    )


def more_pages(wide: Sequence[Block], narrow: Sequence[Block]) -> More:
    """Lay blocks on as many portrait pages as they need, tall tables parted."""
    left, bottom, right, top = body_of(PORTRAIT_MM)
    width, columns = right - left, MORE_COLUMNS
    more = More()
    while wide or narrow:
        poured = pour(wide, width, 1, top - bottom, part=True)
        here, wide = poured.columns[0], poured.rest
        used = stack_mm(here, width) + BLOCK_GAP_MM if here else 0.0
        under: tuple[tuple[Block, ...], ...] = ()
        if not wide:
            unit = column_mm(width, columns)
            held = pour(narrow, unit, columns, top - bottom - used, part=True)
            if held.rest == () and len(narrow) > 1:
                even = min(balanced_mm(narrow, unit, columns), top - bottom - used)
                level = pour(narrow, unit, columns, even, part=False)
                held = level if not level.rest else held
            under, narrow = held.columns, held.rest
        assert here or any(under), "every block fits an empty page, or is parted"
        more.pages.append((here, under))
    return more


def more_mm(page: tuple[tuple[Block, ...], tuple[tuple[Block, ...], ...]]) -> float:
    """How much of a page of words is used, with the gap below it."""
    left, _, right, _ = body_of(PORTRAIT_MM)
    wide, columns = page
    unit = column_mm(right - left, MORE_COLUMNS)
    stacks = [stack_mm(wide, right - left), max((stack_mm(c, unit) for c in columns), default=0.0)]
    return sum(tall + BLOCK_GAP_MM for tall in stacks if tall)


def draw_more(sheet: Sheet, page: tuple[tuple[Block, ...], tuple[tuple[Block, ...], ...]]) -> None:
    """Draw one page of words alone."""
    left, _, right, top = body_of(PORTRAIT_MM)
    wide, columns = page
    draw_stack(sheet, wide, left, top, right - left)
    if wide:
        top -= stack_mm(wide, right - left) + BLOCK_GAP_MM
    unit = column_mm(right - left, MORE_COLUMNS)
    for index, column in enumerate(columns):
        draw_stack(sheet, column, left + index * (unit + GUTTER_MM), top, unit)


def draw_header(sheet: Sheet, title: str, under: str, right: str) -> None:
    """What a page is about, in one large line, and of what run."""
    top = sheet.height_mm - MARGIN_TOP_MM
    edge = sheet.width_mm - MARGIN_X_MM
    room = edge - MARGIN_X_MM - width_mm(right, TITLE_PT) - 8
    sheet.text(
        MARGIN_X_MM,
        top - 4.2,
        fitted(title, TITLE_PT, room, bold=True),
        size_pt=TITLE_PT,
        bold=True,
    )
    sheet.text(edge, top - 4.2, right, size_pt=TITLE_PT, colour=GREY, align="right")
    sheet.text(MARGIN_X_MM, top - 9.4, fitted(under, 7.2, edge - MARGIN_X_MM), colour=GREY)


def draw_footer(sheet: Sheet, left: str, right: str) -> None:
    """Where the page comes from and which it is."""
    y = MARGIN_BOTTOM_MM - 2.5
    edge = sheet.width_mm - MARGIN_X_MM
    room = edge - MARGIN_X_MM - width_mm(right, SMALL_PT) - 6
    sheet.text(MARGIN_X_MM, y, fitted(left, SMALL_PT, room), size_pt=SMALL_PT, colour=GREY)
    sheet.text(edge, y, right, size_pt=SMALL_PT, colour=GREY, align="right")
