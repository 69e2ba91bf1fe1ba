"""What the copies of a strip print or cut, as it lies, and the same grown.

Copies are many and shapes few: a shape is grown once, and then laid where its copies lie.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import shapely
import shapely.affinity
from numpy.typing import NDArray

from nestplan.geometry.offset import grown
from nestplan.nest import Placements, alike


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ink:
    """Areas about their decals' centres, and where copies of them lie."""

    areas: tuple[shapely.Geometry, ...]
    laid: Placements

    def moved_along(self, step_mm: float) -> "Ink":
        """The same farther along the feed."""
        return replace(self, laid=self.laid.moved(0.0, step_mm))

    def near(self, ranges_mm: Sequence[tuple[float, float]], reach_mm: float) -> "Ink":
        """The copies that come within reach of one of the ranges of x."""
        x = self.laid.centre_mm[:, 0]
        radii_mm = [np.hypot(*shapely.get_coordinates(area).T).max() for area in self.areas]
        reach = np.array(radii_mm)[self.laid.shape] + reach_mm
        kept = [(x + reach >= min(each)) & (x - reach <= max(each)) for each in ranges_mm]
        return replace(self, laid=self.laid.some(np.any(kept, axis=0)))

    def copies(self) -> list[shapely.Geometry]:
        """The area of every copy as it lies."""
        return self._laid(self.areas)

    def grown(self, distance_mm: float) -> list[shapely.Geometry]:
        """The area of every copy, grown with round corners."""
        return self._laid([_grown(area, distance_mm) for area in self.areas])

    def _laid(self, areas: Sequence[shapely.Geometry]) -> list[shapely.Geometry]:
        every: NDArray[np.object_] = np.empty(len(self.laid), dtype=object)
        for shape, angle, rows in alike(self.laid):
            turned = shapely.affinity.rotate(areas[shape], angle, origin=(0.0, 0.0))
            at = self.laid.centre_mm[rows, np.newaxis] + shapely.get_coordinates(turned)
            copies = np.full(len(rows), turned, dtype=object)
            every[rows] = shapely.set_coordinates(copies, at.reshape(-1, 2))
        laid: list[shapely.Geometry] = every.tolist()
        return laid


@lru_cache(maxsize=256)  # frames, rounds and quantities ask for the same shapes again
def _grown(area: shapely.Geometry, distance_mm: float) -> shapely.Geometry:
    return grown(area, distance_mm)
