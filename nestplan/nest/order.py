"""In which order layouts are stacked."""

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

EXACT_MOST = 9  # layouts that every order is weighed for; more are put on nearest first


def shortest_order(steps_mm: NDArray[np.float64]) -> list[int]:
    """The order of all numbers whose steps add up to the least.

    steps_mm: (n, n) from the row's number to the column's; the diagonal is not looked at.
    Exact up to EXACT_MOST numbers (Held and Karp 1962, J. SIAM 10); of equal ones the first.
    """
    many = len(steps_mm)
    if many > EXACT_MOST:
        return _nearest_first(steps_mm)
    best: dict[tuple[int, int], tuple[float, tuple[int, ...]]]
    best = {(1 << k, k): (0.0, (k,)) for k in range(many)}
    for size in range(2, many + 1):
        for chosen in combinations(range(many), size):
            mask = sum(1 << k for k in chosen)
            for last in chosen:
                before = mask ^ (1 << last)
                best[mask, last] = min(
                    (best[before, k][0] + float(steps_mm[k, last]), (*best[before, k][1], last))
                    for k in chosen
                    if k != last
                )
    return list(min(best[(1 << many) - 1, k] for k in range(many))[1])


def _nearest_first(steps_mm: NDArray[np.float64]) -> list[int]:
    """From each start always on to the nearest; the shortest of these orders."""
    many = len(steps_mm)
    found = []
    for start in range(many):
        order, total = [start], 0.0
        while len(order) < many:
            left = [k for k in range(many) if k not in order]
            step, after = min((float(steps_mm[order[-1], k]), k) for k in left)
            order, total = [*order, after], total + step
        found.append((total, order))
    return min(found)[1]
