"""What stands in the proof's columns: headed blocks that know how tall they are.

A block is measured before it is drawn, so that pages can be laid out without
overlap; one that is too tall for a page can be parted.
"""

from typing import Protocol

from nestplan.files.proof_sheet import Sheet
from nestplan.files.proof_style import BODY_PT, HEAD_LINE
from nestplan.files.proof_text import fitted

HEAD_MM = 6.0  # a block's heading with its line
CONTINUED = ", continued"


class Block(Protocol):
    """Something headed that fills the width of a column."""

    def height_mm(self, width_mm: float) -> float:
        """How tall it is at this width."""
        ...

    def draw(self, sheet: Sheet, x_mm: float, top_mm: float, width_mm: float) -> None:
        """Draw it from its upper left corner."""
        ...

    def parted(self, width_mm: float, room_mm: float) -> "tuple[Block, Block] | None":
        """A first part no taller than the room and the rest; None where it cannot be parted."""
        ...


def heading(sheet: Sheet, title: str, x_mm: float, top_mm: float, width_mm: float) -> None:
    """A block's name over a line."""
    sheet.text(x_mm, top_mm - 2.7, fitted(title, BODY_PT, width_mm, bold=True), bold=True)
    y = top_mm - HEAD_MM + 1.6
    sheet.line([(x_mm, y), (x_mm + width_mm, y)], HEAD_LINE)


def continued(title: str) -> str:
    """The heading of a block's later part."""
    return title.removesuffix(CONTINUED) + CONTINUED
