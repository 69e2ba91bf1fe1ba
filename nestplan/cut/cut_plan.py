"""In which order the knife follows which ring."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestplan.job import Cut


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutRing:
    """One closed ring in run coordinates; the knife starts and ends at row 0.

    decal: index into the artwork's decals; copy: from 1; ring: index into the contour's rings,
    behind them those of the backing, which `is_backing` tells apart. window: of web travel,
    from 0 in each frame.
    """

    kind: Cut
    decal: int
    copy: int
    ring: int
    points_mm: NDArray[np.float64]  # (n, 2), first point not repeated
    is_backing: bool = False
    window: int = 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FrameCut:
    """The rings of one frame in cutting order: window by window, kiss before through cuts."""

    index: int  # from 1
    rings: tuple[CutRing, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutPlan:
    """The cut of a whole run.

    contours counts copies; length_mm is knife down; travel_mm is knife up, from the
    first mark of each frame through every ring's start. travel_bound_mm: less it cannot be,
    whatever the order and the starts.
    """

    frames: tuple[FrameCut, ...]
    contours: int
    length_mm: float
    travel_mm: float
    travel_bound_mm: float = 0.0
