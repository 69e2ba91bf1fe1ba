"""What the marks of a frame say of its print, before anybody judges it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestplan.fit.bad_marks import BadMarks
from nestplan.fit.choose import Choice
from nestplan.fit.maps import Map, Turn
from nestplan.fit.noise import Noise
from nestplan.fit.odds import Aim
from nestplan.fit.plan_folder import PlannedFrame

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fitted:
    """What the marks of a frame say of its print.

    rows: of the frame's marks that were measured; printed_mm: (n, 2) where, in run coordinates,
    the sheet turned back; left_mm: (n, 2) what the fit leaves of it. noise: of this print, as
    uneven as it was found. aim: where print, cutter and corrected file go.
    """

    turn: Turn
    rows: NDArray[np.intp]
    printed_mm: Array
    left_mm: Array
    choice: Choice
    noise: Noise
    bad: BadMarks | None
    least_seen_mm: float
    aim: Aim

    def placed_mm(self, frame: PlannedFrame) -> Array:
        """(N, 2) marks as printed: measured, or foretold by the fit."""
        placed = self.cut.at(frame.marks_mm)
        placed[self.rows] = self.printed_mm
        return placed

    @property
    def cut(self) -> Map:
        """Where a corrected file puts things."""
        assert self.aim.cut is not None, "a fit has a corrected file in mind"
        return self.aim.cut
