"""Where a client or a lead signs, and where the two printed bars are written down."""

from dataclasses import dataclass

from nestplan.files.proof_block import HEAD_MM, Block, heading
from nestplan.files.proof_sheet import Sheet
from nestplan.files.proof_style import BODY_PT, GREY, HAIRLINE, INK, SMALL_PT, Stroke
from nestplan.files.proof_text import width_mm as text_mm

FIELD_MM = 8.2  # height of a row of fields
ROWS = (
    (("approved by", 0.42), ("date", 0.2), ("signature", 0.38)),
    (("100 mm bar across, measured, mm", 0.5), ("100 mm bar along, measured, mm", 0.5)),
)
NARROW_ROWS = (
    (("approved by", 0.6), ("date", 0.4)),
    (("signature", 1.0),),
    (("100 mm bar across, measured, mm", 1.0),),
    (("100 mm bar along, measured, mm", 1.0),),
)
NARROW_MM = 100.0  # a narrower block has its fields in more rows
TICK_ROW_MM = 5.0
CHECKS = ("wording and spelling", "sizes and quantities", "colours", "cut lines")
GAP_MM = 4.0
TICK_MM = 3.4  # a box and the gap behind it
BOX = Stroke(colour=INK, width_pt=0.4)


@dataclass(frozen=True, slots=True, kw_only=True)
class Approval:
    """Two rows of fields to fill in and a row of boxes to tick."""

    def height_mm(self, width_mm: float) -> float:
        """Heading and rows."""
        ticks = len(_ticks(width_mm))
        return HEAD_MM + FIELD_MM * len(_rows(width_mm)) + TICK_ROW_MM * ticks

    def draw(self, sheet: Sheet, x_mm: float, top_mm: float, width_mm: float) -> None:
        """Draw it from its upper left corner."""
        heading(sheet, "Approval", x_mm, top_mm, width_mm)
        y = top_mm - HEAD_MM - 3.0
        for ticks in _ticks(width_mm):
            for x, words in ticks:
                sheet.box((x_mm + x, y - 0.3, x_mm + x + 2.2, y + 1.9), None, BOX)
                sheet.text(x_mm + x + TICK_MM, y, words)
            y -= TICK_ROW_MM
        y += TICK_ROW_MM
        for row in _rows(width_mm):
            y -= FIELD_MM
            _fields(sheet, row, x_mm, y, width_mm)

    def parted(self, width_mm: float, room_mm: float) -> tuple[Block, Block] | None:
        """One signature, one place."""
        return None


def _rows(width_mm: float) -> tuple[tuple[tuple[str, float], ...], ...]:
    return NARROW_ROWS if width_mm < NARROW_MM else ROWS


def _ticks(width_mm: float) -> list[list[tuple[float, str]]]:
    """The boxes to tick, in as many rows as they need, each with its place in the row."""
    rows: list[list[tuple[float, str]]] = [[]]
    x = 0.0
    for words in CHECKS:
        wide = TICK_MM + text_mm(words, BODY_PT)
        if rows[-1] and (x + wide > width_mm or width_mm < NARROW_MM):
            rows.append([])
            x = 0.0
        rows[-1].append((x, words))
        x += wide + GAP_MM + 1.5
    return rows


def _fields(
    sheet: Sheet, row: tuple[tuple[str, float], ...], x_mm: float, y_mm: float, width_mm: float
) -> None:
    free = width_mm - GAP_MM * (len(row) - 1)
    for words, share in row:
        sheet.line([(x_mm, y_mm), (x_mm + share * free, y_mm)], HAIRLINE)
        sheet.text(x_mm, y_mm - 2.4, words, size_pt=SMALL_PT, colour=GREY)
        x_mm += share * free + GAP_MM
