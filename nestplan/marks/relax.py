"""What no set of N marks can beat: the greatest noise at any contour, marks taken in parts.

Let weights between 0 and 1 stand for marks. For any reference v, convexity and homogeneity of
degree -1 give f_r(w) >= 2 f_r(v) - sum of w_i |J_r M(v)^-1 J_i'|^2, linear in w. Every linear
programme "least t over such cuts" is a lower bound for every set of whole marks; cuts are added
half way between the programme's answer and the best weights so far, until both meet.
source: cutting planes after Kelley 1960 with in-out steps; the cut is ours, see
docs/explanation/marks.md.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.sparse import csr_array, vstack

from nestplan.marks.design import Design, noise_left
from nestplan.marks.field import LEFT, RIGHT, Field

Array = NDArray[np.float64]

CLOSE = 0.005  # bound and best weights this near each other: half a percent
ROUNDS_MOST = 80
CUTS_A_ROUND = 6
CUT_WITHIN = 0.3  # of the worst place: others as bad get a cut too
CUT_APART = 0.15  # in the design's scale
STARTS = 12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Relaxed:
    """bound: no set of marks has a smaller greatest f_r. reached: what these weights have.

    cuts (n, M) and heights (n,): every set has t >= height - cut w.
    """

    bound: float
    reached: float
    weights: Array
    rounds: int
    cuts: Array
    heights: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rules:
    """The field's rules as rows of a linear programme: over w <= most, equal w == equals."""

    over: csr_array
    most: Array
    equal: csr_array
    equals: Array
    bounds: Array


def rules_of(field: Field, number: int) -> Rules:
    """Windows, crowds, corners and the number of marks, for linear programmes."""
    size = len(field.places_mm)
    over = [(rows, -1.0, -1.0) for rows in field.windows()]
    over += [(rows, 1.0, 1.0) for rows in field.crowds()]
    equal = np.ones((1, size))
    equals = [float(number)]
    if field.alike:
        sides = (field.edge == LEFT).astype(float) - (field.edge == RIGHT)
        equal, equals = np.vstack([equal, sides]), [*equals, 0.0]
    bounds = np.tile([0.0, 1.0], (size, 1))
    bounds[list(field.corners), 0] = 1.0
    table = np.zeros((len(over), size))
    for k, (rows, sign, _) in enumerate(over):
        table[k, rows] = sign
    return Rules(
        over=csr_array(table),
        most=np.array([most for _, _, most in over]),
        equal=csr_array(equal),
        equals=np.array(equals),
        bounds=bounds,
    )


def relaxed(
    field: Field, design: Design, number: int, *, close: float = CLOSE, seed: int = 1
) -> Relaxed | None:
    """The bound for sets of this number of marks; None where the rules leave no set at all."""
    rules = rules_of(field, number)
    best = _first(rules, seed)
    if best is None:
        return None
    reached = float(noise_left(design, best).max())
    if not np.isfinite(reached):
        return None
    bound, cuts, heights = 0.0, np.zeros((0, len(best))), np.zeros(0)
    at, rounds = best, 0
    while rounds < ROUNDS_MOST and reached > bound * (1 + close):
        rounds += 1
        more, high = cuts_at(design, at)
        cuts, heights = np.vstack([cuts, more]), np.append(heights, high)
        answer = _least(rules, cuts, heights)
        if answer is None:  # numerical trouble: what was proven stands
            break
        toward, level = answer
        bound = max(bound, level)
        at = (toward + best) / 2
        here = float(noise_left(design, at).max())
        if here < reached:
            best, reached = at, here
    return Relaxed(
        bound=min(bound, reached),
        reached=reached,
        weights=best,
        rounds=rounds,
        cuts=cuts,
        heights=heights,
    )


def certified(field: Field, design: Design, number: int, found: Relaxed) -> float:
    """The bound again from one linear programme without cuts, for the test.

    With weights l_r on places and B their sum of l_r J_r' J_r: no set is below
    2 tr(M^-1 B) - max over w of sum w_i tr(M^-1 B M^-1 J_i' J_i).
    """
    rules = rules_of(field, number)
    left = noise_left(design, found.weights)
    # places near the greatest count; their shares solve a small linear programme
    near = np.flatnonzero(left > 0.9 * left.max())
    inverse = np.linalg.inv(np.einsum("m,mpq->pq", found.weights, design.squares))
    carried = np.einsum("hap,pq,mbq->hmab", design.places[near], inverse, design.marks)
    gains = (carried**2).sum(axis=(2, 3))
    # max over shares of min over w: the dual, shares >= 0 that add up to one
    answer = _least(rules, gains, 2 * left[near])
    assert answer is not None
    return answer[1]


def cuts_at(design: Design, weights: Array) -> tuple[Array, Array]:
    """Cuts at these weights for the worst place and others as bad but not beside it.

    Each row g and height h say f_r(w) >= h - g w.
    """
    left = noise_left(design, weights)
    taken: list[int] = []
    for r in np.argsort(-left, kind="stable").tolist():
        if len(taken) == CUTS_A_ROUND or left[r] < (1 - CUT_WITHIN) * left.max():
            break
        off = design.places_at[taken] - design.places_at[r]
        if np.hypot(off[:, 0], off[:, 1]).min(initial=np.inf) > CUT_APART:
            taken.append(r)
    information = np.einsum("m,map,maq->pq", weights, design.marks, design.marks, optimize=True)
    carried = np.linalg.solve(information, design.marks.reshape(-1, information.shape[0]).T)
    carried = design.places[taken].reshape(-1, information.shape[0]) @ carried
    square = (carried**2).reshape(len(taken), 2, len(weights), 2).sum(axis=(1, 3))
    return square, 2 * left[taken]


def _least(rules: Rules, cuts: Array, heights: Array) -> tuple[Array, float] | None:
    """Weights and level t of "least t with t >= h - g w for every cut"."""
    size = len(rules.bounds)
    scale = heights[:, None]
    rows = csr_array(np.hstack([-cuts / scale, -np.ones((len(cuts), 1)) / scale]))
    over = csr_array((rules.over.shape[0], size + 1))
    if rules.over.shape[0]:
        over = csr_array(np.hstack([rules.over.toarray(), np.zeros((rules.over.shape[0], 1))]))
    equal = np.hstack([rules.equal.toarray(), np.zeros((len(rules.equals), 1))])
    found = linprog(
        np.append(np.zeros(size), 1.0),
        A_ub=vstack([rows, over]),
        b_ub=np.append(-np.ones(len(cuts)), rules.most),
        A_eq=equal,
        b_eq=rules.equals,
        bounds=np.vstack([rules.bounds, [0.0, np.inf]]),
        method="highs",
    )
    if found.status != 0:
        return None
    return np.clip(found.x[:size], 0.0, 1.0), float(found.fun)


def _first(rules: Rules, seed: int) -> Array | None:
    """Weights that keep the rules: the mean of some corners of what is allowed."""
    rng = np.random.default_rng(seed)
    corners = []
    for _ in range(STARTS):
        found = linprog(
            rng.standard_normal(len(rules.bounds)),
            A_ub=rules.over if rules.over.shape[0] else None,
            b_ub=rules.most if rules.over.shape[0] else None,
            A_eq=rules.equal,
            b_eq=rules.equals,
            bounds=rules.bounds,
            method="highs",
        )
        if found.status != 0:
            return None
        corners.append(found.x)
    mean: Array = np.clip(np.mean(corners, axis=0), 0.0, 1.0)
    return mean
