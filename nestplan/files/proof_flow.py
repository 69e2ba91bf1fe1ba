"""Blocks poured into columns of equal width, none across another."""

from collections.abc import Sequence
from dataclasses import dataclass

from nestplan.files.proof_block import Block
from nestplan.files.proof_sheet import Sheet
from nestplan.files.proof_style import BLOCK_GAP_MM, GUTTER_MM

STEP_MM = 1.0  # balance of columns: finer is not seen


@dataclass(frozen=True, slots=True, kw_only=True)
class Poured:
    """Blocks in columns, and those for which there was no room."""

    columns: tuple[tuple[Block, ...], ...]
    rest: tuple[Block, ...]


def column_mm(width_mm: float, columns: int) -> float:
    """Width of one of so many columns."""
    return (width_mm - GUTTER_MM * (columns - 1)) / columns


def stack_mm(blocks: Sequence[Block], width_mm: float) -> float:
    """Height of blocks one under another."""
    if not blocks:
        return 0.0
    gaps = BLOCK_GAP_MM * (len(blocks) - 1)
    return sum(block.height_mm(width_mm) for block in blocks) + gaps


def pour(
    blocks: Sequence[Block], column_width_mm: float, columns: int, room_mm: float, part: bool
) -> Poured:
    """Fill the columns in order; with `part`, a block too tall for what is left is parted."""
    waiting = list(blocks)
    filled: list[tuple[Block, ...]] = []
    for _ in range(columns):
        column: list[Block] = []
        left = room_mm
        while waiting:
            tall = waiting[0].height_mm(column_width_mm)
            if tall <= left + 1e-6:
                column.append(waiting.pop(0))
                left -= tall + BLOCK_GAP_MM
                continue
            parts = waiting[0].parted(column_width_mm, left) if part else None
            if parts is not None:
                column.append(parts[0])
                waiting[0] = parts[1]
            break
        filled.append(tuple(column))
    return Poured(columns=tuple(filled), rest=tuple(waiting))


def balanced_mm(blocks: Sequence[Block], column_width_mm: float, columns: int) -> float:
    """The least height, to a millimetre, at which the blocks fit the columns unparted."""
    room = max((block.height_mm(column_width_mm) for block in blocks), default=0.0)
    while pour(blocks, column_width_mm, columns, room, part=False).rest:
        room += STEP_MM  # ends: a column as tall as the whole stack holds it
    return room


def draw_stack(
    sheet: Sheet, blocks: Sequence[Block], x_mm: float, top_mm: float, width_mm: float
) -> None:
    """Draw blocks one under another."""
    for block in blocks:
        block.draw(sheet, x_mm, top_mm, width_mm)
        top_mm -= block.height_mm(width_mm) + BLOCK_GAP_MM
