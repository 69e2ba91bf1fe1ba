"""Tables of the proof: names in small grey type, figures to the right, a hairline a row."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from nestplan.files.proof_block import HEAD_MM, Block, continued, heading
from nestplan.files.proof_sheet import Align, Box, Sheet
from nestplan.files.proof_style import BODY_PT, GREY, HAIRLINE, INK, ROW_LINE, SMALL_PT
from nestplan.files.proof_text import fitted, wrapped
from nestplan.files.proof_text import width_mm as text_mm

NAMES_MM = 4.0  # the names of a table's columns
STRETCH_LEAST_MM = 6.0
ROW_MM = 4.0
AFTER_LINE_MM = 2.75
BAR_MM = 5.2
CELL_GAP_MM = 2.2
ROWS_LEAST = 3  # of a parted table, on either page

Draw = Callable[[Sheet, Box], None]  # a small picture in a cell
Cell = str | Draw


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column of a table, as wide as its words; stretched ones share what the others leave."""

    name: str = ""
    width_mm: float | None = None  # of a column of pictures
    stretch: bool = False
    align: Align = "left"
    quiet: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A headed table.

    strong: rows set in bold. bar: shares of one, each with its fill, drawn under the
    heading. after: a remark in small type at the end. size_pt: of the cells.
    """

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    strong: frozenset[int] = frozenset()
    bar: tuple[tuple[float, str], ...] = ()
    after: str = ""
    row_mm: float = ROW_MM
    size_pt: float = BODY_PT

    def height_mm(self, width_mm: float) -> float:
        """Heading, bar, column names, rows, remark."""
        return self._above_mm() + len(self.rows) * self.row_mm + self._after_mm(width_mm)

    def draw(self, sheet: Sheet, x_mm: float, top_mm: float, width_mm: float) -> None:
        """Draw it from its upper left corner."""
        heading(sheet, self.title, x_mm, top_mm, width_mm)
        spans = self._spans(x_mm, width_mm)
        if self.bar:
            self._draw_bar(sheet, x_mm, top_mm - HEAD_MM, width_mm)
        y = top_mm - self._above_mm()
        if self._names_mm():
            self._draw_names(sheet, spans, y)
            sheet.line([(x_mm, y), (x_mm + width_mm, y)], HAIRLINE)
        for index, row in enumerate(self.rows):
            self._draw_row(sheet, row, spans, y, index in self.strong)
            y -= self.row_mm
            sheet.line([(x_mm, y), (x_mm + width_mm, y)], ROW_LINE)
        for line in wrapped(self.after, SMALL_PT, width_mm):
            y -= AFTER_LINE_MM
            sheet.text(x_mm, y - 0.6, line, size_pt=SMALL_PT, colour=GREY)

    def parted(self, width_mm: float, room_mm: float) -> tuple[Block, Block] | None:
        """As many rows as there is room for, then the rest under the same names."""
        fit = int((room_mm - self._above_mm()) / self.row_mm)
        fit = min(fit, len(self.rows) - ROWS_LEAST)
        if fit < ROWS_LEAST:
            return None
        first = frozenset(index for index in self.strong if index < fit)
        later = frozenset(index - fit for index in self.strong if index >= fit)
        return (
            replace(self, rows=self.rows[:fit], strong=first, after=""),
            replace(self, title=continued(self.title), rows=self.rows[fit:], strong=later, bar=()),
        )

    def _names_mm(self) -> float:
        return NAMES_MM if any(column.name for column in self.columns) else 0.0

    def _above_mm(self) -> float:
        return HEAD_MM + (BAR_MM if self.bar else 0.0) + self._names_mm()

    def _after_mm(self, width_mm: float) -> float:
        lines = len(wrapped(self.after, SMALL_PT, width_mm))
        return lines * AFTER_LINE_MM + 1.2 if lines else 0.0

    def _spans(self, x_mm: float, width_mm: float) -> list[tuple[float, float]]:
        """Left and right end of each column's words: figures are never cut, names may be."""
        wide = [self._fitted_mm(index) for index in range(len(self.columns))]
        gap = CELL_GAP_MM
        slack = width_mm - sum(wide) - gap * (len(wide) - 1)
        if slack < 0:
            gap = max(gap + slack / (len(wide) - 1), CELL_GAP_MM / 2)
        stretched = [column.stretch for column in self.columns]
        if not any(stretched):
            stretched = [index > 0 for index in range(len(wide))]
        spans = []
        for extra, own in zip(stretched, wide, strict=True):
            span = own + max(slack, 0.0) / sum(stretched) * extra
            spans.append((x_mm, x_mm + span))
            x_mm += span + gap
        return spans

    def _fitted_mm(self, index: int) -> float:
        """The width of a column's words, or the least one of a stretched column."""
        column = self.columns[index]
        if column.width_mm is not None:
            return column.width_mm
        if column.stretch:
            return STRETCH_LEAST_MM
        cells = ((n, row[index]) for n, row in enumerate(self.rows))
        words = (
            text_mm(cell, self.size_pt, bold=n in self.strong)
            for n, cell in cells
            if isinstance(cell, str)
        )
        return max(text_mm(column.name, SMALL_PT), *words, 0.0)

    def _draw_bar(self, sheet: Sheet, x_mm: float, top_mm: float, width_mm: float) -> None:
        for share, fill in self.bar:
            wide = share * width_mm
            sheet.box((x_mm, top_mm - 3.6, x_mm + wide, top_mm), fill)
            x_mm += wide

    def _draw_names(
        self, sheet: Sheet, spans: Sequence[tuple[float, float]], bottom_mm: float
    ) -> None:
        for span, column in zip(spans, self.columns, strict=True):
            sheet.text(
                _anchor(span, column.align),
                bottom_mm + 1.4,
                column.name,
                size_pt=SMALL_PT,
                colour=GREY,
                align=column.align,
            )

    def _draw_row(
        self,
        sheet: Sheet,
        row: Sequence[Cell],
        spans: Sequence[tuple[float, float]],
        top_mm: float,
        strong: bool,
    ) -> None:
        tall = self.row_mm
        for span, column, cell in zip(spans, self.columns, row, strict=True):
            if not isinstance(cell, str):
                cell(sheet, (span[0], top_mm - tall + 0.7, span[1], top_mm - 0.7))
                continue
            sheet.text(
                _anchor(span, column.align),
                top_mm - tall / 2 - 0.95 * self.size_pt / BODY_PT,
                fitted(cell, self.size_pt, span[1] - span[0] + 0.01, strong),
                size_pt=self.size_pt,
                bold=strong,
                colour=GREY if column.quiet and not strong else INK,
                align=column.align,
            )


def swatch(fill: str) -> Draw:
    """A cell that shows a fill of the bar."""

    def draw(sheet: Sheet, box: Box) -> None:
        left, bottom, _, top = box
        side = min(2.2, top - bottom)
        middle = (bottom + top) / 2
        sheet.box((left, middle - side / 2, left + side, middle + side / 2), fill)

    return draw


def _anchor(span: tuple[float, float], align: Align) -> float:
    return {"left": span[0], "centre": sum(span) / 2, "right": span[1]}[align]
