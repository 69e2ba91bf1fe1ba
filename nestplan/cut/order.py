"""In which order rings are cut, and where each begins: inside before outside, little travel.

Rings that lie in a ring are cut before it: the holes of a decal, and whole decals in a hole.
Once the outer ring is through, nothing holds what lies inside. Rings of a lower rank are cut
before those of a higher one: an earlier window of the web, kiss before through. A first way
visits rings that lie side by side nearest next; the whole way of the frame is then searched.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestplan.cut.neighbours import nearest_next
from nestplan.cut.search import searched
from nestplan.cut.shorten import Rules, shortened
from nestplan.cut.start import slid

TOP = -1  # the ring lies in no other
ROUNDS_MOST = 5  # order and starts in turn; most jobs settle after two


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rings:
    """All rings of one frame, and open lines, which begin at either end or at their only begin.

    corners: (n, 2) where each may begin, one ring after the other, run coordinates.
    first:   (m + 1,) ring r has corners[first[r] : first[r + 1]].
    inside:  (m,) the smallest ring that surrounds each, or TOP.
    rank:    (m,) rings of a lower rank are cut first.
    leave:   (n, 2) where the knife is lifted, by begin; None: where it was put down.
    one_way: (m,) open lines that have one begin; None: there are none.
    """

    corners: NDArray[np.float64]
    first: NDArray[np.int64]
    inside: NDArray[np.int64]
    rank: NDArray[np.int64]
    leave: NDArray[np.float64] | None = None
    one_way: NDArray[np.bool_] | None = None

    @property
    def ends(self) -> NDArray[np.float64]:
        """Where the knife is lifted, by begin."""
        return self.corners if self.leave is None else self.leave


def cutting_order(
    rings: Rings, knife_mm: NDArray[np.float64], *, kicks: int | None = None
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Order and starts for m rings, from where the knife stands (2,).

    kicks: how long to search; absent: by the number of rings; 0: the first way.
    returns: rings (m,) as they are cut; start (m,), by ring, an index into corners.
    source:  ours; near best, not best. `travel_bound_mm` says how near.
    """
    start = rings.first[:-1].copy()
    order: list[int] = []
    knife = knife_mm
    for rank in np.unique(rings.rank).tolist():
        order += _of_one_rank(rings, rank, knife, start)
        knife = rings.ends[start[order[-1]]]
    if kicks == 0:
        return np.array(order, dtype=np.int64), start
    after = held_back(rings)
    one_way = np.zeros(len(after), np.bool_) if rings.one_way is None else rings.one_way
    rules = Rules(rings.rank, after, bool((after != TOP).any()), one_way)
    cut = np.array(order, dtype=np.int64)
    return searched(
        knife_mm, rings.corners, rings.first, cut, start, rules, leave=rings.leave, kicks=kicks
    )


def held_back(rings: Rings) -> NDArray[np.int64]:
    """For each ring the nearest one round it that waits for it within its rank, or TOP."""
    after = rings.inside.copy()
    for ring in np.flatnonzero(after != TOP).tolist():
        while after[ring] != TOP and rings.rank[after[ring]] != rings.rank[ring]:
            after[ring] = rings.inside[after[ring]]
    return after


def _of_one_rank(
    rings: Rings, rank: int, knife: NDArray[np.float64], start: NDArray[np.int64]
) -> list[int]:
    """A first way: nearest next, each ring directly after what lies in it."""
    after = held_back(rings)
    within: dict[int, list[int]] = {}
    for ring in np.flatnonzero(rings.rank == rank).tolist():
        within.setdefault(int(after[ring]), []).append(ring)
    order: list[int] = []
    todo = _side_by_side(rings, within.get(TOP, []), knife, start)
    while todo:
        ring = todo.pop()
        inner = within.pop(ring, None)
        if inner:
            todo.append(ring)
            todo.extend(_side_by_side(rings, inner, knife, start))
        else:
            order.append(ring)
            knife = rings.ends[start[ring]]
    return order


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
