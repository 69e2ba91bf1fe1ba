"""In which order rings are cut, and where each begins: inside before outside, little travel.

Rings that lie in a ring are cut just before it: the holes of a decal, and whole decals in a
hole. Once the outer ring is through, nothing holds what lies inside. Rings that lie side by
side are visited nearest next, and that way is then shortened.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestplan.cut.neighbours import nearest_next
from nestplan.cut.shorten import shortened
from nestplan.cut.start import slid

TOP = -1  # the ring lies in no other
ROUNDS_MOST = 5  # order and starts in turn; most jobs settle after two


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rings:
    """All rings of one kind of cut in one frame.

    corners: (n, 2) corners of all rings, one ring after the other, run coordinates.
    first:   (m + 1,) ring r has corners[first[r] : first[r + 1]].
    inside:  (m,) the smallest ring that surrounds each, or TOP.
    """

    corners: NDArray[np.float64]
    first: NDArray[np.int64]
    inside: NDArray[np.int64]


def cutting_order(
    rings: Rings, knife_mm: NDArray[np.float64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Order and starts for m rings, from where the knife stands (2,).

    returns: rings (m,) as they are cut; start (m,), by ring, an index into corners.
    source:  ours; near best, not best. The order is improved as if every ring were the
             point it begins at.
    """
    within: dict[int, list[int]] = {}
    for ring, outer in enumerate(rings.inside.tolist()):
        within.setdefault(outer, []).append(ring)
    start = rings.first[:-1].copy()
    order: list[int] = []
    knife = knife_mm
    todo = _side_by_side(rings, within.get(TOP, []), knife, start)
    while todo:
        ring = todo.pop()
        inner = within.pop(ring, None)
        if inner:
            todo.append(ring)
            todo.extend(_side_by_side(rings, inner, knife, start))
        else:
            order.append(ring)
            knife = rings.corners[start[ring]]
    cut = np.array(order, dtype=np.int64)
    return cut, slid(knife_mm, rings.corners, rings.first, cut, start)


def _side_by_side(
    rings: Rings, side_by_side: list[int], knife: NDArray[np.float64], start: NDArray[np.int64]
) -> list[int]:
    """The rings, last one first; their starts are written into `start`."""
    if not side_by_side:
        return []
    if len(side_by_side) == 1:  # the commonest hole by far
        (ring,) = side_by_side
        low, high = rings.first[ring], rings.first[ring + 1]
        start[ring] = low + np.hypot(*(rings.corners[low:high] - knife).T).argmin()
        return side_by_side
    sizes = np.diff(rings.first)[side_by_side]
    first = np.concatenate([[0], np.cumsum(sizes)])
    where = np.arange(first[-1]) + np.repeat(rings.first[side_by_side] - first[:-1], sizes)
    order, begin = way_through(rings.corners[where], first, knife)
    start[side_by_side] = where[begin]
    return [side_by_side[k] for k in order[::-1].tolist()]


def way_through(
    corners: NDArray[np.float64], first: NDArray[np.int64], knife: NDArray[np.float64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Order (m,) and start (m,) of rings that lie side by side; arrays as in `Rings`."""
    owner = np.repeat(np.arange(len(first) - 1), np.diff(first))
    order, start = nearest_next(knife, corners, owner)
    for _ in range(ROUNDS_MOST):
        start = slid(knife, corners, first, order, start)
        stops = np.vstack([knife, corners[start]])
        better = shortened(stops, np.concatenate([[0], order + 1]))[1:] - 1
        if np.array_equal(better, order):
            break
        order = better
    return order, start
