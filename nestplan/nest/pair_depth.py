"""How deep two pieces are in each other, looked up from the no-fit field of the pair.

Compiled. A field is a box of square cells; a cell knows every edge that can be the nearest
for some point in it, so a look-up is exact, not sampled.
"""

# mypy: disable-error-code="misc, no-untyped-def, no-untyped-call"
# (numba ships no types; every number here is int64 or float64)

from math import sqrt

from nestplan.nest.raw import compiled, f8, i4, i8

# slots of the header, an int64 array of addresses and counts that every function is handed
EDGES, CELLS, LISTS, ROWS, SPANS, CODES, TURNS, BOXES, ROOMS, KINDS = range(10)
PIECES, WEIGHTS, HEADS, NEXTS, PREVS, BIG, NEAR, ORDER, MARKS = range(10, 19)
LAPS, LAP_DEPTHS, ACTIVE, SAVED, PUSH, PICKS, INTS, REALS, STOP = range(19, 28)
HEADER = 28

TURN_BITS = 10  # code of a pair of variants: row of its field << TURN_BITS | turn
TURN_MASK = (1 << TURN_BITS) - 1
ROW_BYTES = EDGE_BYTES = 64
INSIDE, OUTSIDE = 1, 2  # state of a cell; 0: some of both
CONVEX, STRAIGHT = 1.0, 0.5  # flag of a corner; 0: reflex


@compiled
def fill_cells(edges, left, bottom, side, columns, rows, apart, cells, lists):
    """Fill cells (columns * rows, 2) of (first, 4 * count + state); return the list's length.

    edges: (n, 8). What does not fit the lists is counted, not written.
    """
    half = 0.5 * side * sqrt(2.0)
    used = 0
    for row in range(rows):
        for column in range(columns):
            x = left + (column + 0.5) * side
            y = bottom + (row + 0.5) * side
            nearest, inside = _from_edges(edges, x, y)
            cell = row * columns + column
            cells[cell, 0] = used
            cells[cell, 1] = 0
            if not inside and nearest - half >= apart:
                continue
            reach = nearest + 2.0 * half
            if inside and nearest > 2.0 * half:
                reach = nearest + 0.15 * half  # deep: which edge hardly matters
            first = used
            for e in range(edges.shape[0]):
                if _distance(edges, e, x, y) <= reach:
                    if used < lists.shape[0]:
                        lists[used] = e
                    used += 1
            state = 0
            if nearest > half:
                state = INSIDE if inside else OUTSIDE
            cells[cell, 1] = 4 * (used - first) + state
    return used


@compiled
def _distance(edges, e, x, y):
    ex, ey = x - edges[e, 0], y - edges[e, 1]
    t = min(max((ex * edges[e, 2] + ey * edges[e, 3]) * edges[e, 4], 0.0), 1.0)
    ex -= t * edges[e, 2]
    ey -= t * edges[e, 3]
    return sqrt(ex * ex + ey * ey)


@compiled
def _from_edges(edges, x, y):
    """Distance to the nearest edge, and whether the point lies inside (crossings counted)."""
    nearest = 1e300
    inside = False
    for e in range(edges.shape[0]):
        nearest = min(nearest, _distance(edges, e, x, y))
        y0 = edges[e, 1]
        y1 = y0 + edges[e, 3]
        if (y0 > y) != (y1 > y) and x < edges[e, 0] + (y - y0) / edges[e, 3] * edges[e, 2]:
            inside = not inside
    return nearest, inside


@compiled
def depth(h, code, dx, dy):
    """How much nearer than allowed a piece at (dx, dy) from another is; 0 where it may lie."""
    turn = i8(h, TURNS) + 16 * (code & TURN_MASK)
    c, s = f8(turn, 0), f8(turn, 1)
    px, py = c * dx + s * dy, c * dy - s * dx
    row = i8(h, ROWS) + ROW_BYTES * (code >> TURN_BITS)
    fx, fy = px - f8(row, 0), py - f8(row, 1)
    wide, high = f8(row, 2), f8(row, 3)
    if (abs(fx) >= wide) | (abs(fy) >= high):  # one branch: which side is anybody's guess
        return 0.0
    side = f8(row, 4)
    number = int((fy + high) * side) * i8(row, 6) + int((fx + wide) * side)
    cell = i8(h, CELLS) + 8 * (i8(row, 7) + number)
    many = i4(cell, 1)
    if many == 0:
        return 0.0
    edge, t, d2 = _nearest(h, i4(cell, 0), many >> 2, px, py)
    apart = f8(row, 5)
    if _outside(edge, t, px, py, many & 3):
        return apart - sqrt(d2) if d2 < apart * apart else 0.0
    return apart + sqrt(d2)


@compiled
def depth_way(h, code, dx, dy):
    """The depth, and the unit direction in which the other piece leaves soonest."""
    turn = i8(h, TURNS) + 16 * (code & TURN_MASK)
    c, s = f8(turn, 0), f8(turn, 1)
    px, py = c * dx + s * dy, c * dy - s * dx
    row = i8(h, ROWS) + ROW_BYTES * (code >> TURN_BITS)
    fx, fy = px - f8(row, 0), py - f8(row, 1)
    wide, high = f8(row, 2), f8(row, 3)
    if (abs(fx) >= wide) | (abs(fy) >= high):  # one branch: which side is anybody's guess
        return 0.0, 0.0, 0.0
    side = f8(row, 4)
    number = int((fy + high) * side) * i8(row, 6) + int((fx + wide) * side)
    cell = i8(h, CELLS) + 8 * (i8(row, 7) + number)
    many = i4(cell, 1)
    if many == 0:
        return 0.0, 0.0, 0.0
    edge, t, d2 = _nearest(h, i4(cell, 0), many >> 2, px, py)
    d = sqrt(d2)
    outside = _outside(edge, t, px, py, many & 3)
    deep = f8(row, 5) - d if outside else f8(row, 5) + d
    if deep <= 0.0:
        return 0.0, 0.0, 0.0
    if d > 1e-9:
        wx = (px - f8(edge, 0) - t * f8(edge, 2)) / d
        wy = (py - f8(edge, 1) - t * f8(edge, 3)) / d
        if not outside:
            wx, wy = -wx, -wy
    else:  # on the edge: straight out of it
        long = sqrt(f8(edge, 4))
        wx, wy = f8(edge, 3) * long, -f8(edge, 2) * long
    return deep, c * wx - s * wy, s * wx + c * wy


@compiled
def _nearest(h, first, count, px, py):
    """(edge's address, place along it 0..1, squared distance) of the nearest of a cell's edges."""
    edges = i8(h, EDGES)
    lists = i8(h, LISTS)
    least = 1e300
    at = 0.0
    best = edges
    for k in range(first, first + count):
        edge = edges + EDGE_BYTES * i4(lists, k)
        dx, dy = f8(edge, 2), f8(edge, 3)
        ex, ey = px - f8(edge, 0), py - f8(edge, 1)
        t = min(max((ex * dx + ey * dy) * f8(edge, 4), 0.0), 1.0)
        ex -= t * dx
        ey -= t * dy
        d2 = ex * ex + ey * ey
        if d2 < least:
            least, at, best = d2, t, edge
    return best, at, least


@compiled
def _outside(edge, t, px, py, state):
    """Side of the nearest point: a convex corner is seen from outside, a reflex one from inside."""
    if state != 0:
        return state == OUTSIDE
    flag = STRAIGHT
    if t <= 0.0:
        flag = f8(edge, 5)
    elif t >= 1.0:
        flag = f8(edge, 6)
    if flag != STRAIGHT:
        return flag == CONVEX
    dx, dy = f8(edge, 2), f8(edge, 3)
    return dx * (py - f8(edge, 1)) - dy * (px - f8(edge, 0)) < 0.0
