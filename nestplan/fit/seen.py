"""Marks as they were measured, before anybody knows which is which."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Hides = Literal["nothing", "size", "perspective"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """Points of one sheet, mm, y upward, in axes of the measurer's own.

    frame: what the table says which frame it is; None where nobody says.
    marks: (n,) the numbers that were written beside the points, 0 where there is none.
    sd_mm: of one reading on each axis; None: as the cutter's sensor reads.
    rounding_mm: besides. hides: what was taken from the plan's own marks to measure by, and is
    lost: nothing; the size of the print; or its size, stretch and skew.
    """

    points_mm: Array
    frame: int | None
    marks: NDArray[np.intp]
    sd_mm: float | None
    rounding_mm: float = 0.0
    hides: Hides = "nothing"
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Measured:
    """All that one file holds. kind: table or picture; digest: of the file, sha256 in hex."""

    name: str
    kind: str
    digest: str
    upward: bool
    declared: bool
    sheets: tuple[Seen, ...]
