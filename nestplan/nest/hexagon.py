"""The least polygons round a convex polygon, never overstated: what the hexagon bounds rest on.

Some least k-gon has at least k - 1 of its sides flush with edges of the polygon, and the
last flush or touching at its own midpoint (Aggarwal, Chang and Yap 1985; DePano 1987;
both from memory). So the k-gon is a closed walk of k steps over the edges, each step
paid for with the corner it leaves between k-gon and polygon, and dynamic programming
finds the cheapest walk: nothing is iterated to a tolerance, which could overstate it.
"""

import numpy as np
from numpy.typing import NDArray

CORNERS_MOST = 72  # a finer polygon is replaced by one inside it, which understates: safe

Floats = NDArray[np.float64]


def least_hexagon_mm2(polygon_mm: Floats) -> float:
    """Area of the smallest hexagon (or smaller polygon) that contains a convex polygon.

    polygon_mm: (n, 2), convex, counter-clockwise, no corner twice.
    returns:    the area for up to CORNERS_MOST corners, a little less than it for more.
    """
    return float(least_polygons_mm2(polygon_mm, 6)[-1])


def least_polygons_mm2(polygon_mm: Floats, most: int) -> Floats:
    """Areas of the smallest polygons of at most 4, 5, ... `most` sides round a convex polygon.

    Each is the area for up to CORNERS_MOST corners, a little less than it for more.
    """
    points = _thinned(polygon_mm)
    edges = np.roll(points, -1, axis=0) - points
    n = len(points)
    corners = _corners(points, edges)
    pairs = _min_plus(corners[: n + 1], corners)
    walks = np.empty((n, n + 1))
    for start in range(n):
        walks[start] = pairs[start, start : start + n + 1]
        walks[start] = np.minimum(walks[start], _touching(points, edges, start))
    steps = np.stack([corners[a : a + n + 1, a : a + n + 1] for a in range(n)])
    least = []
    for _ in range(3, most + 1):
        walks = (walks[:, :, np.newaxis] + steps).min(axis=1)
        least.append(walks[:, n].min())
    return _area(points) + np.array(least[1:])


def _thinned(points: Floats) -> Floats:
    """The polygon without its flattest corners, until few enough are left."""
    while len(points) > CORNERS_MOST:
        before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
        points = np.delete(points, np.abs(_cross(before, after)).argmin(), axis=0)
    return points


def _cross(a: Floats, b: Floats) -> Floats:
    crossed: Floats = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    return crossed


def _area(points: Floats) -> float:
    return 0.5 * float(_cross(points, np.roll(points, -1, axis=0)).sum())


def _corners(points: Floats, edges: Floats) -> Floats:
    """What a step from the line of edge a to the line of edge b leaves outside the polygon.

    returns: (2n + 1, 2n + 1), edges counted on beyond n; infinite where the lines do not
    meet ahead of a, 0 for no step.
    """
    n = len(points)
    table = np.full((2 * n + 1, 2 * n + 1), np.inf)
    np.fill_diagonal(table, 0.0)
    for a in range(n):
        steps = np.arange(1, n)
        ends, begins = points[(a + 1) % n], points[(a + steps) % n]
        gone = begins - ends  # the chord that the corner spans
        ahead = _cross(edges[a], edges[(a + steps) % n])
        between = _chains(points, a, steps)
        with np.errstate(divide="ignore", invalid="ignore"):
            along = _cross(gone, edges[(a + steps) % n]) / ahead
            left = 0.5 * along * _cross(edges[a], gone) - between
        # a turn of less than half a circle: the lines meet ahead, on the outer side
        meets = (ahead > 0) & (along >= 0)
        left = np.where(meets, np.maximum(left, 0.0), np.inf)
        for lap in (a, a + n):
            fits = lap + steps <= 2 * n
            table[lap, (lap + steps)[fits]] = left[fits]
    return table


def _chains(points: Floats, a: int, steps: NDArray[np.int_]) -> Floats:
    """Areas between the polygon from the end of edge a to the start of edge a + step, and chord."""
    n = len(points)
    chain = points[(a + 1 + np.arange(n)) % n] - points[(a + 1) % n]
    swept = np.concatenate(([0.0], np.cumsum(_cross(chain[:-1], chain[1:]))))
    areas: Floats = 0.5 * swept[steps - 1]
    return areas


def _min_plus(first: Floats, second: Floats) -> Floats:
    return np.array([(row[:, np.newaxis] + second).min(axis=0) for row in first])


def _touching(points: Floats, edges: Floats, a: int) -> Floats:
    """Two steps from edge a by way of a side that touches one corner at its own midpoint.

    Only where the two steps turn by more than half a circle can this beat a flush side.
    returns: (n + 1,) by the number of edges gone on, infinite where there is no such side.
    """
    n = len(points)
    best = np.full(n + 1, np.inf)
    gone = np.flatnonzero(_cross(edges[a], edges[(a + np.arange(n)) % n]) < 0)
    if not len(gone):
        return best
    last = (a + gone[:, np.newaxis]) % n
    steps = np.arange(2, n)[np.newaxis, :]
    touched = (a + steps) % n
    turn = _cross(edges[a], edges[last])
    end, begin = points[(a + 1) % n], points[last]
    wanted = 2 * points[touched] - end - begin
    along = _cross(wanted, edges[last]) / turn
    back = -_cross(edges[a], wanted) / turn
    outer = end + along[..., np.newaxis] * edges[a]
    other = begin - back[..., np.newaxis] * edges[last]
    side = other - outer
    holds = (steps < gone[:, np.newaxis]) & (along >= 0) & (back >= 0)
    holds &= (_cross(edges[touched - 1], side) >= 0) & (_cross(side, edges[touched]) >= 0)
    outside = 0.5 * (_cross(outer - end, other - end) + _cross(other - end, begin - end))
    best[gone] = np.where(holds, outside, np.inf).min(axis=1) - _chains(points, a, gone)
    return best
