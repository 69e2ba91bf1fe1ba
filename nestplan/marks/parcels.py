"""A tighter bound on mark noise: marks in parts, but a whole number of them in every parcel.

The candidates are cut into parcels, stretches of an edge and squares inside. A set of whole
marks has a whole number in each, so the least level over weights with whole numbers in every
parcel is still a bound. Inside a parcel parts may be shared out freely: that hardly helps, since
parts near each other do what one mark between them does. A few dozen whole numbers decide in a
second what hundreds of marks, each whole, would take minutes for.
source: branching on sums of variables is common practice in whole-number programmes; ours here.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import block_array, coo_array, csr_array, eye_array

from nestplan.marks.design import Design, noise_left
from nestplan.marks.field import INSIDE, Field
from nestplan.marks.relax import Relaxed, cuts_at, rules_of

Array = NDArray[np.float64]

PARCEL_MM = 300.0
ROUNDS_MOST = 2
CLOSE = 0.005
SOLVED = 0.003  # of the level, by the programme's own search
NODES_MOST = 2_000  # of that search: a bound stands however early it ends


def whole_in_parcels(
    field: Field, design: Design, number: int, found: Relaxed, *, parcel_mm: float = PARCEL_MM
) -> Relaxed:
    """The bound made tighter, and weights that are whole in every parcel; from the relaxation's."""
    rules = rules_of(field, number)
    parts = parcels(field, parcel_mm)
    size, many = len(field.places_mm), len(parts)
    where = np.repeat(np.arange(many), [len(each) for each in parts])
    held = csr_array(coo_array((np.ones(size), (where, np.concatenate(parts))), (many, size)))
    bound, weights, reached = found.bound, found.weights, found.reached
    cuts, heights = found.cuts, found.heights
    rounds = 0
    while rounds < ROUNDS_MOST:
        rounds += 1
        level = csr_array(np.column_stack([cuts / heights[:, None], 1 / heights]))
        answer = milp(
            np.append(np.zeros(size + many), 1.0),
            constraints=[
                LinearConstraint(_wide(level, many), 1.0, np.inf),
                *(
                    [LinearConstraint(_wide(rules.over, many, 1), -np.inf, rules.most)]
                    if rules.over.shape[0]
                    else []
                ),
                LinearConstraint(_wide(rules.equal, many, 1), rules.equals, rules.equals),
                LinearConstraint(
                    block_array([[held, -eye_array(many), csr_array((many, 1))]]), 0.0, 0.0
                ),
            ],
            integrality=np.concatenate([np.zeros(size), np.ones(many), [0]]),
            bounds=Bounds(
                np.concatenate([rules.bounds[:, 0], np.zeros(many + 1)]),
                np.concatenate([rules.bounds[:, 1], np.full(many + 1, np.inf)]),
            ),
            options={"mip_rel_gap": SOLVED, "node_limit": NODES_MOST},
        )
        if answer.mip_dual_bound is not None:
            bound = max(bound, float(answer.mip_dual_bound))
        if answer.x is None:
            break
        at = np.clip(answer.x[:size], 0.0, 1.0)
        here = float(noise_left(design, at).max())
        if rounds == 1 or here < reached:
            weights, reached = at, here
        if here <= bound * (1 + CLOSE):
            break
        for v in (at, (at + found.weights) / 2):
            if np.isfinite(noise_left(design, v).max()):
                more, high = cuts_at(design, v)
                cuts, heights = np.vstack([cuts, more]), np.append(heights, high)
    return Relaxed(
        bound=min(bound, reached) if np.isfinite(reached) else bound,
        reached=reached,
        weights=weights,
        rounds=rounds,
        cuts=cuts,
        heights=heights,
    )


def parcels(field: Field, parcel_mm: float) -> list[NDArray[np.intp]]:
    """Rows of the field, those of one edge's stretch or one square inside together."""
    cell = np.floor((field.places_mm - field.places_mm.min(axis=0)) / parcel_mm)
    cell[field.edge != INSIDE, 0] = -1
    _, which = np.unique(np.column_stack([field.edge, cell]), axis=0, return_inverse=True)
    which = which.ravel()
    return [np.flatnonzero(which == k) for k in range(which.max() + 1)]


def _wide(rows: csr_array, many: int, last: int = 0) -> csr_array:
    """Rows over marks (and the level) as rows over marks, parcels and level."""
    size = rows.shape[1] - (1 - last)
    none = csr_array((rows.shape[0], many))
    if last:
        return csr_array(block_array([[rows, none, csr_array((rows.shape[0], 1))]]))
    return csr_array(block_array([[rows[:, :size], none, rows[:, size:]]]))
