"""A way through points made shorter: stretches turned round (2-opt), or put elsewhere (or-opt).

2-opt (Croes 1958, Operations Research 6(6), 791-812) replaces two legs of the way by two
shorter ones; or-opt (Or 1976, thesis, Northwestern University) moves one to three
neighbouring stops. Only places near to a stop are tried, and stops whose surroundings
have not changed are not tried again. (Both references from memory.) Compiled.
"""

# mypy: disable-error-code="misc, no-untyped-def, no-untyped-call"
# (numba ships no types; every array here is int64 or float64)

from math import sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from nestplan.cut.neighbours import NOBODY, compiled, near_lists

NEAR = 10  # neighbours tried for each stop
MOVED_MOST = 3  # stops that or-opt carries together
MOVES_PER_STOP = 50  # a limit that no job reaches, so that no job can run for ever
GAIN_MM = 1e-7  # a smaller gain is rounding, and could go round in circles


class Rules(NamedTuple):
    """What must come before what. All arrays have a row for every stop of the way.

    rank:    stops of a lower rank come first.
    after:   the stop that may only come later than this one, or NOBODY.
    nested:  whether any stop has one.
    one_way: stops that are never run the other way round.
    """

    rank: NDArray[np.int64]
    after: NDArray[np.int64]
    nested: bool
    one_way: NDArray[np.bool_]


def free_rules(stops: int) -> Rules:
    """Stops that may come in any order, between a first and a last one that stay."""
    alike, none = np.zeros(stops, np.int64), np.full(stops, NOBODY, np.int64)
    return Rules(alike, none, False, np.zeros(stops, np.bool_))


def shortened(
    points: NDArray[np.float64], order: NDArray[np.int64], *, closed: bool = False
) -> NDArray[np.int64]:
    """A way through the same points, never longer.

    points: (n, 2); order: (n,) a permutation; its first stop stays the first.
    closed: the way leads back to the first stop; else it may end anywhere.
    """
    if len(order) < 3:
        return order.copy()
    tail = len(points)  # a stop after the last: the first again, or one that costs nothing
    places = np.vstack([points, points[order[0]]])
    way = np.append(order, tail).astype(np.int64)
    if closed:
        near = near_lists(places, min(NEAR, tail))
    else:  # the free end is near to nobody
        near = near_lists(points, min(NEAR, tail - 1))
        near = np.vstack([near, np.full_like(near[:1], NOBODY)])
    places = np.hstack([places, places])
    _shorten(places, way, near, NOBODY if closed else tail, free_rules(len(way)))
    return way[:-1]


@compiled
def _leg(places, free, a, b):
    """From where a stop is left to where the next is entered; at the free end it costs nothing.

    places: (n, 4) where each stop is entered (x, y) and left (x, y).
    """
    return _join(places, free, a, False, b, False)


@compiled
def _join(places, free, a, a_turned, b, b_turned):
    """The same where one of them, or both, are run the other way round."""
    if a == free or b == free:
        return 0.0
    i, j = 0 if a_turned else 2, 2 if b_turned else 0
    return sqrt((places[a, i] - places[b, j]) ** 2 + (places[a, i + 1] - places[b, j + 1]) ** 2)


@compiled
def _shorten(places, way, near, free, rules):
    """Improve `way` in place until nothing near helps. First and last stop stay."""
    at = np.empty(len(way), np.int64)
    for k in range(len(way)):
        at[way[k]] = k
    queue = way.copy()  # a ring: stops whose surroundings have changed
    waiting = np.ones(len(way), np.bool_)
    touched, gain = np.empty(6, np.int64), np.zeros(1)
    head, count, moves = 0, len(way), 0
    while count > 0 and moves < MOVES_PER_STOP * len(way):
        stop = queue[head]
        head, count = (head + 1) % len(way), count - 1
        waiting[stop] = False
        changed = _turn_round(places, way, at, near, free, rules, stop, touched, gain)
        if changed == 0:
            changed = _put_elsewhere(places, way, at, near, free, rules, stop, touched, gain)
        moves += changed > 0
        for k in range(changed):
            other = touched[k]
            if not waiting[other]:
                queue[(head + count) % len(way)] = other
                waiting[other] = True
                count += 1


@compiled
def _turn_round(places, way, at, near, free, rules, stop, touched, gain):
    """Turn round the stretch that helps; return how many stops have new neighbours."""
    last, here = len(way) - 1, at[stop]
    for side in (1, -1):
        if here + side < 0 or here + side > last:
            continue
        beside = way[here + side]
        back = side == -1  # then the stretch ends where it begins else: all is mirrored
        leg = _join(places, free, stop, back, beside, back)
        for k in range(near.shape[1]):
            other = near[stop, k]
            if other == NOBODY:
                break
            saved = leg - _join(places, free, stop, back, other, not back)
            if saved <= GAIN_MM:
                break
            there = at[other]
            if there + side < 0 or there + side > last:
                continue
            behind = way[there + side]
            saved += _join(places, free, other, back, behind, back) - _join(
                places, free, beside, not back, behind, back
            )
            if saved <= GAIN_MM:
                continue
            low, high = min(here, there), max(here, there)
            low, high = (low + 1, high) if side == 1 else (low, high - 1)
            if not _may_turn(way, at, rules, low, high):
                continue
            _reverse(places, way, at, low, high)
            gain[0] += saved
            touched[0], touched[1], touched[2], touched[3] = stop, beside, other, behind
            return 4
    return 0


@compiled
def _may_turn(way, at, rules, low, high):
    """Whether way[low .. high] may be run through the other way round."""
    if rules.rank[way[low]] != rules.rank[way[high]]:  # ranks rise along the way
        return False
    for k in range(low, high + 1):
        if rules.one_way[way[k]]:
            return False
    if rules.nested:
        for k in range(low, high):
            later = rules.after[way[k]]
            if later != NOBODY and low <= at[later] <= high:
                return False
    return True


@compiled
def _may_carry(way, at, rules, low, high, gap, turned):
    """Whether way[low .. high] may go between positions gap and gap + 1 of the way as it is."""
    rank = rules.rank[way[low]]
    if rank != rules.rank[way[high]]:
        return False
    if rank < rules.rank[way[gap]] or rank > rules.rank[way[gap + 1]]:
        return False
    if turned and not _may_turn(way, at, rules, low, high):
        return False
    if not rules.nested:
        return True
    if gap > high:
        for k in range(low, high + 1):
            later = rules.after[way[k]]
            if later != NOBODY and high < at[later] <= gap:
                return False
    else:
        for k in range(gap + 1, low):
            later = rules.after[way[k]]
            if later != NOBODY and low <= at[later] <= high:
                return False
    return True


@compiled
def _reverse(places, way, at, low, high):
    for k in range(low, high + 1):
        _turn_stop(places, way[k])
    while low < high:
        way[low], way[high] = way[high], way[low]
        at[way[low]], at[way[high]] = low, high
        low += 1
        high -= 1
    if low == high:
        at[way[low]] = low


@compiled
def _turn_stop(places, stop):
    """Enter a stop where it was left, and leave it where it was entered."""
    x, y = places[stop, 0], places[stop, 1]
    places[stop, 0], places[stop, 1] = places[stop, 2], places[stop, 3]
    places[stop, 2], places[stop, 3] = x, y


@compiled
def _put_elsewhere(places, way, at, near, free, rules, stop, touched, gain):
    """Carry a stretch that begins or ends at `stop` to a place beside one of its neighbours."""
    last, here = len(way) - 1, at[stop]
    for stops in range(1, MOVED_MOST + 1):
        for side in (1, -1):
            low = here if side == 1 else here - stops + 1
            high = low + stops - 1
            if low < 1 or high > last - 1:
                continue
            before, after = way[low - 1], way[high + 1]
            other_end = way[high] if side == 1 else way[low]
            removed = (
                _leg(places, free, before, way[low])
                + _leg(places, free, way[high], after)
                - _leg(places, free, before, after)
            )
            for k in range(near.shape[1]):
                beside = near[stop, k]
                if beside == NOBODY:
                    break
                there = at[beside]
                if low <= there <= high:
                    continue
                for onward in (1, -1):
                    if there + onward < 0 or there + onward > last:
                        continue
                    if low <= there + onward <= high:
                        continue  # the stretch stands there already
                    behind = way[there + onward]
                    turned = side != onward  # `stop` comes first where it follows `beside`
                    back = onward == -1
                    saved = (
                        removed
                        - _join(places, free, beside, back, stop, turned != back)
                        - _join(places, free, other_end, turned != back, behind, back)
                        + _join(places, free, beside, back, behind, back)
                    )
                    if saved <= GAIN_MM:
                        continue
                    gap = min(there, there + onward)
                    if not _may_carry(way, at, rules, low, high, gap, turned):
                        continue
                    _carry(places, way, at, low, high, gap, turned)
                    gain[0] += saved
                    touched[0], touched[1], touched[2] = before, after, stop
                    touched[3], touched[4], touched[5] = other_end, beside, behind
                    return 6
    return 0


@compiled
def _carry(places, way, at, low, high, gap, turned):
    """Move way[low .. high] between positions gap and gap + 1 of the way as it was."""
    stops = high - low + 1
    held = way[low : high + 1].copy()
    if turned:
        held = held[::-1].copy()
        for k in range(stops):
            _turn_stop(places, held[k])
    if gap > high:
        for k in range(low, gap - stops + 1):
            way[k] = way[k + stops]
            at[way[k]] = k
        start = gap - stops + 1
    else:
        for k in range(high, gap + stops, -1):
            way[k] = way[k - stops]
            at[way[k]] = k
        start = gap + 1
    for k in range(stops):
        way[start + k] = held[k]
        at[held[k]] = start + k
