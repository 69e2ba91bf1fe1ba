"""The compiled heart of the search over boxes: fill a strip gap by gap, anneal the order.

What is filled so far ends in a skyline: stretches of the width, each at its own level. The
lowest gap is filled next, at its left or right end, with the box most of whose sides fit:
one that fills the gap's width, or comes level with a neighbour. Among equals the first in
the order wins, and the order is what the search changes. A gap that nothing fits is lifted
to its lower neighbour, and is waste.

The skyline with a best fit: Burke, Kendall & Whitwell, Oper. Res. 52 (2004) 655-671.
Counting the sides that fit, ties broken by an order that is annealed: after Leung, Zhang &
Sim, EJOR 215 (2011) 57-69 (both from memory; scores, moves and target are our own). We
anneal the area left out of a strip of fixed length, not the length: it tells orders apart
that need the same length, and a filling can be given up as soon as its waste is too much.

Whole units throughout; areas are float64, as they leave int64.
"""

# mypy: disable-error-code="misc, no-untyped-def, no-untyped-call"
# (numba ships no types)

import numpy as np

from nestplan.nest.raw import compiled

ACROSS, ALONG, TURNS, SIDE, FLOOR = range(5)  # columns of kinds: sizes, may lie, kept from ends
COUNT, UNTIL, BEGAN, STAMP, RANDOM = range(5)  # whole numbers of the state
COST, PIECE = range(2)  # areas of the state: what the order leaves out, a box on average
X, Y, LIES = range(3)  # columns of places
PAUSED, PACKED, COOLED = range(3)

ROUNDED = 1e-9  # areas add up this well
HOT, COLD = 0.1, 0.01  # temperatures, in areas of a mean box
ATTEMPT = 10_000_000  # evaluations from hot to cold
TWICE = 0.2  # of the moves are made of two
FLIPS, SWAPS = 0.15, 0.6  # of the moves turn a box over first; up to here they swap two


@compiled
def uniform(state):
    """The next random number in [0, 1)."""
    s = np.uint64(state[RANDOM])
    s ^= s << np.uint64(13)
    s ^= s >> np.uint64(7)
    s ^= s << np.uint64(17)
    state[RANDOM] = np.int64(s)
    return np.float64(s >> np.uint64(11)) * 1.1102230246251565e-16


@compiled
def write(sky, gap, left, level, wide):
    """One stretch of the skyline."""
    sky[0, gap], sky[1, gap], sky[2, gap] = left, level, wide


@compiled
def lift(sky, many, gap, start, end, level):
    """Raise [start, end], at one end of a gap or all of it; return how many gaps there are."""
    left, right, low = sky[0, gap], sky[0, gap] + sky[2, gap], sky[1, gap]
    first, after = gap, gap + 1
    before, behind = start > left, end < right
    if not before and gap > 0 and sky[1, gap - 1] == level:
        first, start = gap - 1, sky[0, gap - 1]
    if not behind and after < many and sky[1, after] == level:
        end = sky[0, after] + sky[2, after]
        after += 1
    grows = 1 + before + behind - (after - first)
    if grows > 0:
        for i in range(many - 1, after - 1, -1):
            write(sky, i + grows, sky[0, i], sky[1, i], sky[2, i])
    elif grows < 0:
        for i in range(after, many):
            write(sky, i + grows, sky[0, i], sky[1, i], sky[2, i])
    if before:
        write(sky, first, left, low, start - left)
        first += 1
    write(sky, first, start, level, end - start)
    if behind:
        write(sky, first + 1, end, low, right - end)
    return many + grows


@compiled
def walls(sky, many, gap, long):
    """How far the skyline rises left and right of a gap; the ends of the strip rise to its top."""
    low = sky[1, gap]
    left = (sky[1, gap - 1] if gap > 0 else long) - low
    right = (sky[1, gap + 1] if gap < many - 1 else long) - low
    return left, right


@compiled
def fit(kind, lies, gap, wide, long):
    """A box in a gap (left, right, low): ends of the free part of the gap, its foot and level.

    kind: a row of kinds. At the left end the box reaches the first, at the right end it begins
    at the second; both are the gap's own where it fills the gap. A foot of -1: it does not fit.
    """
    left, right, low = gap
    across, along = kind[lies], kind[1 - lies]
    start, end = max(left, kind[SIDE]), min(right, wide - kind[SIDE])
    foot = max(low, kind[FLOOR])
    level = foot + along
    if across > end - start or level > long - kind[FLOOR]:
        return left, right, -1, level
    if level == long - kind[FLOOR]:
        level = long
    if across == end - start:
        return right, left, foot, level
    return start + across, end - across, foot, level


@compiled
def choose(kinds, order, head, gap, rises, wide, long, state, links, seen, places):
    """The box for a gap, entered in places: its entry and the one before, its stretch and level.

    Most sides that fit win, filling the gap counting for two; then the first in the order.
    """
    left, right, low = gap
    n, stamp = len(order), state[STAMP] + 1
    state[STAMP] = stamp
    best, chosen, before = -1, -1, -1
    from_x, to_x, new = left, right, low
    previous, k = -1, head
    while k < n and best < 4:
        code = order[k]
        state[COUNT] += 1
        if seen[code] != stamp:
            seen[code] = stamp
            kind = kinds[code >> 1]
            for turn in range(1 + kind[TURNS]):
                lies = (code & 1) ^ turn
                free_from, free_to, foot, level = fit(kind, lies, gap, wide, long)
                if foot < 0:
                    continue
                meets_left, meets_right = level - low == rises[0], level - low == rises[1]
                fills = free_from == right
                score = 2 + meets_left + meets_right
                if not fills:
                    score = int(meets_left or meets_right)
                if score <= best:
                    continue
                best, chosen, before, new = score, k, previous, level
                from_x, to_x, x = left, free_from, max(left, kind[SIDE])
                if meets_right and not meets_left and not fills:
                    from_x, to_x, x = free_to, right, free_to
                places[k, X], places[k, Y], places[k, LIES] = x, foot, lies
        previous, k = k, links[k]
    return chosen, before, from_x, to_x, new


@compiled
def area(kind):
    """Of a box, as float64."""
    return float(kind[ACROSS]) * float(kind[ALONG])


@compiled
def fill(kinds, order, wide, long, most_out, state, sky, links, seen, places):
    """Fill a strip; returns the area of the boxes left out, 0 for none, > most_out if too much.

    order:  kind * 2 + (1 if it is first tried lying). state, links (n,), seen (2 k,), sky
            (3, n + 3): memory to work in. most_out may be inf.
    places: written, a row for each entry of the order, of use where nothing is left out.
    """
    n = len(order)
    out = 0.0
    for k in range(n):
        out += area(kinds[order[k] >> 1])
        links[k] = k + 1
    spare = float(wide) * float(long) - out
    most_waste = spare + most_out + ROUNDED * out
    write(sky, 0, 0, 0, wide)
    many, head, waste = 1, 0, 0.0
    while head < n and waste <= most_waste:
        gap = 0
        for i in range(1, many):
            if sky[1, i] < sky[1, gap]:
                gap = i
        left, low, right = sky[0, gap], sky[1, gap], sky[0, gap] + sky[2, gap]
        rises = walls(sky, many, gap, long)
        chosen, before, start, end, level = choose(
            kinds, order, head, (left, right, low), rises, wide, long, state, links, seen, places
        )
        if chosen >= 0:
            if before < 0:
                head = links[chosen]
            else:
                links[before] = links[chosen]
            placed = area(kinds[order[chosen] >> 1])
            out -= placed
            waste += float(end - start) * float(level - low) - placed
        elif many > 1:
            start, end, level = left, right, low + min(rises)
            waste += float(end - start) * float(level - low)
        else:
            break
        many = lift(sky, many, gap, start, end, level)
    if head >= n:
        return 0.0
    return max(out, waste - spare)


@compiled
def disturb(order, kinds, state):
    """Change an order a little: turn one over, swap two, or move one to another place."""
    n = len(order)
    for _ in range(1 + int(uniform(state) < TWICE)):
        i, j = int(uniform(state) * n), int(uniform(state) * n)
        which = uniform(state)
        if which < FLIPS and kinds[order[i] >> 1, TURNS]:
            order[i] ^= 1
        elif which < SWAPS:
            order[i], order[j] = order[j], order[i]
        else:
            moved = order[i]
            for k in range(i, j):
                order[k] = order[k + 1]
            for k in range(i, j, -1):
                order[k] = order[k - 1]
            order[j] = moved


@compiled
def anneal(kinds, order, trial, wide, long, state, areas, sky, links, seen, places):
    """Look for an order that leaves nothing out: PACKED (trial is it), COOLED or PAUSED."""
    while state[COUNT] < state[UNTIL]:
        share = (state[COUNT] - state[BEGAN]) / ATTEMPT
        if share >= 1.0:
            return COOLED
        trial[:] = order
        disturb(trial, kinds, state)
        warmth = areas[PIECE] * HOT * (COLD / HOT) ** share
        most = areas[COST] - warmth * np.log(uniform(state) + 1e-300)
        cost = fill(kinds, trial, wide, long, most, state, sky, links, seen, places)
        if cost == 0.0:
            return PACKED
        if cost <= most:
            areas[COST] = cost
            order[:] = trial
    return PAUSED
