"""Lengths as the proof says them: millimetres, and inches beside them where the job asks.

An inch is 25.4 mm exactly (international yard and pound, 1959; ISO 31-1 Annex A). Three
decimals are 0.03 mm: finer than a tape is read, so nothing is lost beside 0.1 mm.
"""

from dataclasses import dataclass

from nestplan import figures
from nestplan.files.run import Run

MM_PER_IN = 25.4


@dataclass(frozen=True, slots=True)
class Lengths:
    """inches: whether they stand beside millimetres."""

    inches: bool

    def bare(self, mm: float, decimals: int = 1) -> str:
        """1281.0, or 1281.0 (50.433″): for dimension lines, whose unit the page states."""
        return f"{figures.fixed(mm, decimals)}{self._beside(mm)}"

    def full(self, mm: float, decimals: int = 1) -> str:
        """1281.0 mm, or 1281.0 mm (50.433″): within a sentence."""
        return f"{figures.length(mm, decimals)}{self._beside(mm)}"

    def short(self, mm: float) -> str:
        """6 mm, or 6 mm (0.236″): what a person typed comes back."""
        return f"{figures.short(mm)} mm{self._beside(mm)}"

    def film(self, mm: float) -> str:
        """2.88 m, or 2.88 m (9.45 ft)."""
        return f"{figures.film(mm)}{f' ({figures.fixed(mm / 304.8, 2)} ft)' if self.inches else ''}"

    def inch(self, mm: float) -> str:
        """50.433."""
        return figures.fixed(mm / MM_PER_IN, 3)

    def _beside(self, mm: float) -> str:
        return f" ({self.inch(mm)}″)" if self.inches else ""


def lengths_of(run: Run) -> Lengths:
    """As the job of the run asks."""
    return Lengths(run.job.order.show == "in")
