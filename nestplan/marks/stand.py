"""Pick places for marks along one edge of a frame: corners first, then no gap over the spacing."""

from dataclasses import dataclass
from math import inf

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nestplan.geometry.same import SAME_MM

CORNER_MM = 40.0  # a corner mark stands this near its end of the frame
STEP_MM = 1.0  # candidates are tried at this pitch along and across
ENDS_AT_ONCE = 256
AT_ONCE = 8  # candidates across: most places are found among the first
BAND_MM = 60.0  # a mark belongs to an edge when it stands this near its outermost place


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Edge:
    """Candidate places along one edge.

    places_mm: (n, 2) centres in run coordinates, by rising y, one a y.
    from_mm, to_mm: between which y a mark could stand if nothing were printed.
    """

    places_mm: NDArray[np.float64]
    from_mm: float = 0.0
    to_mm: float = 0.0


def edge_places(
    zone: BaseGeometry,
    *,
    x_from_mm: float,
    x_to_mm: float,
    y_from_mm: float,
    y_to_mm: float,
    film: BaseGeometry | None = None,
    band_mm: float = inf,
) -> Edge:
    """For each y the safe place nearest the edge.

    film: where a mark could stand if nothing were printed, where that is not every y; then a
    place lies at most band_mm from the outermost such place of its y.

    x_from_mm is the edge's own side: larger or smaller than x_to_mm, where the band ends.
    Both y ends are tried exactly, since a lane's corner marks stand there.
    """
    if zone.is_empty or y_to_mm < y_from_mm:
        return Edge(places_mm=np.zeros((0, 2)), from_mm=y_from_mm, to_mm=y_to_mm)
    shapely.prepare(zone)
    direction = 1.0 if x_to_mm >= x_from_mm else -1.0
    x = x_from_mm + direction * np.arange(0.0, abs(x_to_mm - x_from_mm) + 1e-9, STEP_MM)
    y = np.append(np.arange(y_from_mm, y_to_mm, STEP_MM), y_to_mm)
    last = np.full(len(y), len(x))
    if film is not None:
        shapely.prepare(film)
        there = np.asarray(shapely.intersects_xy(film, x, y[:, np.newaxis]))
        last = there.argmax(axis=1) + int(min(band_mm / STEP_MM, len(x)))
        reached = y[there.any(axis=1)]
        if len(reached):
            y_from_mm, y_to_mm = float(reached[0]), float(reached[-1])
    first = _first_safe(zone, x, y)
    rows = np.flatnonzero((first < len(x)) & (first <= last))
    return Edge(
        places_mm=np.column_stack([x[first[rows]], y[rows]]), from_mm=y_from_mm, to_mm=y_to_mm
    )


def _first_safe(
    zone: BaseGeometry, x: NDArray[np.float64], y: NDArray[np.float64]
) -> NDArray[np.intp]:
    """For each y the first of the x that is safe, as its number; len(x): none is."""
    first = np.full(len(y), len(x))
    rows = np.arange(len(y))  # for which none was found yet
    for begin in range(0, len(x), AT_ONCE):
        some = x[begin : begin + AT_ONCE]
        safe = np.asarray(shapely.intersects_xy(zone, some, y[rows, np.newaxis]))  # or its edge
        found = safe.any(axis=1)
        first[rows[found]] = begin + safe[found].argmax(axis=1)
        rows = rows[~found]
    return first


def corners_at(edge: Edge, *, low_mm: float, high_mm: float) -> tuple[int | None, int | None]:
    """Rows of the places nearest the frame's two ends: at or below low_mm, at or above high_mm."""
    y = edge.places_mm[:, 1]
    low = 0 if len(y) and y[0] <= low_mm else None
    high = len(y) - 1 if len(y) and y[-1] >= high_mm else None
    return low, high


def least_between(edge: Edge, *, spacing_mm: float) -> int | None:
    """How few marks between the end places leave no gap over the spacing; None: impossible."""
    y, at, count = edge.places_mm[:, 1], 0, 0
    while y[-1] - y[at] > spacing_mm:
        farthest = int(np.searchsorted(y, y[at] + spacing_mm, side="right")) - 1
        if farthest == at:
            return None
        at, count = farthest, count + 1
    return count


def evenly(
    edge: Edge, *, between: int, spacing_mm: float, apart_mm: float
) -> list[tuple[float, float]] | None:
    """The end places and `between` more, as evenly spaced as the safe zone allows.

    Dynamic programme over the candidates: least sum of squared gaps, no gap over the
    spacing nor under apart_mm. None where there is no such choice.
    """
    y = edge.places_mm[:, 1]
    n = len(y)

    def next_gap(ends: slice) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
        """The cheapest way to each of these ends with one gap more, and where that gap begins."""
        first = int(np.searchsorted(y, y[ends.start] - spacing_mm - SAME_MM))
        gap = y[ends, np.newaxis] - y[first : ends.stop]
        price = np.where((gap >= apart_mm) & (gap <= spacing_mm), gap**2, np.inf)
        ways = reach[first : ends.stop] + price
        best = ways.argmin(axis=1)
        return ways[np.arange(len(ways)), best], first + best

    reach = np.where(np.arange(n) == 0, 0.0, np.inf)
    came = []
    for left in range(between, -1, -1):
        # where the last gap ends is known
        begins = range(0, n, ENDS_AT_ONCE) if left > 0 else [n - 1]
        found = [next_gap(slice(begin, min(begin + ENDS_AT_ONCE, n))) for begin in begins]
        reach = np.concatenate([cost for cost, _ in found])
        came.append(np.concatenate([start for _, start in found]))
    if not np.isfinite(reach[-1]):
        return None
    rows = [n - 1, int(came[-1][-1])]
    for step in reversed(came[:-1]):
        rows.append(int(step[rows[-1]]))
    return [(float(a), float(b)) for a, b in edge.places_mm[rows[::-1]]]
