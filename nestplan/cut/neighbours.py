"""Who is near whom: points in a grid of square cells, so that ten thousand rings cost moments.

Compiled, and exact: cells are searched in growing squares until no cell left can hold
anything nearer. Equal distances go to the lower number, so that the answer is one.
"""

# mypy: disable-error-code="misc, no-untyped-def, no-untyped-call"
# (numba ships no types; every array here is int64 or float64)

from math import sqrt
from typing import Any, NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

compiled: Any = njit(cache=True, nogil=True)

PER_CELL = 2.0  # points a cell on average: fewer means empty cells, more means long lists
NOBODY = -1


class Grid(NamedTuple):
    """Points sorted into cells; cell c holds members[first[c] : first[c + 1]]."""

    points: NDArray[np.float64]  # (n, 2)
    members: NDArray[np.int64]  # (n,) indices of points, cell after cell
    first: NDArray[np.int64]  # (columns * rows + 1,)
    left: float
    bottom: float
    side: float
    columns: int
    rows: int


def grid_of(points: NDArray[np.float64]) -> Grid:
    """Sort points (n, 2), n >= 1, into a grid with about two points a cell."""
    low, high = points.min(axis=0), points.max(axis=0)
    width, height = (high - low).tolist()
    each = PER_CELL / len(points)
    # the second term keeps a thin row of points from making more cells than points
    side = max(sqrt(width * height * each), max(width, height) * each) or 1.0
    columns, rows = int(width / side) + 1, int(height / side) + 1
    places = ((points - low) / side).astype(np.int64)
    cell = np.minimum(places[:, 1], rows - 1) * columns + np.minimum(places[:, 0], columns - 1)
    members = np.argsort(cell, kind="stable").astype(np.int64)
    first = np.searchsorted(cell[members], np.arange(columns * rows + 1)).astype(np.int64)
    return Grid(points, members, first, float(low[0]), float(low[1]), float(side), columns, rows)


def nearest_next(
    start: NDArray[np.float64], points: NDArray[np.float64], owner: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Visit every owner once, each time the one that has the nearest point of those left.

    start:  (2,) where the knife stands. points: (n, 2) all places where a ring may begin.
    owner:  (n,) whose point it is, 0 .. m - 1 without gaps.
    returns: owners (m,) in the order of the visits, and the point (m,) each is entered at,
             an index into points, by owner.
    """
    grid = grid_of(points)
    cell = np.empty(len(points), np.int64)
    cell[grid.members] = np.repeat(np.arange(len(grid.first) - 1), np.diff(grid.first))
    own = np.argsort(owner, kind="stable").astype(np.int64)  # points, owner after owner
    own_first = np.searchsorted(owner[own], np.arange(int(owner.max()) + 2)).astype(np.int64)
    living = np.diff(grid.first)  # points of waiting owners in each cell
    x, y = start.tolist()
    return _nearest_next(  # type: ignore[no-any-return]
        x, y, owner, own, own_first, cell, living, *grid
    )


def near_lists(points: NDArray[np.float64], most: int) -> NDArray[np.int64]:
    """The `most` nearest others of each of n points, nearest first; shape (n, most).

    Rows of fewer than `most` others end in NOBODY.
    """
    return _near_lists(most, *grid_of(points))  # type: ignore[no-any-return]


@compiled
def _beyond(x, y, column, row, reach, left, bottom, side, columns, rows):
    """No point in a cell farther than `reach` cells from (column, row) is nearer than this."""
    least = np.inf
    if column - reach > 0:
        least = min(least, x - (left + (column - reach) * side))
    if column + reach < columns - 1:
        least = min(least, left + (column + reach + 1) * side - x)
    if row - reach > 0:
        least = min(least, y - (bottom + (row - reach) * side))
    if row + reach < rows - 1:
        least = min(least, bottom + (row + reach + 1) * side - y)
    return least


@compiled
def _cell_of(value, low, side, count):
    return min(max(int((value - low) / side), 0), count - 1)


@compiled
def _nearest_next(
    x,
    y,
    owner,
    own,
    own_first,
    cell,
    living,
    points,
    members,
    first,
    left,
    bottom,
    side,
    columns,
    rows,
):
    owners = len(own_first) - 1
    waiting = np.ones(owners, np.bool_)
    order = np.empty(owners, np.int64)
    entry = np.empty(owners, np.int64)
    for visit in range(owners):
        column, row = _cell_of(x, left, side, columns), _cell_of(y, bottom, side, rows)
        best, nearest, reach = NOBODY, np.inf, 0
        while True:
            for r in range(max(row - reach, 0), min(row + reach, rows - 1) + 1):
                inner = abs(r - row) < reach  # then only the row's two ends are new
                step = 2 * reach if inner else 1
                for c in range(column - reach, column + reach + 1, step):
                    if c < 0 or c >= columns or living[r * columns + c] == 0:
                        continue
                    for k in range(first[r * columns + c], first[r * columns + c + 1]):
                        p = members[k]
                        if not waiting[owner[p]]:
                            continue
                        away = (points[p, 0] - x) ** 2 + (points[p, 1] - y) ** 2
                        if away < nearest or (away == nearest and p < best):
                            best, nearest = p, away
            beyond = _beyond(x, y, column, row, reach, left, bottom, side, columns, rows)
            if beyond == np.inf or (beyond > 0 and nearest < beyond**2):
                break
            reach += 1
        who = owner[best]
        waiting[who] = False
        for k in range(own_first[who], own_first[who + 1]):
            living[cell[own[k]]] -= 1
        order[visit], entry[who] = who, best
        x, y = points[best, 0], points[best, 1]
    return order, entry


@compiled
def _near_lists(most, points, members, first, left, bottom, side, columns, rows):
    near = np.full((len(points), most), NOBODY, np.int64)
    away = np.empty(most)
    for p in range(len(points)):
        x, y = points[p, 0], points[p, 1]
        column, row = _cell_of(x, left, side, columns), _cell_of(y, bottom, side, rows)
        found, reach = 0, 0
        while True:
            for r in range(max(row - reach, 0), min(row + reach, rows - 1) + 1):
                inner = abs(r - row) < reach
                step = 2 * reach if inner else 1
                for c in range(column - reach, column + reach + 1, step):
                    if c < 0 or c >= columns:
                        continue
                    for k in range(first[r * columns + c], first[r * columns + c + 1]):
                        q = members[k]
                        if q == p:
                            continue
                        far = (points[q, 0] - x) ** 2 + (points[q, 1] - y) ** 2
                        if found < most:
                            found += 1
                        elif far > away[most - 1] or (
                            far == away[most - 1] and q > near[p, most - 1]
                        ):
                            continue
                        slot = found - 1
                        while slot > 0 and (
                            far < away[slot - 1]
                            or (far == away[slot - 1] and q < near[p, slot - 1])
                        ):
                            near[p, slot], away[slot] = near[p, slot - 1], away[slot - 1]
                            slot -= 1
                        near[p, slot], away[slot] = q, far
            beyond = _beyond(x, y, column, row, reach, left, bottom, side, columns, rows)
            if beyond == np.inf or (found == most and beyond > 0 and away[most - 1] < beyond**2):
                break
            reach += 1
    return near
