"""The way from nothing to what is paid, as bars that stand on one another."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from nestplan import figures
from nestplan.cost import Bar
from nestplan.cost.waterfall import BarKind
from nestplan.files.proof_block import HEAD_MM, Block, heading
from nestplan.files.proof_page_trade import ticks
from nestplan.files.proof_sheet import Sheet
from nestplan.files.proof_style import (
    ACCENT,
    CUT,
    FAINT,
    GREY,
    HALO,
    INK,
    SMALL_PT,
    Stroke,
)
from nestplan.files.proof_text import fitted
from nestplan.quote.amounts import amount

AXIS_MM = 13.0  # amounts at the left
NAMES_MM = 8.5  # below the bars: what it is, its share of the price
ABOVE_MM = 3.5  # the figure over the highest bar
FILLS: dict[BarKind, str] = {
    "stage": ACCENT,
    "sum": INK,
    "margin": HALO,
    "discount": CUT,
    "tax": GREY,
}
BAR_SHARE = 0.66  # of the room between two bars' middles
GRID = Stroke(colour=FAINT, width_pt=0.5)
AXIS = Stroke(colour=INK, width_pt=0.5)
STEP = Stroke(colour=GREY, width_pt=0.4)


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterfallPlot:
    """A block: bars in order; shares are of net, the price before tax."""

    bars: Sequence[Bar]
    net: Decimal
    currency: str
    tall_mm: float

    def height_mm(self, width_mm: float) -> float:
        """As tall as it was asked to be."""
        return self.tall_mm

    def parted(self, width_mm: float, room_mm: float) -> tuple[Block, Block] | None:
        """One plot."""
        return None

    def draw(self, sheet: Sheet, x_mm: float, top_mm: float, width_mm: float) -> None:
        """Draw it from its upper left corner."""
        title = f"Where every cent comes from, amounts in {self.currency}, shares of the price"
        heading(sheet, title, x_mm, top_mm, width_mm)
        left, right = x_mm + AXIS_MM, x_mm + width_mm
        top, bottom = top_mm - HEAD_MM - ABOVE_MM, top_mm - self.tall_mm + NAMES_MM
        marks = ticks([0.0, *(float(bar.ends) for bar in self.bars)])
        span = marks[-1] - marks[0]

        def at(value: Decimal | float) -> float:
            return bottom + (top - bottom) * (float(value) - marks[0]) / span

        for mark in marks:
            sheet.line([(left, at(mark)), (right, at(mark))], GRID)
            words = figures.short(mark, 3)
            sheet.text(
                left - 1.5, at(mark) - 0.8, words, size_pt=SMALL_PT, colour=GREY, align="right"
            )
        room = (right - left) / len(self.bars)
        for k, bar in enumerate(self.bars):
            middle = left + (k + 0.5) * room
            half = room * BAR_SHARE / 2
            low, high = sorted((at(bar.begins), at(bar.ends)))
            sheet.box((middle - half, low, middle + half, high), FILLS[bar.kind])
            if k + 1 < len(self.bars):
                end = at(bar.ends)
                sheet.line([(middle + half, end), (middle + room - half, end)], STEP)
            self._words(sheet, bar, middle, high, bottom, room)
        sheet.line([(left, at(0)), (right, at(0))], AXIS)

    def _words(
        self, sheet: Sheet, bar: Bar, middle: float, high: float, bottom: float, room: float
    ) -> None:
        strong = bar.kind == "sum"
        said = amount(bar.amount)
        sheet.text(middle, high + 0.9, said, size_pt=SMALL_PT, bold=strong, align="centre")
        name = fitted(bar.what, SMALL_PT, room, strong)
        sheet.text(middle, bottom - 3.2, name, size_pt=SMALL_PT, bold=strong, align="centre")
        if self.net:
            share = str(figures.percent(float(100 * bar.amount / self.net), 1))
            share = share.replace("-", "−")
            sheet.text(middle, bottom - 6.2, share, size_pt=SMALL_PT, colour=GREY, align="centre")
