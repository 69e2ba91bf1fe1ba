"""Lines to be filled in by hand: who did it, when, what was measured."""

from collections.abc import Sequence
from dataclasses import dataclass

from nestplan.files.proof_block import HEAD_MM, Block, heading
from nestplan.files.proof_sheet import Sheet
from nestplan.files.proof_style import GREY, HAIRLINE, SMALL_PT

FIELD_MM, GAP_MM = 8.6, 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Fields:
    """Headed rows of fields, each with its share of the width."""

    title: str
    rows: Sequence[Sequence[tuple[str, float]]]

    def height_mm(self, width_mm: float) -> float:
        """Heading and rows."""
        return HEAD_MM + FIELD_MM * len(self.rows)

    def draw(self, sheet: Sheet, x_mm: float, top_mm: float, width_mm: float) -> None:
        """Draw it from its upper left corner."""
        heading(sheet, self.title, x_mm, top_mm, width_mm)
        y = top_mm - HEAD_MM + 2.2
        for row in self.rows:
            y -= FIELD_MM
            free, x = width_mm - GAP_MM * (len(row) - 1), x_mm
            for words, share in row:
                sheet.line([(x, y), (x + share * free, y)], HAIRLINE)
                sheet.text(x, y - 2.4, words, size_pt=SMALL_PT, colour=GREY)
                x += share * free + GAP_MM

    def parted(self, width_mm: float, room_mm: float) -> tuple[Block, Block] | None:
        """One row belongs to the next."""
        return None
