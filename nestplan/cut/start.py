"""Where each ring begins: the corner that makes the way in and the way on shortest.

A closed ring ends where it begins, so its start is one point on the way of the lifted
knife, and it may be any corner of the ring. With the order given, each start in turn goes
to the corner nearest to its two neighbours on the way, until none can move. Compiled.
"""

# mypy: disable-error-code="misc, no-untyped-def, no-untyped-call"
# (numba ships no types; every array here is int64 or float64)

from math import sqrt

import numpy as np
from numpy.typing import NDArray

from nestplan.cut.neighbours import compiled
from nestplan.cut.shorten import GAIN_MM

SWEEPS_MOST = 50  # a limit that no job reaches; two to six is usual


def slid(
    origin: NDArray[np.float64],
    points: NDArray[np.float64],
    first: NDArray[np.int64],
    order: NDArray[np.int64],
    start: NDArray[np.int64],
) -> NDArray[np.int64]:
    """Better starts for rings in a given order; the way through them is never longer.

    origin: (2,) where the knife comes from. points: (n, 2) corners of all rings.
    first:  (m + 1,) ring r has points[first[r] : first[r + 1]].
    order:  (k,) rings as they are cut; start: (m,) index into points, by ring.
    returns: start (m,), changed for the rings in `order`; no single one can be bettered.
    """
    moved = start.copy()
    _slide(float(origin[0]), float(origin[1]), points, first, order, moved)
    return moved


@compiled
def _slide(from_x, from_y, points, first, order, start):
    for _ in range(SWEEPS_MOST):
        moved = False
        x, y = from_x, from_y
        for k in range(len(order)):
            ring = order[k]
            ends = k == len(order) - 1
            onward = start[order[k + 1]] if not ends else start[ring]
            best, least = start[ring], np.inf
            for q in range(first[ring] - 1, first[ring + 1]):
                p = start[ring] if q < first[ring] else q  # the present start comes first
                way = sqrt((points[p, 0] - x) ** 2 + (points[p, 1] - y) ** 2)
                if not ends:
                    way += sqrt(
                        (points[p, 0] - points[onward, 0]) ** 2
                        + (points[p, 1] - points[onward, 1]) ** 2
                    )
                if way < least - GAIN_MM:
                    best, least = p, way
            moved = moved or best != start[ring]
            start[ring] = best
            x, y = points[best, 0], points[best, 1]
        if not moved:
            return
