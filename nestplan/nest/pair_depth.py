"""How deep two pieces are in each other, looked up from the no-fit field of the pair.

Compiled. A field is a box of square cells; a cell knows every edge that can be the nearest
for some point in it, so a look-up is exact, not sampled. A look-up waits for memory more than
for anything else: a cell is four bytes, and one that knows one edge names it itself.
"""

# mypy: disable-error-code="misc, no-untyped-def, no-untyped-call"
# (numba ships no types; every number here is int64 or float64)

from math import sqrt

from nestplan.nest.raw import compiled, f8, i4, i8, u2, u4

# slots of the header, an int64 array of addresses and counts that every function is handed
EDGES, CELLS, LISTS, ROWS, SPANS, CODES, TURNS, BOXES, ROOMS, KINDS = range(10)
PIECES, WEIGHTS, HEADS, NEXTS, PREVS, BIG, NEAR, ORDER, MARKS = range(10, 19)
LAPS, LAP_DEPTHS, ACTIVE, SAVED, PUSH, PICKS, INTS, REALS, STOP = range(19, 28)
REACHES, SIZES = 28, 29
HEADER = 30

TURN_BITS = 10  # code of a pair of variants: row of its field << TURN_BITS | turn
TURN_MASK = (1 << TURN_BITS) - 1
ROW_BYTES = 64
CORNER_BYTES = 32
# a cell: first of its list, or its only edge << 14 | number of edges << 2 | state
FIRST_BITS = 14
FIRST_MOST = (1 << (32 - FIRST_BITS)) - 1
COUNT_MOST = (1 << (FIRST_BITS - 2)) - 1
EDGES_MOST = 1 << 16  # numbers in lists are uint16
INSIDE, OUTSIDE, NOWHERE = 1, 2, 3  # state of a cell; 0: some of both, 3: no edge matters
CONVEX, STRAIGHT = 1.0, 0.5  # flag of a corner; 0: reflex


@compiled
def fill_cells(edges, names, left, bottom, side, columns, rows, apart, cells, lists):
    """Fill cells (columns * rows,) and the lists they point into; return the lists' length.

    edges: (n, 8). names: (n,) what an edge is called. What does not fit is counted, not written.
    """
    half = 0.5 * side * sqrt(2.0)
    used = 0
    for row in range(rows):
        for column in range(columns):
            x = left + (column + 0.5) * side
            y = bottom + (row + 0.5) * side
            nearest, inside = _from_edges(edges, x, y)
            cell = row * columns + column
            cells[cell] = 0
            if not inside and nearest - half >= apart:
                continue
            reach = nearest + 2.0 * half
            if inside and nearest > 2.0 * half:
                reach = nearest + 0.15 * half  # deep: which edge hardly matters
            first, count = used, 0
            for e in range(edges.shape[0]):
                if count < COUNT_MOST and _distance(edges, e, x, y) <= reach:
                    if used < lists.shape[0]:
                        lists[used] = names[e]
                    used += 1
                    count += 1
            if count == 1 and used <= lists.shape[0]:
                used = first
                first = lists[first]
            state = 0
            if nearest > half:
                state = INSIDE if inside else OUTSIDE
            cells[cell] = (min(first, FIRST_MOST) << FIRST_BITS) + 4 * count + state
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
    row = i8(h, ROWS) + ROW_BYTES * (code >> TURN_BITS)
    fx, fy = c * dx + s * dy - f8(row, 0), c * dy - s * dx - f8(row, 1)
    if (fx <= 0.0) | (fy <= 0.0) | (fx >= f8(row, 2)) | (fy >= f8(row, 3)):
        return 0.0
    return depth_in_field(h, row, fx, fy)


@compiled
def depth_in_field(h, row, fx, fy):
    """The depth at a place that lies in the box of a field, told from the box's corner."""
    edge, t, d2, state = _nearest(h, row, fx, fy)
    if state == NOWHERE:
        return 0.0
    apart = f8(row, 5)
    if _outside(edge, t, fx, fy, state):
        return apart - sqrt(d2) if d2 < apart * apart else 0.0
    return apart + sqrt(d2)


@compiled
def depth_way(h, code, dx, dy):
    """The depth, and the unit direction in which the other piece leaves soonest."""
    turn = i8(h, TURNS) + 16 * (code & TURN_MASK)
    c, s = f8(turn, 0), f8(turn, 1)
    row = i8(h, ROWS) + ROW_BYTES * (code >> TURN_BITS)
    fx, fy = c * dx + s * dy - f8(row, 0), c * dy - s * dx - f8(row, 1)
    if (fx <= 0.0) | (fy <= 0.0) | (fx >= f8(row, 2)) | (fy >= f8(row, 3)):
        return 0.0, 0.0, 0.0
    edge, t, d2, state = _nearest(h, row, fx, fy)
    if state == NOWHERE:
        return 0.0, 0.0, 0.0
    d = sqrt(d2)
    outside = _outside(edge, t, fx, fy, state)
    deep = f8(row, 5) - d if outside else f8(row, 5) + d
    if deep <= 0.0:
        return 0.0, 0.0, 0.0
    x, y = f8(edge, 0), f8(edge, 1)
    along_x, along_y = f8(edge, 4) - x, f8(edge, 5) - y
    if d > 1e-9:
        wx, wy = (fx - x - t * along_x) / d, (fy - y - t * along_y) / d
        if not outside:
            wx, wy = -wx, -wy
    else:  # on the edge: straight out of it
        long = sqrt(f8(edge, 2))
        wx, wy = along_y * long, -along_x * long
    return deep, c * wx - s * wy, s * wx + c * wy


@compiled
def _nearest(h, row, fx, fy):
    """(address of the nearest edge, place along it 0..1, squared distance, state of the cell)."""
    side = f8(row, 4)
    number = int(fy * side) * i4(row, 12) + int(fx * side)
    cell = u4(i8(h, CELLS), i4(row, 13) + number)
    corners = i8(h, EDGES) + CORNER_BYTES * i4(row, 15)
    count = (cell >> 2) & COUNT_MOST
    if count == 0:
        return corners, 0.0, 0.0, NOWHERE
    first = cell >> FIRST_BITS
    if count == 1:
        edge = corners + CORNER_BYTES * first
        t, d2 = _along(edge, fx, fy)
        return edge, t, d2, cell & 3
    lists = i8(h, LISTS) + 2 * (i4(row, 14) + first)
    least = 1e300
    at = 0.0
    best = corners
    for k in range(count):
        edge = corners + CORNER_BYTES * u2(lists, k)
        t, d2 = _along(edge, fx, fy)
        if d2 < least:
            least, at, best = d2, t, edge
    return best, at, least, cell & 3


@compiled
def _along(edge, fx, fy):
    """(place along an edge of the point nearest to (fx, fy), their squared distance)."""
    x, y = f8(edge, 0), f8(edge, 1)
    dx, dy = f8(edge, 4) - x, f8(edge, 5) - y  # an edge ends where the next row begins
    ex, ey = fx - x, fy - y
    t = min(max((ex * dx + ey * dy) * f8(edge, 2), 0.0), 1.0)
    ex -= t * dx
    ey -= t * dy
    return t, ex * ex + ey * ey


@compiled
def _outside(edge, t, fx, fy, state):
    """Side of the nearest point: a convex corner is seen from outside, a reflex one from inside."""
    if state != 0:
        return state == OUTSIDE
    flag = STRAIGHT
    if t <= 0.0:
        flag = f8(edge, 3)
    elif t >= 1.0:
        flag = f8(edge, 7)
    if flag != STRAIGHT:
        return flag == CONVEX
    x, y = f8(edge, 0), f8(edge, 1)
    return (f8(edge, 4) - x) * (fy - y) - (f8(edge, 5) - y) * (fx - x) < 0.0
