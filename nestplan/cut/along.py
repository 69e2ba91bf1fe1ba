"""Places along a line, told by their distance from its first point."""

import numpy as np
from numpy.typing import NDArray

from nestplan.geometry.same import SAME_MM


def reach_mm(points_mm: NDArray[np.float64], *, closed: bool) -> NDArray[np.float64]:
    """How far along a line (n, 2) each point lies, (n,); of a closed one the first again last."""
    points = np.vstack([points_mm, points_mm[:1]]) if closed else points_mm
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])


def length_mm(points_mm: NDArray[np.float64], *, closed: bool) -> float:
    """How long a line (n, 2) is."""
    return float(reach_mm(points_mm, closed=closed)[-1])


def places_at(
    points_mm: NDArray[np.float64], at_mm: NDArray[np.float64], *, closed: bool
) -> NDArray[np.float64]:
    """Places (k, 2) so far along a line (n, 2)."""
    reach = reach_mm(points_mm, closed=closed)
    points = np.vstack([points_mm, points_mm[:1]]) if closed else points_mm
    at = np.mod(at_mm, reach[-1]) if closed else at_mm
    return np.column_stack([np.interp(at, reach, points[:, k]) for k in (0, 1)])


def part_of(
    points_mm: NDArray[np.float64], from_mm: float, to_mm: float, *, closed: bool
) -> NDArray[np.float64]:
    """The part of a line (n, 2) between two places, as an open line.

    closed: it may lead over the ring's first point, and `to_mm` be more than its length;
    from_mm lies on the first round and the part is no longer than one.
    """
    reach = reach_mm(points_mm, closed=closed)
    inner, points = reach[: len(points_mm)], points_mm
    if closed:  # a second round
        inner, points = np.concatenate([inner, inner + reach[-1]]), np.vstack([points, points])
    between = points[(inner > from_mm + SAME_MM) & (inner < to_mm - SAME_MM)]
    ends = places_at(points_mm, np.array([from_mm, to_mm]), closed=closed)
    return np.vstack([ends[:1], between, ends[1:]])
