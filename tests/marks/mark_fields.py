"""Invented fields of candidate places and contour points, and optima found by other means."""

from itertools import combinations

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from nestplan.marks.design import Design, greatest_noise, noise_left
from nestplan.marks.field import INSIDE, LEFT, RIGHT, Field
from nestplan.marks.relax import rules_of


def invented_field(
    seed: int,
    *,
    length_mm: float = 1500.0,
    width_mm: float = 1340.0,
    pitch_mm: float = 10.0,
    spacing_mm: float = 400.0,
    inside: int = 0,
    blocked: float = 0.3,
    alike: bool = False,
) -> Field:
    """Both edges at a pitch, some of their places blocked, others a little off the edge."""
    rng = np.random.default_rng(seed)
    y = np.arange(0, length_mm + 0.1, pitch_mm)
    places, edge, corners = [], [], []
    for side, x, inward in ((LEFT, 0.0, 1), (RIGHT, width_mm, -1)):
        kept = rng.random(len(y)) >= blocked
        kept[[0, -1]] = True
        corners += [len(places), len(places) + int(kept.sum()) - 1]
        places += [(x + inward * rng.uniform(0, 40), each) for each in y[kept]]
        edge += [side] * int(kept.sum())
    places += rng.uniform((100, 50), (width_mm - 100, length_mm - 50), (inside, 2)).tolist()
    edge += [INSIDE] * inside
    return Field(
        places_mm=np.array(places),
        edge=np.array(edge, dtype=np.int64),
        corners=tuple(corners),
        spacing_mm=spacing_mm,
        apart_mm=10.0,
        alike=alike,
    )


def small_field(seed: int) -> Field:
    """Some ten places on the edges of 600 x 500 mm and five inside: every set can be looked at."""
    return invented_field(
        seed,
        length_mm=500.0,
        width_mm=600.0,
        pitch_mm=100.0,
        spacing_mm=1e6 if seed % 2 else 310.0,
        inside=5,
        blocked=0.2 if seed % 2 else 0.0,
    )


def contours(seed: int, number: int = 200, size_mm: tuple[float, float] = (1340, 1500)):
    """(number, 2) contour points spread over the frame."""
    rng = np.random.default_rng(seed)
    return rng.uniform((20, 10), np.array(size_mm) - 20, (number, 2))


def best_of_all(field: Field, design: Design, number: int) -> float:
    """The least greatest f_r of all sets that keep the rules, each of them looked at."""
    free = sorted(set(range(len(field.places_mm))) - set(field.corners))
    found = np.inf
    for more in combinations(free, number - len(field.corners)):
        rows = (*field.corners, *more)
        if field.holds(rows):
            found = min(found, greatest_noise(design, rows))
    return found


def best_whole(field: Field, design: Design, number: int, *, close: float = 1e-4) -> float:
    """The same by whole-number programmes with cuts: the reference solver's own search (HiGHS)."""
    rules = rules_of(field, number)
    size = len(field.places_mm)
    gains, heights = np.zeros((0, size)), np.zeros(0)
    best, bound = np.inf, 0.0
    at = np.full(size, number / size)
    while best > bound * (1 + close):
        left = noise_left(design, at)
        worst = np.argsort(-left)[:8]
        inverse = np.linalg.inv(np.einsum("m,mpq->pq", at, design.squares))
        carried = np.einsum("hap,pq,mbq->hmab", design.places[worst], inverse, design.marks)
        gains = np.vstack([gains, (carried**2).sum(axis=(2, 3))])
        heights = np.append(heights, 2 * left[worst])
        level = np.hstack([gains, np.ones((len(gains), 1))])
        over = np.hstack([rules.over.toarray(), np.zeros((rules.over.shape[0], 1))])
        found = milp(
            np.append(np.zeros(size), 1.0),
            constraints=[
                LinearConstraint(level, heights, np.inf),
                LinearConstraint(over, -np.inf, rules.most),
                LinearConstraint(np.append(rules.equal.toarray()[0], 0.0), number, number),
            ],
            integrality=np.append(np.ones(size), 0.0),
            bounds=Bounds(
                np.append(rules.bounds[:, 0], 0.0), np.append(rules.bounds[:, 1], np.inf)
            ),
            options={"mip_rel_gap": close / 10},
        )
        assert found.x is not None
        bound = max(bound, float(found.mip_dual_bound))
        rows = np.flatnonzero(found.x[:size] > 0.5)
        at = np.zeros(size)
        at[rows] = 1.0
        here = greatest_noise(design, rows.tolist())
        if not np.isfinite(here):  # a set in line: look a little off it
            at = 0.99 * at + 0.01 * number / size
        best = min(best, here)
    return best
