"""The compiled heart of the search over outlines: places tried, overlaps pushed apart.

Every function is handed one address, that of a header (slots named in `pair_depth.py`) with
the addresses of all arrays; `memory.py` lays them out. What `separate` needs to go on
later lies in memory too, so that it can pause at any round and be taken up again.
"""

# mypy: disable-error-code="misc, no-untyped-def, no-untyped-call"
# (numba ships no types; every number here is int64 or float64)

from math import sqrt

import numpy as np

from nestplan.nest.pair_depth import (
    ACTIVE,
    BIG,
    BOXES,
    CODES,
    CORNER_BYTES,
    EDGES,
    HEADS,
    INTS,
    KINDS,
    LAP_DEPTHS,
    LAPS,
    MARKS,
    NEAR,
    NEXTS,
    ORDER,
    PICKS,
    PIECES,
    PREVS,
    PUSH,
    REACHES,
    REALS,
    ROOMS,
    ROW_BYTES,
    ROWS,
    SAVED,
    SIZES,
    SPANS,
    STOP,
    TURN_BITS,
    TURN_MASK,
    TURNS,
    WEIGHTS,
    depth,
    depth_in_field,
    depth_way,
)
from nestplan.nest.raw import compiled, f4, f8, i4, i8, set_f4, set_f8, set_i4, set_i8

# whole numbers in memory
(
    COUNT,  # evaluations so far
    LIMIT,  # pause when COUNT reaches this
    CAP,  # give up when COUNT reaches this
    RANDOM,
    MOVABLE,
    ALL,  # movable and fixed pieces
    VARIANTS,
    BIGS,
    COLUMNS,
    CELL_ROWS,
    LAP_ROOM,
    ACTIVES,
    STAGE,  # of separate: 0 to begin, 1 under way
    STRIKES,
    SINCE,
    ROUNDS_MOST,
    STRIKES_MOST,
    PUSHES,
    WIDE_TRIES,
    NEAR_TRIES,
    REFINED,
) = range(21)
WHOLE = 24
# lengths in memory
LENGTH, CELL, REACH, TOLERANCE, LEAST, LANDMARK, AT_STRIKE, VERTEX_SHARE = range(8)
REAL = 12

PIECE_BYTES = 32  # x, y, variant, cell of the hash (-1: not in it)
NEAR_BYTES = 128  # one of the near ones, see gather_one
AROUND = 3.0  # steps that a walk can go before what is near must be listed again
SEPARATED, FAILED, PAUSED = 0, 1, 2
WEIGHT_MOST = 1e12


@compiled
def uniform(h):
    """The next random number in [0, 1)."""
    ints = i8(h, INTS)
    s = np.uint64(i8(ints, RANDOM))
    s ^= s << np.uint64(13)
    s ^= s >> np.uint64(7)
    s ^= s << np.uint64(17)
    set_i8(ints, RANDOM, np.int64(s))
    return np.float64(s >> np.uint64(11)) * 1.1102230246251565e-16


@compiled
def below(h, n):
    """A random whole number in [0, n)."""
    return min(int(uniform(h) * n), n - 1)


# ---------------------------------------------------------------- where pieces are


@compiled
def cell_of(h, x, y):
    """Number of the cell of the hash a place lies in; places beyond count to the outermost."""
    ints = i8(h, INTS)
    size = f8(i8(h, REALS), CELL)
    column = min(max(int(x / size), 0), i8(ints, COLUMNS) - 1)
    row = min(max(int(y / size), 0), i8(ints, CELL_ROWS) - 1)
    return row * i8(ints, COLUMNS) + column


@compiled
def put(h, i, v, x, y):
    """Lay piece i somewhere."""
    piece = i8(h, PIECES) + PIECE_BYTES * i
    set_f8(piece, 0, x)
    set_f8(piece, 1, y)
    set_i8(piece, 2, v)
    old = i8(piece, 3)
    if old < 0:
        return
    new = cell_of(h, x, y)
    if new == old:
        return
    heads, nexts, prevs = i8(h, HEADS), i8(h, NEXTS), i8(h, PREVS)
    after, before = i4(nexts, i), i4(prevs, i)
    if before >= 0:
        set_i4(nexts, before, after)
    else:
        set_i4(heads, old, after)
    if after >= 0:
        set_i4(prevs, after, before)
    link(h, i, new)


@compiled
def link(h, i, cell):
    """Enter piece i into a cell of the hash."""
    heads, nexts, prevs = i8(h, HEADS), i8(h, NEXTS), i8(h, PREVS)
    first = i4(heads, cell)
    set_i4(nexts, i, first)
    set_i4(prevs, i, -1)
    if first >= 0:
        set_i4(prevs, first, i)
    set_i4(heads, cell, i)
    set_i8(i8(h, PIECES) + PIECE_BYTES * i, 3, cell)


@compiled
def rehash(h):
    """Build the hash again from the places; pieces whose cell is -1 stay out of it."""
    ints = i8(h, INTS)
    heads = i8(h, HEADS)
    for cell in range(i8(ints, COLUMNS) * i8(ints, CELL_ROWS)):
        set_i4(heads, cell, -1)
    for i in range(i8(ints, ALL)):
        piece = i8(h, PIECES) + PIECE_BYTES * i
        if i8(piece, 3) >= 0:
            link(h, i, cell_of(h, f8(piece, 0), f8(piece, 1)))


@compiled
def held_x(h, v, x):
    """x moved into the strip for a variant."""
    room = i8(h, ROOMS) + 16 * v
    return min(max(x, f8(room, 0)), f8(room, 1))


@compiled
def held_y(h, v, y):
    """y moved into the strip for a variant."""
    box = i8(h, BOXES) + 32 * v
    return max(min(y, f8(i8(h, REALS), LENGTH) - f8(box, 3)), -f8(box, 1))


# ---------------------------------------------------------------- what a place costs


@compiled
def window(h, v, x, y):
    """Cells of the hash in which neighbours of a place can be: columns and rows, ends included."""
    ints, reals = i8(h, INTS), i8(h, REALS)
    box = i8(h, BOXES) + 32 * v
    reach, size = f8(reals, REACH), f8(reals, CELL)
    columns, rows = i8(ints, COLUMNS), i8(ints, CELL_ROWS)
    left = min(max(int((x + f8(box, 0) - reach) / size), 0), columns - 1)
    right = min(max(int((x + f8(box, 2) + reach) / size), 0), columns - 1)
    bottom = min(max(int((y + f8(box, 1) - reach) / size), 0), rows - 1)
    top = min(max(int((y + f8(box, 3) + reach) / size), 0), rows - 1)
    return left, right, bottom, top


@compiled
def cost(h, i, v, x, y, most):
    """Weighted depth of piece i at a place in all others; at least `most` once it exceeds it."""
    ints = i8(h, INTS)
    set_i8(ints, COUNT, i8(ints, COUNT) + 1)
    pieces, big = i8(h, PIECES), i8(h, BIG)
    weights = i8(h, WEIGHTS) + 4 * i * i8(ints, ALL)
    codes = i8(h, CODES) + 4 * v * i8(ints, VARIANTS)
    reaches = i8(h, REACHES) + 32 * v * i8(ints, VARIANTS)
    total = 0.0
    for k in range(i8(ints, BIGS)):
        j = i4(big, k)
        if j != i:
            total += cost_of(h, pieces + PIECE_BYTES * j, codes, reaches, weights, j, x, y)
            if total >= most:
                return total
    left, right, bottom, top = window(h, v, x, y)
    heads, nexts, columns = i8(h, HEADS), i8(h, NEXTS), i8(ints, COLUMNS)
    for row in range(bottom, top + 1):
        for cell in range(row * columns + left, row * columns + right + 1):
            j = i4(heads, cell)
            while j >= 0:
                if j != i:
                    piece = pieces + PIECE_BYTES * j
                    total += cost_of(h, piece, codes, reaches, weights, j, x, y)
                    if total >= most:
                        return total
                j = i4(nexts, j)
    return total


@compiled
def cost_of(h, piece, codes, reaches, weights, j, x, y):
    """Weighted depth in one other piece, most of which are out of reach."""
    dx, dy = f8(piece, 0) - x, f8(piece, 1) - y
    w = i8(piece, 2)
    reach = reaches + 32 * w
    if (dx <= f8(reach, 0)) | (dx >= f8(reach, 1)) | (dy <= f8(reach, 2)) | (dy >= f8(reach, 3)):
        return 0.0
    deep = depth(h, i4(codes, w), dx, dy)
    return deep * f4(weights, j) if deep > 0.0 else 0.0


@compiled
def gather(h, i, v, x, y, margin):
    """List what can touch piece i within a margin of a place as the near ones."""
    ints = i8(h, INTS)
    many = 0
    for k in range(i8(ints, BIGS)):
        j = i4(i8(h, BIG), k)
        if j != i:
            many = gather_one(h, i, v, x, y, margin, j, many)
    left, right, bottom, top = window(h, v, x - margin, y - margin)
    _, right, _, top = window(h, v, x + margin, y + margin)
    columns = i8(ints, COLUMNS)
    for row in range(bottom, top + 1):
        for cell in range(row * columns + left, row * columns + right + 1):
            j = i4(i8(h, HEADS), cell)
            while j >= 0:
                if j != i:
                    many = gather_one(h, i, v, x, y, margin, j, many)
                j = i4(i8(h, NEXTS), j)
    return many


@compiled
def gather_one(h, i, v, x, y, margin, j, many):
    """Add piece j to the near ones if its field reaches the margin.

    Listed: where piece i must be to meet it (left, right, bottom, top); how a place becomes
    one in the field (cosine, sine, both shifts); the field's row, the weight, code, place.
    """
    ints = i8(h, INTS)
    piece = i8(h, PIECES) + PIECE_BYTES * j
    px, py, w = f8(piece, 0), f8(piece, 1), i8(piece, 2)
    reach = i8(h, REACHES) + 32 * (v * i8(ints, VARIANTS) + w)
    left, right = px - f8(reach, 1), px - f8(reach, 0)
    bottom, top = py - f8(reach, 3), py - f8(reach, 2)
    out = (x + margin <= left) | (x - margin >= right)
    if out | (y + margin <= bottom) | (y - margin >= top):
        return many
    code = i4(i8(h, CODES) + 4 * v * i8(ints, VARIANTS), w)
    turn = i8(h, TURNS) + 16 * (code & TURN_MASK)
    c, s = f8(turn, 0), f8(turn, 1)
    row = i8(h, ROWS) + ROW_BYTES * (code >> TURN_BITS)
    near = i8(h, NEAR) + NEAR_BYTES * many
    set_f8(near, 0, left)
    set_f8(near, 1, right)
    set_f8(near, 2, bottom)
    set_f8(near, 3, top)
    set_f8(near, 4, c)
    set_f8(near, 5, s)
    set_f8(near, 6, c * px + s * py - f8(row, 0))
    set_f8(near, 7, c * py - s * px - f8(row, 1))
    set_i8(near, 8, row)
    set_f8(near, 9, f4(i8(h, WEIGHTS) + 4 * i * i8(ints, ALL), j))
    set_i8(near, 10, code)
    set_f8(near, 11, px)
    set_f8(near, 12, py)
    return many + 1


@compiled
def thin(h, many, x, y, margin):
    """Keep of the near ones those within a smaller margin of a place."""
    kept = 0
    for k in range(many):
        one = i8(h, NEAR) + NEAR_BYTES * k
        out = (x + margin <= f8(one, 0)) | (x - margin >= f8(one, 1))
        if out | (y + margin <= f8(one, 2)) | (y - margin >= f8(one, 3)):
            continue
        if kept < k:
            to = i8(h, NEAR) + NEAR_BYTES * kept
            for number in range(NEAR_BYTES // 8):
                set_i8(to, number, i8(one, number))
        kept += 1
    return kept


@compiled
def cost_near(h, many, x, y, most):
    """The cost of a place from the list of near ones."""
    ints = i8(h, INTS)
    set_i8(ints, COUNT, i8(ints, COUNT) + 1)
    near = i8(h, NEAR)
    total = 0.0
    for k in range(many):
        one = near + NEAR_BYTES * k
        if (x <= f8(one, 0)) | (x >= f8(one, 1)) | (y <= f8(one, 2)) | (y >= f8(one, 3)):
            continue
        c, s, row = f8(one, 4), f8(one, 5), i8(one, 8)
        fx = f8(one, 6) - c * x - s * y
        fy = f8(one, 7) - c * y + s * x
        if (fx <= 0.0) | (fy <= 0.0) | (fx >= f8(row, 2)) | (fy >= f8(row, 3)):
            continue
        deep = depth_in_field(h, row, fx, fy)
        if deep > 0.0:
            total += deep * f8(one, 9)
            if total >= most:
                return total
    return total


# ---------------------------------------------------------------- moving one piece


@compiled
def descend(h, i, v, x, y, f, step, least):
    """Walk downhill by random axes and diagonals; step x 1.1 on success, x 0.5 on failure."""
    margin = AROUND * step
    gx, gy = x, y
    many = gather(h, i, v, x, y, margin)
    while step > least and f > 0.0:
        axis = below(h, 4)
        sx = 0.0 if axis == 1 else step
        sy = 0.0 if axis == 0 else (-step if axis == 3 else step)
        ax, ay = held_x(h, v, x + sx), held_y(h, v, y + sy)
        bx, by = held_x(h, v, x - sx), held_y(h, v, y - sy)
        fa = cost_near(h, many, ax, ay, f)
        fb = cost_near(h, many, bx, by, min(f, fa))
        if fb < min(f, fa):
            x, y, f = bx, by, fb
        elif fa < f:
            x, y, f = ax, ay, fa
        else:
            step *= 0.5
            gone = max(abs(x - gx), abs(y - gy))
            if 2.0 * AROUND * step < margin - gone:
                margin = AROUND * step
                gx, gy = x, y
                many = thin(h, many, x, y, margin)
            continue
        step *= 1.1
        if abs(x - gx) > margin - step or abs(y - gy) > margin - step:
            margin = AROUND * step
            gx, gy = x, y
            many = gather(h, i, v, x, y, margin)
    return x, y, f


@compiled
def project(h, i, v, x, y, f, size):
    """Step out of the deepest neighbour a few times: lands on contact exactly."""
    gx, gy = x, y
    bx, by, bf = x, y, f
    many = gather(h, i, v, x, y, size)
    near = i8(h, NEAR)
    for _ in range(12):
        worst, wx, wy = 0.0, 0.0, 0.0
        for k in range(many):
            one = near + NEAR_BYTES * k
            deep, dx, dy = depth_way(h, i8(one, 10), f8(one, 11) - x, f8(one, 12) - y)
            if deep > worst:
                worst, wx, wy = deep, dx, dy
        if worst <= 0.0:
            break
        x = held_x(h, v, x - worst * wx)
        y = held_y(h, v, y - worst * wy)
        if abs(x - gx) > size or abs(y - gy) > size:
            break
        at = cost_near(h, many, x, y, 1e300)
        if at < bf:
            bx, by, bf = x, y, at
            if bf <= 0.0:
                break
    return bx, by, bf


@compiled
def pick(h, f, v, x, y, apart):
    """Keep a candidate among the best if it is; return the cost that a better one must beat."""
    picks = i8(h, PICKS)
    many = i8(i8(h, INTS), REFINED)
    worst, at, same = -1.0, 0, -1
    for k in range(many):
        slot = picks + 32 * k
        if i8(slot, 1) == v and abs(f8(slot, 2) - x) < apart and abs(f8(slot, 3) - y) < apart:
            same = k
        if f8(slot, 0) > worst:
            worst, at = f8(slot, 0), k
    if same >= 0:
        at = same
    slot = picks + 32 * at
    if f < f8(slot, 0):
        set_f8(slot, 0, f)
        set_i8(slot, 1, v)
        set_f8(slot, 2, x)
        set_f8(slot, 3, y)
    worst = 0.0
    for k in range(many):
        worst = max(worst, f8(picks + 32 * k, 0))
    return worst


@compiled
def beside(h, i, v):
    """A place on the edge of the field round a random other piece, pushed out a little."""
    ints = i8(h, INTS)
    j = below(h, i8(ints, ALL))
    if j == i:
        j = (j + 1) % i8(ints, ALL)
    piece = i8(h, PIECES) + PIECE_BYTES * j
    code = i4(i8(h, CODES) + 4 * i8(piece, 2) * i8(ints, VARIANTS), v)
    if code < 0:
        return -1.0, -1.0
    field = code >> TURN_BITS
    row = i8(h, ROWS) + ROW_BYTES * field
    span = i8(h, SPANS) + 8 * field
    edge = i8(h, EDGES) + CORNER_BYTES * (i4(span, 0) + below(h, i4(span, 1)))
    if f8(edge, 2) <= 0.0:  # the last corner of a ring, where no edge begins
        edge -= CORNER_BYTES
    out = 1.2 * f8(row, 5) * sqrt(f8(edge, 2))
    ex = f8(row, 0) + f8(edge, 0) + out * (f8(edge, 5) - f8(edge, 1))
    ey = f8(row, 1) + f8(edge, 1) - out * (f8(edge, 4) - f8(edge, 0))
    turn = i8(h, TURNS) + 16 * (code & TURN_MASK)
    c, s = f8(turn, 0), f8(turn, 1)
    return f8(piece, 0) + c * ex - s * ey, f8(piece, 1) + s * ex + c * ey


@compiled
def size_of(h, v):
    """Mean extent of a variant."""
    box = i8(h, BOXES) + 32 * v
    return 0.5 * (f8(box, 2) - f8(box, 0) + f8(box, 3) - f8(box, 1))


@compiled
def candidates(h, i):
    """Fill the picks with the cheapest of random places, wide about and near by."""
    ints, reals = i8(h, INTS), i8(h, REALS)
    piece = i8(h, PIECES) + PIECE_BYTES * i
    here, px, py = i8(piece, 2), f8(piece, 0), f8(piece, 1)
    first, kinds = i4(i8(h, KINDS), 2 * i), i4(i8(h, KINDS), 2 * i + 1)
    for k in range(i8(ints, REFINED)):
        slot = i8(h, PICKS) + 32 * k
        set_f8(slot, 0, 1e300)
        set_i8(slot, 1, -1)
    most = 1e300
    wide = i8(ints, WIDE_TRIES)
    for k in range(wide + i8(ints, NEAR_TRIES)):
        v = here
        if k < wide or k % 2 == 0:
            v = first + below(h, kinds)
        box = i8(h, BOXES) + 32 * v
        if k >= wide:
            x = held_x(h, v, px + (uniform(h) - 0.5) * (f8(box, 2) - f8(box, 0)))
            y = held_y(h, v, py + (uniform(h) - 0.5) * (f8(box, 3) - f8(box, 1)))
        else:
            x, y = -1.0, -1.0
            if uniform(h) < f8(reals, VERTEX_SHARE):
                x, y = beside(h, i, v)
            if held_x(h, v, x) != x or held_y(h, v, y) != y:
                room = i8(h, ROOMS) + 16 * v
                x = f8(room, 0) + uniform(h) * (f8(room, 1) - f8(room, 0))
                high = f8(reals, LENGTH) - f8(box, 3) + f8(box, 1)
                y = held_y(h, v, uniform(h) * high - f8(box, 1))
        at = cost(h, i, v, x, y, most)
        if at < most:
            most = pick(h, at, v, x, y, 0.1 * size_of(h, v))
            if at <= 0.0:
                return


@compiled
def move(h, i):
    """Lay piece i at the cheapest place found, if that is cheaper than where it is."""
    piece = i8(h, PIECES) + PIECE_BYTES * i
    v, x, y = i8(piece, 2), f8(piece, 0), f8(piece, 1)
    now = cost(h, i, v, x, y, 1e300)
    if now <= 0.0:
        return
    candidates(h, i)
    bv, bx, by, bf = v, x, y, now
    many = i8(i8(h, INTS), REFINED)
    for k in range(-1, many + 1):  # the present place, the picks, and the best of all finely
        kv, kx, ky, f = bv, bx, by, bf
        coarse, fine = 0.25, 0.02
        if k == many:
            coarse, fine = 0.02, 0.0005
        elif k >= 0:
            slot = i8(h, PICKS) + 32 * k
            f, kv, kx, ky = f8(slot, 0), i8(slot, 1), f8(slot, 2), f8(slot, 3)
        if kv < 0 or bf <= 0.0:
            continue
        size = size_of(h, kv)
        kx, ky, f = descend(h, i, kv, kx, ky, f, coarse * size, fine * size)
        if f < bf:
            bv, bx, by, bf = kv, kx, ky, f
    size = size_of(h, bv)
    if bf > 0.0:
        bx, by, bf = project(h, i, bv, bx, by, bf, size)
    if bf < now:
        put(h, i, bv, bx, by)


# ---------------------------------------------------------------- all pieces


@compiled
def list_laps(h, tolerance):
    """List every pair deeper than the tolerance; return (number, total depth, deepest)."""
    ints = i8(h, INTS)
    set_i8(ints, COUNT, i8(ints, COUNT) + i8(ints, MOVABLE))
    many, total, deepest = 0, 0.0, 0.0
    for i in range(i8(ints, MOVABLE)):
        piece = i8(h, PIECES) + PIECE_BYTES * i
        v, x, y = i8(piece, 2), f8(piece, 0), f8(piece, 1)
        left, right, bottom, top = window(h, v, x, y)
        columns = i8(ints, COLUMNS)
        for k in range(i8(ints, BIGS)):
            many, deep = lap(h, i, v, x, y, i4(i8(h, BIG), k), many, tolerance)
            total += deep
            deepest = max(deepest, deep)
        for row in range(bottom, top + 1):
            for cell in range(row * columns + left, row * columns + right + 1):
                j = i4(i8(h, HEADS), cell)
                while j >= 0:
                    many, deep = lap(h, i, v, x, y, j, many, tolerance)
                    total += deep
                    deepest = max(deepest, deep)
                    j = i4(i8(h, NEXTS), j)
    return many, total, deepest


@compiled
def lap(h, i, v, x, y, j, many, tolerance):
    """Note the overlap of i with j, once for each pair; return (number, depth)."""
    ints = i8(h, INTS)
    other = i8(h, PIECES) + PIECE_BYTES * j
    if j <= i:
        return many, 0.0
    dx, dy, w = f8(other, 0) - x, f8(other, 1) - y, i8(other, 2)
    reach = i8(h, REACHES) + 32 * (v * i8(ints, VARIANTS) + w)
    if (dx <= f8(reach, 0)) | (dx >= f8(reach, 1)) | (dy <= f8(reach, 2)) | (dy >= f8(reach, 3)):
        return many, 0.0
    deep = depth(h, i4(i8(h, CODES) + 4 * v * i8(ints, VARIANTS), w), dx, dy)
    if deep <= tolerance:
        return many, 0.0
    if many < i8(ints, LAP_ROOM):
        set_i4(i8(h, LAPS), 2 * many, i)
        set_i4(i8(h, LAPS), 2 * many + 1, j)
        set_f8(i8(h, LAP_DEPTHS), many, deep)
        many += 1
    return many, deep


@compiled
def push_apart(h):
    """Every overlapping pair moves out of each other by half its depth, all at once."""
    ints = i8(h, INTS)
    push = i8(h, PUSH)
    many, total, _ = list_laps(h, f8(i8(h, REALS), TOLERANCE))
    for i in range(2 * i8(ints, MOVABLE)):
        set_f8(push, i, 0.0)
    for k in range(many):
        i, j = i4(i8(h, LAPS), 2 * k), i4(i8(h, LAPS), 2 * k + 1)
        one, other = i8(h, PIECES) + PIECE_BYTES * i, i8(h, PIECES) + PIECE_BYTES * j
        code = i4(i8(h, CODES) + 4 * i8(one, 2) * i8(ints, VARIANTS), i8(other, 2))
        dx, dy = f8(other, 0) - f8(one, 0), f8(other, 1) - f8(one, 1)
        deep, wx, wy = depth_way(h, code, dx, dy)
        share = 0.51 * deep
        set_f8(push, 2 * i, f8(push, 2 * i) - share * wx)
        set_f8(push, 2 * i + 1, f8(push, 2 * i + 1) - share * wy)
        if j < i8(ints, MOVABLE):
            set_f8(push, 2 * j, f8(push, 2 * j) + share * wx)
            set_f8(push, 2 * j + 1, f8(push, 2 * j + 1) + share * wy)
    for i in range(i8(ints, MOVABLE)):
        dx, dy = f8(push, 2 * i), f8(push, 2 * i + 1)
        if dx != 0.0 or dy != 0.0:
            piece = i8(h, PIECES) + PIECE_BYTES * i
            v = i8(piece, 2)
            put(h, i, v, held_x(h, v, f8(piece, 0) + dx), held_y(h, v, f8(piece, 1) + dy))
    return total


@compiled
def weigh(h, i, j, w):
    """Set the weight of a pair."""
    weights, n = i8(h, WEIGHTS), i8(i8(h, INTS), ALL)
    set_f4(weights, i * n + j, w)
    set_f4(weights, j * n + i, w)


@compiled
def least_weight(h, i, j):
    """What a pair weighs at least: large pieces are harder to house, so small ones give way."""
    sizes = i8(h, SIZES)
    return np.float64(np.float32(f4(sizes, i) * f4(sizes, j)))  # as weights are kept


@compiled
def forget_weights(h):
    """All pairs count by their sizes alone again."""
    ints, active = i8(h, INTS), i8(h, ACTIVE)
    for k in range(i8(ints, ACTIVES)):
        i, j = i4(active, 2 * k), i4(active, 2 * k + 1)
        weigh(h, i, j, least_weight(h, i, j))
    set_i8(ints, ACTIVES, 0)


@compiled
def reweigh(h, many, deepest):
    """The listed pairs, which overlap still, count more from now on, others slowly less again."""
    ints, active = i8(h, INTS), i8(h, ACTIVE)
    weights, n = i8(h, WEIGHTS), i8(ints, ALL)
    kept = 0
    for k in range(i8(ints, ACTIVES)):
        i, j = i4(active, 2 * k), i4(active, 2 * k + 1)
        w = 0.95 * f4(weights, i * n + j)
        least = least_weight(h, i, j)
        if w <= least:
            weigh(h, i, j, least)
            continue
        weigh(h, i, j, w)
        set_i4(active, 2 * kept, i)
        set_i4(active, 2 * kept + 1, j)
        kept += 1
    for k in range(many):
        i, j = i4(i8(h, LAPS), 2 * k), i4(i8(h, LAPS), 2 * k + 1)
        w = f4(weights, i * n + j)
        if w <= least_weight(h, i, j):
            set_i4(active, 2 * kept, i)
            set_i4(active, 2 * kept + 1, j)
            kept += 1
        w *= 1.2 + 0.8 * f8(i8(h, LAP_DEPTHS), k) / deepest
        weigh(h, i, j, min(w, WEIGHT_MOST))
    set_i8(ints, ACTIVES, kept)


@compiled
def save(h):
    """Remember where all movable pieces lie."""
    for k in range(4 * i8(i8(h, INTS), MOVABLE)):
        set_i8(i8(h, SAVED), k, i8(i8(h, PIECES), k))


@compiled
def restore(h):
    """Lay all pieces back where they were remembered."""
    for i in range(i8(i8(h, INTS), MOVABLE)):
        slot = i8(h, SAVED) + PIECE_BYTES * i
        put(h, i, i8(slot, 2), f8(slot, 0), f8(slot, 1))


@compiled
def move_lapping(h, many):
    """Move every piece of the listed pairs once, in random order."""
    ints = i8(h, INTS)
    order, marks = i8(h, ORDER), i8(h, MARKS)
    n = 0
    for k in range(2 * many):
        i = i4(i8(h, LAPS), k)
        if i < i8(ints, MOVABLE) and i4(marks, i) == 0:
            set_i4(marks, i, 1)
            set_i4(order, n, i)
            n += 1
    for k in range(n - 1, 0, -1):
        other = below(h, k + 1)
        i = i4(order, k)
        set_i4(order, k, i4(order, other))
        set_i4(order, other, i)
    for k in range(n):
        i = i4(order, k)
        set_i4(marks, i, 0)
        move(h, i)


@compiled
def begin(h):
    """Start of a separation: weights forgotten, pieces pushed apart."""
    ints, reals = i8(h, INTS), i8(h, REALS)
    forget_weights(h)
    for _ in range(i8(ints, PUSHES)):
        if push_apart(h) <= 0.0:
            break
    set_f8(reals, LEAST, 1e300)
    set_f8(reals, LANDMARK, 1e300)
    set_f8(reals, AT_STRIKE, 1e300)
    set_i8(ints, SINCE, 0)
    set_i8(ints, STRIKES, 0)
    set_i8(ints, STAGE, 1)


@compiled
def give_up(h):
    """End a separation at the least overlap seen."""
    restore(h)
    set_i8(i8(h, INTS), STAGE, 0)
    return FAILED


@compiled
def separate(h):
    """Move pieces until none overlap within the strip's length: SEPARATED, FAILED or PAUSED.

    Guided local search: pairs that stay in each other grow heavier until something gives.
    Called again after a pause, it goes on where it was.
    """
    ints, reals = i8(h, INTS), i8(h, REALS)
    if i8(ints, STAGE) == 0:
        begin(h)
    while True:
        if i8(i8(h, STOP), 0) != 0 or i8(ints, COUNT) >= i8(ints, LIMIT):
            return PAUSED
        many, total, deepest = list_laps(h, f8(reals, TOLERANCE))
        if many == 0:
            set_i8(ints, STAGE, 0)
            return SEPARATED
        set_i8(ints, SINCE, i8(ints, SINCE) + 1)
        if total < f8(reals, LEAST):
            set_f8(reals, LEAST, total)
            save(h)
            if total < 0.98 * f8(reals, LANDMARK):
                set_f8(reals, LANDMARK, total)
                set_i8(ints, SINCE, 0)
        if i8(ints, COUNT) >= i8(ints, CAP):
            return give_up(h)
        if i8(ints, SINCE) >= i8(ints, ROUNDS_MOST):
            set_i8(ints, STRIKES, i8(ints, STRIKES) + 1)
            gained = f8(reals, LEAST) < 0.98 * f8(reals, AT_STRIKE)
            if not gained or i8(ints, STRIKES) >= i8(ints, STRIKES_MOST):
                return give_up(h)
            set_f8(reals, AT_STRIKE, f8(reals, LEAST))
            set_i8(ints, SINCE, 0)
            restore(h)
            many, _, deepest = list_laps(h, f8(reals, TOLERANCE))
        reweigh(h, many, deepest)
        move_lapping(h, many)


# ---------------------------------------------------------------- a first layout


@compiled
def settle(h, i, v, x, y):
    """Slide a piece that lies free down and to the left by halving steps."""
    size = size_of(h, v)
    for _ in range(3):
        step = size
        while step > 0.001 * size:
            ny = held_y(h, v, y - step)
            if ny < y and cost(h, i, v, x, ny, 1e-300) <= 0.0:
                y = ny
            else:
                step *= 0.5
        step = size
        while step > 0.001 * size:
            nx = held_x(h, v, x - step)
            if nx < x and cost(h, i, v, nx, y, 1e-300) <= 0.0:
                x = nx
            else:
                step *= 0.5
    return x, y


@compiled
def lay_first(h, i, tries, high):
    """Lay piece i, which is in no hash yet, at the lowest of random free places below `high`.

    Returns the top of the piece.
    """
    first, kinds = i4(i8(h, KINDS), 2 * i), i4(i8(h, KINDS), 2 * i + 1)
    best, bv, bx, by = 1e300, -1, 0.0, 0.0
    lowest = 1e300
    k = 0
    while k < tries or bv < 0:
        k += 1
        v = first + below(h, kinds)
        room, box = i8(h, ROOMS) + 16 * v, i8(h, BOXES) + 32 * v
        x = f8(room, 0) + uniform(h) * (f8(room, 1) - f8(room, 0))
        y = uniform(h) * high - f8(box, 1)
        if k > tries:  # crowded: ever farther up
            y = high * k / tries - f8(box, 1)
        if y + f8(box, 3) >= lowest or cost(h, i, v, x, y, 1e-300) > 0.0:
            continue
        lowest = y + f8(box, 3)
        x, y = settle(h, i, v, x, y)
        if y + f8(box, 3) < best:
            best, bv, bx, by = y + f8(box, 3), v, x, y
    put(h, i, bv, bx, by)
    return best


@compiled
def lay_all(h, tries):
    """A legal layout from nothing: pieces in the order of ORDER; return its length."""
    ints, reals = i8(h, INTS), i8(h, REALS)
    set_f8(reals, LENGTH, 1e15)
    length = 0.0
    for k in range(i8(ints, MOVABLE)):
        i = i4(i8(h, ORDER), k)
        size = size_of(h, i4(i8(h, KINDS), 2 * i))
        length = max(length, lay_first(h, i, tries, length + 0.5 * size))
    return length
