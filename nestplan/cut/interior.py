"""A linear programme solved by an interior point method (HiGHS), stopped before it settles on a
corner: prices from the middle of all that are best suit legs and cuts which are still to come,
and finding a corner would take longer than all the rest.
"""

from typing import NamedTuple

import highspy
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_array, csr_array, vstack

TOLERANCE = 1e-6  # of the gap; no proof rests on it


class Answer(NamedTuple):
    """value: the least. at: of each column. equal, most: prices of the rows, none of `most` < 0."""

    value: float
    at: NDArray[np.float64]
    equal: NDArray[np.float64]
    most: NDArray[np.float64]


def least(
    cost: NDArray[np.float64], equal: csr_array, sums: NDArray[np.float64], most: csr_array
) -> Answer:
    """Minimise cost @ x where equal @ x = sums, most @ x <= 0 and x >= 0.

    The programme must have a solution. Same programme, same answer: one thread.
    """
    rows = csc_array(vstack([equal, most]))
    free = np.full(most.shape[0], -highspy.kHighsInf)
    task = highspy.HighsLp()
    task.num_row_, task.num_col_ = rows.shape
    task.col_cost_ = cost
    task.col_lower_, task.col_upper_ = np.zeros(len(cost)), np.full(len(cost), highspy.kHighsInf)
    task.row_lower_ = np.concatenate([sums, free])
    task.row_upper_ = np.concatenate([sums, np.zeros(len(free))])
    task.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    task.a_matrix_.start_, task.a_matrix_.index_ = rows.indptr, rows.indices
    task.a_matrix_.value_ = rows.data
    solver = highspy.Highs()  # type: ignore[no-untyped-call]
    for option, value in (
        ("output_flag", False),
        ("threads", 1),
        ("solver", "ipm"),
        ("run_crossover", "off"),
        ("ipm_optimality_tolerance", TOLERANCE),
    ):
        solver.setOptionValue(option, value)
    solver.passModel(task)
    solver.run()
    solution = solver.getSolution()
    price = np.array(solution.row_dual)
    return Answer(
        value=float(solver.getInfo().objective_function_value),
        at=np.maximum(np.array(solution.col_value), 0.0),
        equal=price[: len(sums)],
        most=np.maximum(-price[len(sums) :], 0.0),
    )
