"""Sets of whole marks: rounded from the relaxation's weights, then made better by swaps."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array, vstack

from nestplan.marks.aim import Aim
from nestplan.marks.field import TOUCH_MM, Field
from nestplan.marks.relax import rules_of
from nestplan.marks.swap_kernel import (
    added,
    double_swap,
    greatest,
    single_swap,
    swaps_below,
)

Array = NDArray[np.float64]

BETTER_MOST = 20_000  # sets listed at a time
TRIES = 200  # draws for a set that keeps the rules after some marks were moved at random


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """Rows of a field, rising, and the greatest mean square error they leave."""

    rows: tuple[int, ...]
    greatest: float


def judged(aim: Aim, rows: Sequence[int]) -> Chosen:
    """The greatest mean square error of a set, at every place of the aim."""
    chosen = np.array(sorted(rows), dtype=np.int64)
    order = np.arange(len(aim.places))
    worst = float(greatest(*_parts(aim), chosen, order, np.inf))
    return Chosen(rows=tuple(chosen.tolist()), greatest=worst)


def rounded(field: Field, weights: Array, number: int) -> tuple[int, ...] | None:
    """The set of whole marks that holds most of the weights; None where no set keeps the rules.

    source: whole-number linear programme over the same rows, and one a pair that is too near.
    """
    rules = rules_of(field, number)
    between = np.hypot(*(field.places_mm[:, None] - field.places_mm).T)
    near = np.argwhere(np.triu(between < field.apart_mm - TOUCH_MM, 1))
    pairs = csr_array(
        (np.ones(2 * len(near)), (np.repeat(np.arange(len(near)), 2), near.ravel())),
        shape=(len(near), len(weights)),
    )
    over = vstack([rules.over, pairs])
    constraints = [LinearConstraint(rules.equal, rules.equals, rules.equals)]
    if over.shape[0]:
        most = np.append(rules.most, np.ones(len(near)))
        constraints.append(LinearConstraint(over, -np.inf, most))
    found = milp(
        -weights,
        constraints=constraints,
        integrality=np.ones(len(weights)),
        bounds=Bounds(rules.bounds[:, 0], rules.bounds[:, 1]),
    )
    if found.x is None:
        return None
    rows = tuple(np.flatnonzero(found.x > 0.5).tolist())
    return rows if field.holds(rows) else None


def swapped(field: Field, aim: Aim, rows: Sequence[int], *, pairs: bool = False) -> Chosen:
    """The set after swaps of single marks, and of pairs where asked, until none lowers it."""
    chosen = np.array(sorted(rows), dtype=np.int64)
    order = np.arange(len(aim.places))
    parts, rest = _parts(aim), _rest(field)
    best = float(greatest(*parts, chosen, order, np.inf))
    while True:
        better = float(single_swap(*parts, *rest, chosen, order, best))
        if better >= best and pairs:
            better = float(double_swap(*parts, *rest, chosen, order, best))
        if better >= best:
            return Chosen(rows=tuple(sorted(chosen.tolist())), greatest=best)
        best = better


def better_sets(field: Field, aim: Aim, chosen: Chosen) -> list[Chosen]:
    """Sets that differ by one or two marks and leave less, the least error first."""
    rows = np.array(sorted(chosen.rows), dtype=np.int64)
    order = np.arange(len(aim.places))
    stop = chosen.greatest * (1 - 1e-7)
    found = swaps_below(*_parts(aim), *_rest(field), rows, order, stop, BETTER_MOST)
    sets = {}
    for m, k, c, d, here in found.tolist():
        other = rows.copy()
        other[int(m)] = int(c)
        if k >= 0:
            other[int(k)] = int(d)
        sets[tuple(sorted(other.tolist()))] = here
    return [Chosen(rows=r, greatest=h) for r, h in sorted(sets.items(), key=lambda each: each[1])]


def shaken(field: Field, aim: Aim, start: Chosen, *, times: int, seed: int = 1) -> Chosen:
    """Again and again one to three marks put elsewhere at random, then swaps; better is kept."""
    rng = np.random.default_rng(seed)
    best = start
    free = [row for row in start.rows if row not in field.corners]
    if not free:
        return start
    for _ in range(times):
        moved = _moved(field, best.rows, rng)
        if moved is not None:
            other = swapped(field, aim, moved)
            if other.greatest < best.greatest * (1 - 1e-9):
                best = other
    return best


def with_one_more(field: Field, aim: Aim, rows: Sequence[int]) -> Chosen | None:
    """The set and the mark that helps it most; None where no other mark may stand."""
    chosen = np.array(sorted(rows), dtype=np.int64)
    order = np.arange(len(aim.places))
    at, edge, limits, _ = _rest(field)
    found, row = added(*_parts(aim), at, edge, limits, chosen, order)
    if row < 0:
        return None
    return Chosen(rows=tuple(sorted([*chosen.tolist(), int(row)])), greatest=float(found))


def _moved(field: Field, rows: Sequence[int], rng: np.random.Generator) -> tuple[int, ...] | None:
    free = [k for k, row in enumerate(rows) if row not in field.corners]
    number = min(len(free), int(rng.integers(1, 4)))
    taken = rng.choice(free, size=number, replace=False)
    for _ in range(TRIES):
        trial = list(rows)
        for k, row in zip(taken, rng.integers(0, len(field.places_mm), number), strict=True):
            trial[k] = int(row)
        if field.holds(trial):
            return tuple(trial)
    return None


def _parts(aim: Aim) -> tuple[Array, ...]:
    return aim.marks, aim.places, aim.second, aim.cross, aim.own


def _rest(field: Field) -> tuple[Array, NDArray[np.int64], Array, NDArray[np.bool_]]:
    held = np.zeros(len(field.places_mm), dtype=bool)
    held[list(field.corners)] = True
    limits = np.array([field.spacing_mm + TOUCH_MM, field.apart_mm - TOUCH_MM, float(field.alike)])
    return field.places_mm, field.edge, limits, held
