"""When most copies and marks of a sheet are off, they may all be off in one way: say it once.

A page printed 0.5 % too large has every copy elsewhere and too large. One affine map
explains them all; what it leaves is what is wrong with each.
"""

from dataclasses import dataclass
from math import atan2, degrees, hypot, radians

import numpy as np
from numpy.typing import NDArray

from nestplan.check.outlines import SAME_MM
from nestplan.check.words import place, size_words, turn_words
from nestplan.figures import fixed

LEAST_PLACES = 5  # three places fit any affine map, and one of four may be wrong
ROUNDS = 6  # each leaves out what fits worse


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Together:
    """An affine map of run coordinates: point @ linear + shift."""

    linear: NDArray[np.float64]  # (2, 2)
    shift: NDArray[np.float64]  # (2,)
    reach_mm: float  # over how much film it was seen

    def back(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points (n, 2) as they lay before they were moved."""
        before: NDArray[np.float64] = (points - self.shift) @ np.linalg.inv(self.linear)
        return before

    def moved(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points (n, 2) as they lie afterwards."""
        after: NDArray[np.float64] = points @ self.linear + self.shift
        return after

    @property
    def sizes(self) -> tuple[float, float]:
        """Lengths across and along, in parts of the true ones."""
        across, along = np.hypot(self.linear[:, 0], self.linear[:, 1]).tolist()
        return across, along

    @property
    def is_sized(self) -> bool:
        """Whether the sheet has the wrong size."""
        return max(abs(size - 1) for size in self.sizes) * self.reach_mm > SAME_MM

    @property
    def angle_deg(self) -> float:
        """How far the sheet is turned."""
        (a, b), (c, d) = self.linear.tolist()
        return degrees(atan2(b - c, a + d))

    @property
    def is_turned(self) -> bool:
        """Whether the sheet is turned."""
        return abs(radians(self.angle_deg)) * self.reach_mm > SAME_MM

    @property
    def words(self) -> str:
        """The move as a finding says it."""
        across, along = self.sizes
        said = []
        if self.is_sized and abs(across - along) * self.reach_mm <= 2 * SAME_MM:
            said.append(size_words((across + along) / 2))
        elif self.is_sized:
            said += [f"{size_words(across)} across", f"{size_words(along)} along"]
        if self.is_turned:
            said.append(turn_words(self.angle_deg))
        if not said:
            x, y = self.shift.tolist()
            said.append(f"moved by {fixed(hypot(x, y), 2)} mm: {place(x, y)}")
        return "all together " + ", ".join(said)


UNMOVED = Together(linear=np.eye(2), shift=np.zeros(2), reach_mm=0.0)


def moved_together(before: NDArray[np.float64], after: NDArray[np.float64]) -> Together:
    """The map that explains more than half of places (n, 2), row by row; UNMOVED: there is none.

    Where at least half of the places did not move, nothing moved together.
    """
    off = np.hypot(*(before - after).T)
    if len(before) < LEAST_PLACES or 2 * int((off > SAME_MM).sum()) <= len(before):
        return UNMOVED
    middle = before.mean(axis=0)
    rows = np.column_stack([before - middle, np.ones(len(before))])
    kept = np.arange(len(before))
    for _ in range(ROUNDS):
        if np.linalg.matrix_rank(rows[kept], tol=1.0) < 3:
            return UNMOVED
        answer, *_ = np.linalg.lstsq(rows[kept], after[kept], rcond=None)
        off = np.hypot(*(rows @ answer - after).T)
        if (off <= SAME_MM).sum() * 2 > len(before):
            break
        kept = np.argsort(off)[: max(LEAST_PLACES, int(len(kept) * 0.8))]
    else:
        return UNMOVED
    linear = answer[:2]
    shift = answer[2] - middle @ linear
    reach = float(np.ptp(before, axis=0).max())
    nothing = np.hypot(*(before @ linear + shift - before).T).max() <= SAME_MM
    if nothing or abs(np.linalg.det(linear)) < 1e-6:
        return UNMOVED
    return Together(linear=linear, shift=shift, reach_mm=reach)
