"""Compiled: the greatest error of a set of marks, and the swaps that lower it.

A set is looked at place by place, those first that were worst before, and given up as soon as
one place is worse than what is to be beaten: most swaps cost one place.
"""

# mypy: disable-error-code="misc, no-untyped-def, no-untyped-call"
# (numba ships no types; rows are int64, all else float64)

from typing import Any

import numpy as np
from numba import njit

compiled: Any = njit(cache=True, nogil=True)

TINY = 1e-11  # of a pivot: the fit is not determined
BETTER = 1e-7  # a swap must gain this share


@compiled
def carried(marks, chosen):
    """(p, 2N) M^-1 J' of a set; its first entry is NaN where the fit is not determined."""
    n, p = len(chosen), marks.shape[2]
    info = np.zeros((p, p))
    for i in chosen:
        for a in range(2):
            for q in range(p):
                v = marks[i, a, q]
                if v != 0.0:
                    for r in range(q + 1):
                        info[q, r] += v * marks[i, a, r]
    out = np.empty((p, 2 * n))
    for q in range(p):  # Cholesky in place
        before = info[q, q]
        for r in range(q + 1):
            s = info[q, r]
            for k in range(r):
                s -= info[q, k] * info[r, k]
            if q == r:
                if s <= TINY * before or s <= 0.0:
                    out[0, 0] = np.nan
                    return out
                info[q, q] = np.sqrt(s)
            else:
                info[q, r] = s / info[r, r]
    for m in range(n):
        for a in range(2):
            c = 2 * m + a
            for q in range(p):
                s = marks[chosen[m], a, q]
                for k in range(q):
                    s -= info[q, k] * out[k, c]
                out[q, c] = s / info[q, q]
            for q in range(p - 1, -1, -1):
                s = out[q, c]
                for k in range(q + 1, p):
                    s -= info[k, q] * out[k, c]
                out[q, c] = s / info[q, q]
    return out


@compiled
def greatest(marks, places, second, cross, own, chosen, order, stop):
    """The greatest mean square error, or the first found over `stop`; that place is moved to
    the front of `order`. Infinite where the fit is not determined.
    """
    n, p = len(chosen), marks.shape[2]
    solved = carried(marks, chosen)
    if np.isnan(solved[0, 0]):
        return np.inf
    half = np.zeros((p, 2 * n))
    for q in range(p):
        for m in range(n):
            for a in range(2):
                v = solved[q, 2 * m + a]
                if v != 0.0:
                    row = second[2 * chosen[m] + a]
                    for j in range(n):
                        half[q, 2 * j] += v * row[2 * chosen[j]]
                        half[q, 2 * j + 1] += v * row[2 * chosen[j] + 1]
    spread = np.zeros((p, p))
    for q in range(p):
        for r in range(q + 1):
            s = 0.0
            for c in range(2 * n):
                s += half[q, c] * solved[r, c]
            spread[q, r] = s
            spread[r, q] = s
    most = 0.0
    for k in range(len(order)):
        place = order[k]
        here = own[place]
        for a in range(2):
            for q in range(p):
                v = places[place, a, q]
                if v == 0.0:
                    continue
                for r in range(p):
                    here += v * spread[q, r] * places[place, a, r]
                s = 0.0
                for j in range(n):
                    s += solved[q, 2 * j] * cross[place, a, 2 * chosen[j]]
                    s += solved[q, 2 * j + 1] * cross[place, a, 2 * chosen[j] + 1]
                here -= 2.0 * v * s
        if here > most:
            most = here
            if here > stop:
                for back in range(k, 0, -1):
                    order[back] = order[back - 1]
                order[0] = place
                return here
    return most


@compiled
def keeps(at, edge, chosen, spacing, apart, alike, places_but):
    """Whether a set keeps the rules; the marks at two positions in it are the new ones."""
    n = len(chosen)
    for k in places_but:
        if k < 0:
            continue
        for m in range(n):
            if m != k:
                dx = at[chosen[m], 0] - at[chosen[k], 0]
                dy = at[chosen[m], 1] - at[chosen[k], 1]
                if chosen[m] == chosen[k] or dx * dx + dy * dy < apart * apart:
                    return False
    number = np.zeros(3, dtype=np.int64)
    for m in range(n):
        mine = edge[chosen[m]]
        number[mine] += 1
        if mine == 2:
            continue
        here = at[chosen[m], 1]
        after, last = np.inf, True
        for j in range(n):
            if j != m and edge[chosen[j]] == mine:
                there = at[chosen[j], 1]
                if there > here or (there == here and j > m):
                    last = False
                    after = min(after, there - here)
        if not last and after > spacing:
            return False
    return not alike or number[0] == number[1]


@compiled
def single_swap(marks, places, second, cross, own, at, edge, rules, held, chosen, order, best):
    """Carry out the best swap of one mark in `chosen`; the new greatest error, or `best`."""
    trial = chosen.copy()
    spacing, apart, alike = rules[0], rules[1], rules[2] > 0
    found, where, row = best, -1, -1
    but = np.array([-1, -1])
    for m in range(len(chosen)):
        if held[chosen[m]]:
            continue
        but[0] = m
        for c in range(at.shape[0]):
            if c == chosen[m]:
                continue
            trial[m] = c
            if not keeps(at, edge, trial, spacing, apart, alike, but):
                continue
            stop = found * (1.0 - BETTER)
            here = greatest(marks, places, second, cross, own, trial, order, stop)
            if here < stop:
                found, where, row = here, m, c
        trial[m] = chosen[m]
    if where >= 0:
        chosen[where] = row
    return found


@compiled
def double_swap(marks, places, second, cross, own, at, edge, rules, held, chosen, order, best):
    """Carry out the first swap of two marks that lowers the greatest error; or `best`."""
    trial = chosen.copy()
    spacing, apart, alike = rules[0], rules[1], rules[2] > 0
    but = np.array([-1, -1])
    stop = best * (1.0 - BETTER)
    for m in range(len(chosen)):
        if held[chosen[m]]:
            continue
        for k in range(m + 1, len(chosen)):
            if held[chosen[k]]:
                continue
            but[0], but[1] = m, k
            for c in range(at.shape[0]):
                trial[m] = c
                for d in range(at.shape[0]):
                    trial[k] = d
                    if not keeps(at, edge, trial, spacing, apart, alike, but):
                        continue
                    here = greatest(marks, places, second, cross, own, trial, order, stop)
                    if here < stop:
                        chosen[m], chosen[k] = c, d
                        return here
            trial[m], trial[k] = chosen[m], chosen[k]
    return best


@compiled
def added(marks, places, second, cross, own, at, edge, rules, chosen, order):
    """The row whose mark, added to a set, leaves the least greatest error; -1: none may be."""
    trial = np.append(chosen, 0)
    last = len(chosen)
    but = np.array([last, -1])
    found, row = np.inf, -1
    for c in range(at.shape[0]):
        trial[last] = c
        if keeps(at, edge, trial, rules[0], rules[1], False, but):
            here = greatest(marks, places, second, cross, own, trial, order, found)
            if here < found:
                found, row = here, c
    return found, row


@compiled
def swaps_below(
    marks, places, second, cross, own, at, edge, rules, held, chosen, order, stop, most
):
    """At most so many swaps of one or two marks that leave less than `stop`: rows (n, 5) of the
    two positions in the set, the two new candidates (-1: none) and the error left.
    """
    trial = chosen.copy()
    spacing, apart, alike = rules[0], rules[1], rules[2] > 0
    but = np.array([-1, -1])
    found = np.empty((most, 5))
    number = 0
    for m in range(len(chosen)):
        if held[chosen[m]]:
            continue
        for k in range(m, len(chosen)):  # k = m: one mark alone
            if held[chosen[k]]:
                continue
            but[0], but[1] = m, k if k > m else -1
            for c in range(at.shape[0]):
                trial[m] = c
                for d in range(at.shape[0] if k > m else 1):
                    if k > m:
                        trial[k] = d
                    if not keeps(at, edge, trial, spacing, apart, alike, but):
                        continue
                    here = greatest(marks, places, second, cross, own, trial, order, stop)
                    if here < stop:
                        found[number, 0], found[number, 1] = m, k if k > m else -1
                        found[number, 2], found[number, 3] = c, d if k > m else -1
                        found[number, 4] = here
                        number += 1
                        if number == most:
                            return found
            trial[m], trial[k] = chosen[m], chosen[k]
    return found[:number]
