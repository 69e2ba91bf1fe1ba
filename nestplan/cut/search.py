"""The whole way of a frame searched: order and starts together, what must come first kept.

Iterated local search. Two neighbouring stretches of the way change places (a double bridge
kept small) or a ring begins elsewhere; then whatever lies near is put right again: stretches
turned round, up to three rings put elsewhere, one ring taken out and put in again wherever and
at whichever of its points it costs least. A way that has grown is taken back. Starts are
made best for the order, all together, by a shortest path through the rings' points. The
same rings, kicks and seed give the same way. Compiled.
"""

# mypy: disable-error-code="misc, no-untyped-def, no-untyped-call"
# (numba ships no types; every array here is int64 or float64)

from math import sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from nestplan.cut.neighbours import NOBODY, compiled
from nestplan.cut.shorten import (
    GAIN_MM,
    Rules,
    _carry,
    _leg,
    _may_carry,
    _put_elsewhere,
    _turn_round,
)

NEAR_RINGS = 12  # neighbours tried for each ring
POINTS_MOST = 48  # of a ring, in the search; the best of all of them is taken at the end
LOOKED_AT = 24  # nearest points of others that are looked at for each point of a ring
STRETCH_MOST = 40  # rings in a stretch that changes its place
KICKS_PER_RING, KICKS_MOST = 50, 20_000


def searched(
    origin: NDArray[np.float64],
    points: NDArray[np.float64],
    first: NDArray[np.int64],
    order: NDArray[np.int64],
    start: NDArray[np.int64],
    rules: Rules,
    *,
    leave: NDArray[np.float64] | None = None,
    seed: int = 1,
    kicks: int | None = None,
    closed: bool = False,
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """A way through m rings, never longer than the one given, that keeps the rules.

    origin: (2,) where the knife comes from. points: (n, 2) where rings may begin.
    first:  (m + 1,) ring r has points[first[r] : first[r + 1]].
    order:  (m,) a way that keeps the rules; start: (m,) index into points, by ring.
    rules:  rank and after, (m,) each, of the rings. closed: the way leads back to the origin.
    leave:  (n, 2) where the knife is lifted again, by point; absent: where it was put down.
    returns: order (m,) and start (m,).
    """
    rings = len(order)
    leave = points if leave is None else leave
    if rings < 2:
        return order.copy(), best_starts(origin, points, first, order, leave=leave, closed=closed)
    kept, few_first, few_start = _thinned(first, start)
    few, few_leave = points[kept], leave[kept]
    near = np.full((rings + 2, NEAR_RINGS), NOBODY, np.int64)
    near[:rings] = near_rings(few, few_first)
    start_from = KDTree(few).query(origin, k=min(LOOKED_AT, len(few)))[1]
    owner = np.repeat(np.arange(rings), np.diff(few_first))
    nearest = list(dict.fromkeys(owner[np.atleast_1d(start_from)].tolist()))[:NEAR_RINGS]
    near[rings, : len(nearest)] = nearest
    way = np.concatenate([[rings], order, [rings + 1]]).astype(np.int64)
    ranks = np.concatenate([rules.rank, [rules.rank.min() - 1, rules.rank.max() + 1]])
    after = np.concatenate([rules.after, [NOBODY, NOBODY]])
    one_way = np.concatenate([rules.one_way, [False, False]])
    held = Rules(ranks.astype(np.int64), after.astype(np.int64), bool(rules.nested), one_way)
    ends = np.tile(origin, 2)
    places = np.vstack([np.hstack([few[few_start], few_leave[few_start]]), ends, ends])
    free = NOBODY if closed else rings + 1
    many = min(KICKS_PER_RING * rings, KICKS_MOST) if kicks is None else kicks
    boxes = np.column_stack(
        [np.minimum.reduceat(few, few_first[:-1]), np.maximum.reduceat(few, few_first[:-1])]
    )
    both = np.hstack([few, few_leave])
    _search(places, both, few_first, boxes, few_start, way, near, free, held, many, seed)
    found = way[1:-1].copy()
    return found, best_starts(origin, points, first, found, leave=leave, closed=closed)


def near_rings(points: NDArray[np.float64], first: NDArray[np.int64]) -> NDArray[np.int64]:
    """Rings (m, NEAR_RINGS) that have a point nearest to one of each ring's, nearest first."""
    rings = len(first) - 1
    owner = np.repeat(np.arange(rings), np.diff(first))
    near = np.full((rings, NEAR_RINGS), NOBODY, np.int64)
    if rings < 2:
        return near
    spare = int(np.diff(first).max())  # a ring's own points lie nearest to each other
    tree, looked = KDTree(points), min(LOOKED_AT + min(spare, POINTS_MOST), len(points))
    away, which = tree.query(points, k=looked)
    for ring in range(rings):
        rows = slice(first[ring], first[ring + 1])
        others, gaps = owner[which[rows]].ravel(), away[rows].ravel()
        ranked = others[np.argsort(gaps, kind="stable")]
        ranked = ranked[ranked != ring]
        _, firsts = np.unique(ranked, return_index=True)
        found = ranked[np.sort(firsts)][:NEAR_RINGS]
        near[ring, : len(found)] = found
    return near


def best_starts(
    origin: NDArray[np.float64],
    points: NDArray[np.float64],
    first: NDArray[np.int64],
    order: NDArray[np.int64],
    *,
    leave: NDArray[np.float64] | None = None,
    closed: bool = False,
) -> NDArray[np.int64]:
    """The starts (m,) that make the way in this order shortest: a shortest path, exact."""
    leave = points if leave is None else leave
    return _best_starts(origin, points, leave, first, order, closed)  # type: ignore[no-any-return]


def _thinned(
    first: NDArray[np.int64], start: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Which points to try, at most POINTS_MOST of each ring, the present start among them."""
    kept, starts, count = [], [], [0]
    for ring, begin in enumerate(start.tolist()):
        low, high = int(first[ring]), int(first[ring + 1])
        steps = (
            np.arange(min(high - low, POINTS_MOST)) * (high - low) // min(high - low, POINTS_MOST)
        )
        kept.append(low + np.unique((steps + begin - low) % (high - low)))
        starts.append(count[-1] + int(np.searchsorted(kept[-1], begin)))
        count.append(count[-1] + len(kept[-1]))
    return np.concatenate(kept), np.array(count), np.array(starts)


@compiled
def _best_starts(origin, points, leave, first, order, closed):
    rings = len(order)
    best = np.empty(len(points))
    came = np.empty(len(points), np.int64)
    for k in range(rings):
        ring = order[k]
        for p in range(first[ring], first[ring + 1]):
            if k == 0:
                best[p] = sqrt((points[p, 0] - origin[0]) ** 2 + (points[p, 1] - origin[1]) ** 2)
                continue
            before, least, which = order[k - 1], np.inf, -1
            for q in range(first[before], first[before + 1]):
                way = best[q] + sqrt(
                    (points[p, 0] - leave[q, 0]) ** 2 + (points[p, 1] - leave[q, 1]) ** 2
                )
                if way < least:
                    least, which = way, q
            best[p], came[p] = least, which
    last, least, which = order[rings - 1], np.inf, -1
    for p in range(first[last], first[last + 1]):
        way = best[p]
        if closed:
            way += sqrt((leave[p, 0] - origin[0]) ** 2 + (leave[p, 1] - origin[1]) ** 2)
        if way < least:
            least, which = way, p
    start = np.empty(len(first) - 1, np.int64)
    for k in range(rings - 1, -1, -1):
        start[order[k]] = which
        which = came[which] if k > 0 else which
    return start


@compiled
def _search(places, points, first, boxes, start, way, near, free, rules, kicks, seed):
    """Improve way, start and places in place."""
    stops = len(way)
    at = np.empty(stops, np.int64)
    for k in range(stops):
        at[way[k]] = k
    queue, waiting = np.empty(stops, np.int64), np.zeros(stops, np.bool_)
    touched, gain = np.empty(6, np.int64), np.zeros(1)
    head_count = np.zeros(2, np.int64)
    for k in range(stops):
        _push(queue, waiting, head_count, way[k])
    _settle(
        places,
        points,
        first,
        boxes,
        start,
        way,
        at,
        near,
        free,
        rules,
        queue,
        waiting,
        head_count,
        touched,
        gain,
    )
    old_way, old_at, old_start, old_places = way.copy(), at.copy(), start.copy(), places.copy()
    state = np.array([seed * 2654435761 % 2147483647 + 1], np.int64)
    for _ in range(kicks if stops > 4 else 0):
        gain[0] = 0.0
        if _random(state, 8) == 0:
            kicked = _start_elsewhere(
                places, points, first, start, way, at, free, state, touched, gain
            )
        else:
            kicked = _change_places(places, way, at, free, rules, state, touched, gain)
        if kicked == 0:
            continue
        for k in range(kicked):
            _push(queue, waiting, head_count, touched[k])
        _settle(
            places,
            points,
            first,
            boxes,
            start,
            way,
            at,
            near,
            free,
            rules,
            queue,
            waiting,
            head_count,
            touched,
            gain,
        )
        if gain[0] < -GAIN_MM:  # longer: take it back
            way[:], at[:], start[:], places[:] = old_way, old_at, old_start, old_places
        else:
            old_way[:], old_at[:], old_start[:], old_places[:] = way, at, start, places


@compiled
def _random(state, below):
    """The next number of a linear congruence (Park and Miller 1988), 0 .. below - 1."""
    state[0] = state[0] * 16807 % 2147483647
    return state[0] % below


@compiled
def _push(queue, waiting, head_count, stop):
    if not waiting[stop]:
        queue[(head_count[0] + head_count[1]) % len(queue)] = stop
        waiting[stop] = True
        head_count[1] += 1


@compiled
def _settle(
    places,
    points,
    first,
    boxes,
    start,
    way,
    at,
    near,
    free,
    rules,
    queue,
    waiting,
    head_count,
    touched,
    gain,
):
    """Try every waiting stop until nothing near helps."""
    while head_count[1] > 0:
        stop = queue[head_count[0]]
        head_count[0] = (head_count[0] + 1) % len(queue)
        head_count[1] -= 1
        waiting[stop] = False
        changed = 0
        if stop < len(first) - 1:
            changed = _begin_better(
                places, points, first, start, way, at, free, stop, touched, gain
            )
        if changed == 0:
            changed = _turn_round(places, way, at, near, free, rules, stop, touched, gain)
        if changed == 0:
            changed = _put_elsewhere(places, way, at, near, free, rules, stop, touched, gain)
        if changed == 0 and stop < len(first) - 1:
            changed = _put_in_again(
                places, points, first, boxes, start, way, at, near, free, rules, stop, touched, gain
            )
        for k in range(changed):
            _push(queue, waiting, head_count, touched[k])


@compiled
def _by_way_of(places, free, before, points, p, onward):
    """How long it is from one stop to another by way of a ring that begins at point p."""
    way = 0.0
    if before != free:
        x, y = places[before, 2], places[before, 3]
        way += sqrt((x - points[p, 0]) ** 2 + (y - points[p, 1]) ** 2)
    if onward != free:
        x, y = places[onward, 0], places[onward, 1]
        way += sqrt((x - points[p, 2]) ** 2 + (y - points[p, 3]) ** 2)
    return way


@compiled
def _begin_at(places, points, start, stop, p):
    start[stop] = p
    for k in range(4):
        places[stop, k] = points[p, k]


@compiled
def _begin_better(places, points, first, start, way, at, free, stop, touched, gain):
    """Begin the ring at the point that suits its two neighbours on the way."""
    before, onward = way[at[stop] - 1], way[at[stop] + 1]
    now = _by_way_of(places, free, before, places, stop, onward)
    best, least = -1, now - GAIN_MM
    for p in range(first[stop], first[stop + 1]):
        length = _by_way_of(places, free, before, points, p, onward)
        if length < least:
            best, least = p, length
    if best < 0:
        return 0
    gain[0] += now - least
    _begin_at(places, points, start, stop, best)
    touched[0], touched[1], touched[2] = before, onward, stop
    return 3


@compiled
def _to_box(places, free, stop, end, boxes, ring):
    """No point of the ring is nearer to the stop's begin (end 0) or its end (2) than this."""
    if stop == free:
        return 0.0
    x, y = places[stop, end], places[stop, end + 1]
    across = max(boxes[ring, 0] - x, x - boxes[ring, 2], 0.0)
    along = max(boxes[ring, 1] - y, y - boxes[ring, 3], 0.0)
    return sqrt(across**2 + along**2)


@compiled
def _put_in_again(
    places, points, first, boxes, start, way, at, near, free, rules, stop, touched, gain
):
    """Take one ring out and put it in elsewhere, begun wherever that costs least."""
    here, last = at[stop], len(way) - 1
    before, onward = way[here - 1], way[here + 1]
    removed = (
        _leg(places, free, before, stop)
        + _leg(places, free, stop, onward)
        - _leg(places, free, before, onward)
    )
    if removed <= GAIN_MM:
        return 0
    for k in range(near.shape[1]):
        beside = near[stop, k]
        if beside == NOBODY:
            break
        for side in range(2):
            gap = at[beside] - side
            if gap < 0 or gap >= last or gap == here or gap == here - 1:
                continue
            one, other = way[gap], way[gap + 1]
            least = removed + _leg(places, free, one, other) - GAIN_MM
            if _to_box(places, free, one, 2, boxes, stop) + _to_box(
                places, free, other, 0, boxes, stop
            ) >= least or not _may_carry(way, at, rules, here, here, gap, False):
                continue
            best = -1
            for p in range(first[stop], first[stop + 1]):
                length = _by_way_of(places, free, one, points, p, other)
                if length < least:
                    best, least = p, length
            if best < 0:
                continue
            gain[0] += removed + _leg(places, free, one, other) - least
            _carry(places, way, at, here, here, gap, False)
            _begin_at(places, points, start, stop, best)
            touched[0], touched[1], touched[2] = before, onward, stop
            touched[3], touched[4] = one, other
            return 5
    return 0


@compiled
def _start_elsewhere(places, points, first, start, way, at, free, state, touched, gain):
    """Kick: one ring begins at any of its points; its neighbours answer first."""
    stop = way[1 + _random(state, len(way) - 2)]
    p = first[stop] + _random(state, first[stop + 1] - first[stop])
    before, onward = way[at[stop] - 1], way[at[stop] + 1]
    gain[0] += _by_way_of(places, free, before, places, stop, onward)
    gain[0] -= _by_way_of(places, free, before, points, p, onward)
    _begin_at(places, points, start, stop, p)
    touched[0], touched[1], touched[2] = before, onward, stop
    return 3


@compiled
def _change_places(places, way, at, free, rules, state, touched, gain):
    """Kick: two stretches that follow each other change places, where the rules let them."""
    last = len(way) - 1
    low = 1 + _random(state, last - 2)
    middle = low + 1 + _random(state, min(STRETCH_MOST, last - 1 - low))
    high = middle + _random(state, min(STRETCH_MOST, last - middle))
    before, onward = way[low - 1], way[high + 1]
    if not _may_carry(way, at, rules, low, middle - 1, high, False):
        return 0
    if rules.rank[way[middle]] != rules.rank[way[high]]:
        return 0
    touched[0], touched[1], touched[2] = before, way[low], way[middle - 1]
    touched[3], touched[4], touched[5] = way[middle], way[high], onward
    gain[0] += (
        _leg(places, free, before, way[low])
        + _leg(places, free, way[middle - 1], way[middle])
        + _leg(places, free, way[high], onward)
        - _leg(places, free, before, way[middle])
        - _leg(places, free, way[high], way[low])
        - _leg(places, free, way[middle - 1], onward)
    )
    _carry(places, way, at, low, middle - 1, high, False)
    return 6
