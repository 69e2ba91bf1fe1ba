"""Every decal by itself, at a round scale: its art, the contour over it, its size, its facts."""

from dataclasses import dataclass

import shapely

from nestplan import figures
from nestplan.files.proof_art import art_name, backing_name, line_name
from nestplan.files.proof_block import HEAD_MM, Block, heading
from nestplan.files.proof_dimension import CAP_MM, dimension_across, dimension_along
from nestplan.files.proof_drawing import CASED_MM, cut_stroke
from nestplan.files.proof_flow import column_mm, draw_stack
from nestplan.files.proof_lengths import lengths_of
from nestplan.files.proof_page import body_of
from nestplan.files.proof_scale import View, round_scale
from nestplan.files.proof_sheet import Sheet
from nestplan.files.proof_style import (
    BLOCK_GAP_MM,
    CASING,
    GREY,
    GUTTER_MM,
    PORTRAIT_MM,
    SMALL_PT,
    THROUGH,
)
from nestplan.files.proof_text import width_mm as text_mm
from nestplan.files.proof_text import wrapped
from nestplan.files.proof_white import draw_white, white_words
from nestplan.files.run import Run

# columns, and the height of a drawing at most: the first with which one page holds all is taken
WAYS = ((1, 120.0), (1, 80.0), (2, 90.0), (2, 72.0), (2, 58.0))
ASIDE_MM, BELOW_MM = 3.0, 3.2  # from the print to its dimension lines
LINE_MM = 2.9
TURNS = {"none": "not turned", "half": "half turns", "quarter": "quarter turns", "free": "any turn"}
LONG_MM, WIDE_AS = (
    60.0,
    2.6,
)  # a decal so many times as wide as high takes the whole width of the page

Page = tuple[tuple[Block, ...], tuple[tuple[Block, ...], ...]]  # over the page, and in columns


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DecalPanel:
    """A decal's drawing under its name. index: from 0. tall_mm: of the drawing, at most."""

    run: Run
    index: int
    tall_mm: float

    def height_mm(self, width_mm: float) -> float:
        """Heading, drawing, dimension, facts."""
        _, high, _ = self._drawn_mm(width_mm)
        facts = sum(len(wrapped(line, SMALL_PT, width_mm)) for line in self._facts())
        return HEAD_MM + high + BELOW_MM + 5.0 + facts * LINE_MM

    def draw(self, sheet: Sheet, x_mm: float, top_mm: float, width_mm: float) -> None:
        """Draw it from its upper left corner."""
        decal, say = self.run.artwork.decals[self.index], lengths_of(self.run)
        wide, high, denominator = self._drawn_mm(width_mm)
        name = f"{self.index + 1}   {decal.name}"
        heading(sheet, f"{name}, {figures.scale(denominator)}", x_mm, top_mm, width_mm)
        aside = ASIDE_MM + 2.0 + text_mm(say.bare(decal.contour.height_mm), SMALL_PT)
        left = x_mm + max(0.0, (width_mm - wide - aside) / 2)
        top = top_mm - HEAD_MM
        x0, y0, x1, y1 = decal.contour.bounds_mm
        outer = shapely.bounds(decal.taken).tolist()
        view = View(
            x0_mm=(outer[0] + outer[2]) / 2,
            y0_mm=(outer[1] + outer[3]) / 2,
            page_x_mm=left + wide / 2,
            page_y_mm=top - high / 2,
            denominator=denominator,
        )
        onto = view.matrix(0.0, 0.0, 0.0)
        sheet.form(art_name(decal, self.index), onto)
        draw_white(sheet, view, decal)
        if min(wide, high) >= CASED_MM:
            sheet.form(line_name(self.index), onto, CASING)
        sheet.form(line_name(self.index), onto, cut_stroke(self.run, self.index))
        if decal.backing is not None:
            sheet.form(backing_name(self.index), onto, THROUGH)
        low, right = view.y(outer[1]), view.x(outer[2])
        y = low - BELOW_MM
        words = say.bare(decal.contour.width_mm)
        dimension_across(sheet, view.x(x0), view.x(x1), y, words, from_mm=low)
        x = right + ASIDE_MM
        dimension_along(sheet, view.y(y0), view.y(y1), x, from_mm=right)
        middle = (view.y(y0) + view.y(y1)) / 2 - CAP_MM / 2
        sheet.label(x + 1.6, middle, say.bare(decal.contour.height_mm), size_pt=SMALL_PT)
        y = top - high - BELOW_MM - 5.0
        for fact in self._facts():
            for line in wrapped(fact, SMALL_PT, width_mm):
                sheet.text(x_mm, y, line, size_pt=SMALL_PT, colour=GREY)
                y -= LINE_MM

    def parted(self, width_mm: float, room_mm: float) -> tuple[Block, Block] | None:
        """One drawing."""
        return None

    def _drawn_mm(self, width_mm: float) -> tuple[float, float, float]:
        """Width and height of the print on paper, and the scale."""
        decal = self.run.artwork.decals[self.index]
        say = lengths_of(self.run)
        aside = ASIDE_MM + 2.0 + text_mm(say.bare(decal.contour.height_mm), SMALL_PT)
        left, bottom, right, top = shapely.bounds(decal.taken).tolist()
        wide, high = right - left, top - bottom
        denominator = round_scale(max(wide / (width_mm - aside), high / self.tall_mm))
        return wide / denominator, high / denominator, denominator

    def _facts(self) -> list[str]:
        run, decal, say = self.run, self.run.artwork.decals[self.index], lengths_of(self.run)
        turns = "not turned" if run.job.roll.directional else TURNS[decal.rotate]
        said = [
            f"{decal.cut} cut, bleed {say.short(decal.bleed_mm)}; top to the {decal.direction} "
            f"edge, {turns}",
            f"{decal.quantity} ordered, {run.nest.planned[self.index]} planned; "
            f"{figures.fixed(decal.contour.area_mm2 / 100)} cm² each; {decal.source}",
        ]
        if decal.rows:
            printed = decal.printed_rows
            rows = figures.count(len(printed), "copy, its own row", "copies, each its own row")
            table = decal.row_table.source if decal.row_table else ""
            number, row = printed[0]
            said.append(f"{rows} of {table}; shown is row {number}: {row.words}")
        if decal.backing is not None:
            width, height = say.bare(decal.backing.width_mm), say.bare(decal.backing.height_mm)
            said.append(f"backing, cut through: {width} × {height}")
        said += white_words(decal, say.short(decal.white.choke_mm) if decal.white else "")
        if decal.recipient is not None:
            said.append(f"for {decal.recipient}")
        return said


def decal_pages(run: Run, taken_mm: float) -> list[Page]:
    """Panels of all decals, as large as one page holds; else on as many as they need.

    taken_mm: of the first page, from its top.
    """
    pages: list[Page] = []
    for columns, tall_mm in WAYS:
        pages = _laid(run, taken_mm, columns, tall_mm)
        if len(pages) == 1:
            break
    return pages


def _laid(run: Run, taken_mm: float, many: int, tall_mm: float) -> list[Page]:
    """Panels in so many columns: long ones across them, above the others of their page.

    Of the others each goes where there is more room.
    """
    left, bottom, right, top = body_of(PORTRAIT_MM)
    whole, unit = right - left, column_mm(right - left, many)
    panels = [DecalPanel(run=run, index=k, tall_mm=tall_mm) for k in range(len(run.artwork.decals))]
    waiting = sorted(panels, key=lambda panel: not _is_long(panel))
    pages: list[Page] = []
    while waiting:
        room = top - bottom - (0.0 if pages else taken_mm)
        over: list[Block] = []
        columns: list[list[Block]] = [[] for _ in range(many)]
        used = [0.0] * many
        for panel in list(waiting):
            long = _is_long(panel)
            tall = panel.height_mm(whole if long else unit) + BLOCK_GAP_MM
            k = used.index(max(used) if long else min(used))
            if used[k] + tall > room + BLOCK_GAP_MM:
                break
            waiting.remove(panel)
            if long:
                over.append(panel)
                used = [used[k] + tall] * many
            else:
                columns[k].append(panel)
                used[k] += tall
        assert over or any(columns) or (not pages and taken_mm), "a panel fits an empty page"
        pages.append((tuple(over), tuple(map(tuple, columns))))
    return pages


def draw_decal_page(sheet: Sheet, page: Page, taken_mm: float = 0.0) -> None:
    """Draw the panels of a page, below what is taken from its top."""
    left, _, right, top = body_of(PORTRAIT_MM)
    over, columns = page
    top -= taken_mm
    draw_stack(sheet, over, left, top, right - left)
    top -= sum(block.height_mm(right - left) + BLOCK_GAP_MM for block in over)
    unit = column_mm(right - left, max(len(columns), 1))
    for k, column in enumerate(columns):
        draw_stack(sheet, column, left + k * (unit + GUTTER_MM), top, unit)


def _is_long(panel: DecalPanel) -> bool:
    outline = panel.run.artwork.decals[panel.index].contour
    return outline.width_mm > WIDE_AS * outline.height_mm and outline.width_mm > LONG_MM
