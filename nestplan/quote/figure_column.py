"""Columns of figures with air between them, in tables whose names take all the rest."""

from collections.abc import Iterable

from nestplan.files.proof_style import SMALL_PT
from nestplan.files.proof_table import Column
from nestplan.files.proof_text import width_mm

AIR_MM = 4.0


def figure_column(
    name: str, cells: Iterable[str], size_pt: float, air_mm: float = AIR_MM
) -> Column:
    """A column wide enough for its name and its figures, also in bold, with air at its left."""
    widest = max((width_mm(cell, size_pt, True) for cell in cells), default=0.0)
    return Column(name=name, align="right", width_mm=max(widest, width_mm(name, SMALL_PT)) + air_mm)
