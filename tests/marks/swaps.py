"""Whether a swap of one or two marks would lower the greatest predicted error of a frame.

Shares no code with the search: a fit by normal equations of unit shifts, the covariance of the
film written down whole, every set of marks by numpy alone. A set is given up as soon as one
place is worse than the greatest error there is now, which proves that it does not help.
"""

from collections.abc import Callable, Iterator
from itertools import combinations

import numpy as np

CHUNK = 20_000
FAR_MM = 1e9
GAIN = 1e-6  # share by which a set must be better to count


def columns(corrects: str, at: np.ndarray) -> np.ndarray:
    """(n, 2, p): what each figure of the fit does to x and y of a place, in metres."""
    x, y = at.T / 1000
    one, none = np.ones_like(x), np.zeros_like(x)
    if corrects == "similarity":
        return np.stack([np.stack([one, none, x, -y], 1), np.stack([none, one, y, x], 1)], 1)
    assert corrects == "affine", corrects
    return np.stack(
        [np.stack([one, x, y, *[none] * 3], 1), np.stack([*[none] * 3, one, x, y], 1)], 1
    )


def moments(model: dict, at: np.ndarray, other: np.ndarray, low: float) -> np.ndarray:
    """(n, m, 2, 2) second moments of film and stretch between places (n, 2) and (m, 2)."""
    apart = ((at[:, None] - other) ** 2).sum(axis=2)
    waves = model["distortion_mm"] ** 2 * np.exp(-apart / 2 / model["distortion_length_mm"] ** 2)
    walk = model["tracking_mm_m"] ** 2 * np.minimum.outer(at[:, 1] - low, other[:, 1] - low) / 1000
    found = waves[:, :, None, None] * np.eye(2)
    found[:, :, 0, 0] += walk
    for linear in (  # x', y' of x, y
        [[0, 0], [0, model["along_sd_percent"] / 100]],
        [[model["across_sd_percent"] / 100, 0], [0, 0]],
        np.eye(2) * model["both_sd_percent"] / 100,
        [[0, model["skew_sd_mm_m"] / 1000], [0, 0]],
        [[0, -model["askew_sd_mm_m"] / 1000], [model["askew_sd_mm_m"] / 1000, 0]],
        [
            [model["across_percent"] / 100, model["skew_mm_m"] / 1000],
            [0, model["along_percent"] / 100],
        ],
    ):
        one, two = at @ np.transpose(linear), other @ np.transpose(linear)
        found += one[:, None, :, None] * two[None, :, None, :]
    return found


def better_swaps(
    model: dict,
    candidates: np.ndarray,
    edge: np.ndarray,
    held: list[int],
    chosen: list[int],
    places: np.ndarray,
    *,
    spacing_mm: float,
    apart_mm: float,
    allowed: Callable[[np.ndarray], bool] = lambda marks: True,
) -> tuple[float, int, list[list[int]]]:
    """Greatest error now, how many sets kept the rules, and those of them that are better.

    edge: (M,) 0 left, 1 right, 2 inside. held: rows that stay. allowed: asked of the marks
    (N, 2) of a set that is better.
    """
    middle = candidates.mean(axis=0)
    marks, places = candidates - middle, places - middle
    low = min(marks[:, 1].min(), places[:, 1].min())
    known = moments(model, marks, marks, low)
    noise = model["print_noise_mm"] ** 2 + model["sensor_noise_mm"] ** 2
    known[np.arange(len(marks)), np.arange(len(marks))] += noise * np.eye(2)
    cross = moments(model, places, marks, low)
    own = np.array([np.trace(moments(model, p[None], p[None], low)[0, 0]) for p in places])
    rows, wanted = columns(model["corrects"], marks), columns(model["corrects"], places)
    square = np.einsum("map,maq->mpq", rows, rows)

    def errors(sets: np.ndarray, at: np.ndarray) -> np.ndarray:
        """(s, k) mean square error of each set at each place."""
        inverse = np.linalg.inv(square[sets].sum(axis=1))
        told = known[sets[:, :, None], sets[:, None, :]]
        solved = np.einsum("spq,siaq->spia", inverse, rows[sets])
        spread = np.einsum("spia,sijab,sqjb->spq", solved, told, solved, optimize=True)
        found = np.einsum("kap,spq,kaq->sk", wanted[at], spread, wanted[at], optimize=True)
        for column, place in enumerate(at):
            here = np.einsum("ap,spib->siab", wanted[place], solved)
            found[:, column] -= 2 * np.einsum("siab,siab->s", here, cross[place][sets])
        return found + own[at]

    now = errors(np.array([chosen]), np.arange(len(places)))[0]
    greatest, order, better, looked = now.max(), np.argsort(-now), [], 0
    for sets in swapped_sets(chosen, held, len(candidates)):
        sets = sets[keep_rules(candidates, edge, sets, spacing_mm, apart_mm)]
        looked += len(sets)
        for first, last in ((0, 1), (1, 4), (4, 20), (20, len(order))):
            if len(sets):
                sets = sets[errors(sets, order[first:last]).max(axis=1) < greatest * (1 - GAIN)]
        better += [each.tolist() for each in sets if allowed(candidates[each])]
    return float(np.sqrt(greatest)), looked, better


def swapped_sets(chosen: list[int], held: list[int], size: int) -> Iterator[np.ndarray]:
    """Every set that differs by one or two marks from the chosen one, in chunks (s, N)."""
    free = [k for k, row in enumerate(chosen) if row not in held]
    others = np.setdiff1d(np.arange(size), chosen)
    into = {1: others[:, None], 2: np.array(list(combinations(others, 2)))}
    for number in (1, 2):
        for out in combinations(free, number):
            for start in range(0, len(into[number]), CHUNK):
                some = into[number][start : start + CHUNK]
                sets = np.tile(chosen, (len(some), 1))
                sets[:, out] = some
                yield sets


def keep_rules(
    candidates: np.ndarray, edge: np.ndarray, sets: np.ndarray, spacing_mm: float, apart_mm: float
) -> np.ndarray:
    """(s,) no gap along an edge over the spacing, no two marks too near each other."""
    kept = np.ones(len(sets), dtype=bool)
    for side in (0, 1):
        y = np.where(edge[sets] == side, candidates[sets, 1], FAR_MM)
        gaps = np.diff(np.sort(y, axis=1), axis=1)
        kept &= np.where(gaps < FAR_MM / 2, gaps, 0).max(axis=1) <= spacing_mm + 1e-6
    for i, j in combinations(range(sets.shape[1]), 2):
        off = candidates[sets[:, i]] - candidates[sets[:, j]]
        kept &= (off**2).sum(axis=1) >= (apart_mm - 1e-6) ** 2
    return kept
