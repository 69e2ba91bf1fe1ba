"""Pick places for marks along one edge of a frame: corners first, then no gap over the spacing."""

from dataclasses import dataclass
from math import inf

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

CORNER_MM = 40.0  # a corner mark stands this near its end of the frame
STEP_MM = 1.0  # candidates are tried at this pitch along and across
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
    grid_x, grid_y = np.meshgrid(x, y)
    safe = np.asarray(shapely.intersects_xy(zone, grid_x, grid_y))  # its boundary is still safe
    if film is not None:
        shapely.prepare(film)
        there = np.asarray(shapely.intersects_xy(film, grid_x, grid_y))
        safe &= np.arange(len(x)) <= there.argmax(axis=1)[:, np.newaxis] + band_mm / STEP_MM
        reached = y[there.any(axis=1)]
        if len(reached):
            y_from_mm, y_to_mm = float(reached[0]), float(reached[-1])
    rows = np.nonzero(safe.any(axis=1))[0]
    return Edge(
        places_mm=np.column_stack([x[safe[rows].argmax(axis=1)], y[rows]]),
        from_mm=y_from_mm,
        to_mm=y_to_mm,
    )


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
    gap = y[None, :] - y[:, None]
    price = np.where((gap >= apart_mm) & (gap <= spacing_mm), gap**2, np.inf)
    reach = price[0]  # cheapest way from the first place with one gap
    came = []
    for _ in range(between):
        total = reach[:, None] + price
        came.append(total.argmin(axis=0))
        reach = total.min(axis=0)
    if not np.isfinite(reach[n - 1]):
        return None
    rows = [n - 1]
    for step in reversed(came):
        rows.append(int(step[rows[-1]]))
    rows.append(0)
    return [(float(a), float(b)) for a, b in edge.places_mm[rows[::-1]]]
