"""How long a convex contour is along a line that crosses it, for every such line."""

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from nestplan.geometry.outline import Outline, turn
from nestplan.nest.bound_contours import Floats, convex_part, grown_convex


@dataclass(frozen=True, kw_only=True, eq=False)
class Profile:
    """Chords of a convex polygon along y, at every corner's x; straight between corners.

    at_mm: x of the corners from the left end on. chord_mm: the lengths there, as many.
    """

    at_mm: Floats
    chord_mm: Floats

    @property
    def wide_mm(self) -> float:
        """From the left end to the right one."""
        return float(self.at_mm[-1])

    @cached_property
    def longest_mm(self) -> float:
        """The longest chord."""
        return float(self.chord_mm.max())

    def chord_at_mm(self, at_mm: Floats | tuple[float, ...]) -> Floats:
        """Chords at these x; 0 outside."""
        return np.asarray(np.interp(at_mm, self.at_mm, self.chord_mm, left=0.0, right=0.0))

    def between_mm(self, chord_mm: Floats | float) -> tuple[Floats, Floats]:
        """First and last x at which a chord is at least so long (no more than the longest)."""
        peak = int(self.chord_mm.argmax())
        first = np.interp(chord_mm, self.chord_mm[: peak + 1], self.at_mm[: peak + 1])
        last = np.interp(chord_mm, self.chord_mm[peak:][::-1], self.at_mm[peak:][::-1])
        return np.asarray(first), np.asarray(last)

    def where_longer_mm(self, chord_mm: Floats) -> Floats:
        """How much of x has longer chords than each of these."""
        first, last = self.between_mm(chord_mm)
        return np.where(chord_mm < self.longest_mm, np.maximum(last - first, 0.0), 0.0)

    def area_where_longer_mm2(self, chord_mm: Floats) -> Floats:
        """The area over those x."""
        first, last = self.between_mm(chord_mm)
        area = self._area_to_mm2(last) - self._area_to_mm2(first)
        return np.where(chord_mm < self.longest_mm, np.maximum(area, 0.0), 0.0)

    def _area_to_mm2(self, at_mm: Floats) -> Floats:
        steps = np.diff(self.at_mm) * (self.chord_mm[:-1] + self.chord_mm[1:]) / 2
        known = np.concatenate(([0.0], np.cumsum(steps)))
        k = np.clip(np.searchsorted(self.at_mm, at_mm, side="right") - 1, 0, len(steps) - 1)
        on = at_mm - self.at_mm[k]
        area: Floats = known[k] + on * (self.chord_mm[k] + self.chord_at_mm(at_mm)) / 2
        return area


@lru_cache(maxsize=2048)
def grown_profile(outline: Outline, radius_mm: float, angle_deg: float) -> Profile | None:
    """The profile along y of a convex outline grown and turned; None if it is not convex."""
    polygon = _grown(outline, radius_mm)
    return None if polygon is None else profile_of(turn(polygon, angle_deg))


@lru_cache(maxsize=512)
def _grown(outline: Outline, radius_mm: float) -> Floats | None:
    polygon = convex_part(outline)
    return None if polygon is None else grown_convex(polygon, radius_mm)


def profile_of(polygon: Floats) -> Profile:
    """The profile along y of a convex polygon, counter-clockwise."""
    x, y = polygon.T
    left_low, right_low = np.lexsort((y, x))[0], np.lexsort((y, -x))[0]
    left_high, right_high = np.lexsort((-y, x))[0], np.lexsort((-y, -x))[0]
    n = len(polygon)
    low = (left_low + np.arange((right_low - left_low) % n + 1)) % n
    high = (left_high - np.arange((left_high - right_high) % n + 1)) % n
    at = np.unique(x)
    chords = np.interp(at, x[high], y[high]) - np.interp(at, x[low], y[low])
    return Profile(at_mm=at - at[0], chord_mm=chords)
