"""Where the marks of one frame might stand, and what must hold of any set of them."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LEFT, RIGHT, INSIDE = 0, 1, 2
TOUCH_MM = 1e-6  # rounding may take this from a distance


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Field:
    """Candidate places for marks.

    places_mm: (M, 2). edge: (M,) LEFT, RIGHT or INSIDE. corners: rows that every set holds, the
    outermost of each edge. spacing_mm: between neighbours along one edge at most. apart_mm:
    between any two marks at least. alike: both edges hold the same number, as strips need it.
    """

    places_mm: Array
    edge: NDArray[np.int64]
    corners: tuple[int, ...]
    spacing_mm: float
    apart_mm: float
    alike: bool = False

    def along(self, edge: int) -> NDArray[np.intp]:
        """Rows of one edge by rising y."""
        rows = np.flatnonzero(self.edge == edge)
        return rows[np.argsort(self.places_mm[rows, 1], kind="stable")]

    def holds(self, chosen: Sequence[int]) -> bool:
        """Whether a set of rows keeps every rule."""
        rows = np.array(chosen, dtype=np.intp)
        if not set(self.corners) <= set(rows.tolist()) or len(set(rows.tolist())) < len(rows):
            return False
        sides = [np.sort(self.places_mm[rows[self.edge[rows] == e], 1]) for e in (LEFT, RIGHT)]
        if self.alike and len(sides[0]) != len(sides[1]):
            return False
        if any(len(y) and np.diff(y).max(initial=0.0) > self.spacing_mm + TOUCH_MM for y in sides):
            return False
        between = self.places_mm[rows][:, None] - self.places_mm[rows]
        square = (between**2).sum(axis=2)
        np.fill_diagonal(square, np.inf)
        return bool(square.min() >= (self.apart_mm - TOUCH_MM) ** 2)

    def windows(self) -> list[NDArray[np.intp]]:
        """Sets of rows of which at least one must be taken, so that no gap is over the spacing.

        From every place of an edge that the spacing does not carry to the last one: whatever
        lies within the spacing behind it. Sets that hold another are left out. For whole marks,
        corners taken, this is the rule itself.
        """
        asked = []
        for edge in (LEFT, RIGHT):
            rows = self.along(edge)
            y = self.places_mm[rows, 1]
            spans = []
            for k in range(len(rows)):
                if y[-1] - y[k] <= self.spacing_mm + TOUCH_MM:
                    break
                end = int(np.searchsorted(y, y[k] + self.spacing_mm + TOUCH_MM, side="right"))
                spans.append((int(np.searchsorted(y, y[k], side="right")), end))
            asked += [
                rows[a:b]
                for (a, b), after in pairwise([*spans, (len(rows) + 1, len(rows) + 1)])
                if after[1] > b
            ]
        return asked

    def crowds(self) -> list[NDArray[np.intp]]:
        """Sets of rows of which at most one can be taken: all within the least distance."""
        crowds = []
        for edge in (LEFT, RIGHT):
            rows = self.along(edge)
            at = self.places_mm[rows]
            begin = 0
            for end in range(1, len(rows) + 1):
                more = end < len(rows) and self._too_near(at[begin : end + 1])
                if more:
                    continue
                if end - begin > 1:
                    crowds.append(rows[begin:end])
                while begin < end < len(rows) and not self._too_near(at[begin : end + 1]):
                    begin += 1
        return crowds

    def _too_near(self, at: Array) -> bool:
        """Whether the box round some places is so small that no two of them can be taken."""
        return bool(np.hypot(*np.ptp(at, axis=0)) < self.apart_mm - TOUCH_MM)
