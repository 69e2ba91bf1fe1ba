"""A linear programme solved by an interior point method (HiGHS), stopped before it settles on a
corner: prices from the middle of all that are best suit legs and cuts which are still to come,
and finding a corner would take longer than all the rest.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from ortools.math_opt import model_pb2
from ortools.math_opt.python import mathopt
from ortools.math_opt.solvers import highs_pb2
from scipy.sparse import coo_array, csr_array, vstack

TOLERANCE = 1e-6  # of the gap; no proof rests on it


class Answer(NamedTuple):
    """value: the least. at: of each column. equal, most: prices of the rows, none of `most` < 0."""

    value: float
    at: NDArray[np.float64]
    equal: NDArray[np.float64]
    most: NDArray[np.float64]


def least(
    cost: NDArray[np.float64], equal: csr_array, sums: NDArray[np.float64], most: csr_array
) -> Answer | None:
    """Minimise cost @ x where equal @ x = sums, most @ x <= 0 and x >= 0.

    The programme must have a solution. None: the solver gives up on it, even where it may
    settle on a corner. Same programme, same answer.
    """
    model = mathopt.Model.from_model_proto(_model(cost, equal, sums, most))
    for crossover in ("off", "on"):
        answer = _solved(model, len(sums), crossover)
        if answer is not None:
            return answer
    return None


def _solved(model: mathopt.Model, equal: int, crossover: str) -> Answer | None:
    asked = mathopt.SolveParameters(
        lp_algorithm=mathopt.LPAlgorithm.BARRIER,
        highs=highs_pb2.HighsOptionsProto(
            string_options={"run_crossover": crossover},
            double_options={"ipm_optimality_tolerance": TOLERANCE},
        ),
    )
    try:
        result = mathopt.solve(model, mathopt.SolverType.HIGHS, params=asked)
        price = np.array(result.dual_values(model.linear_constraints()))
        at = np.array(result.variable_values(model.variables()))
    except Exception:  # of many kinds: no status of the solver's is worth a plan
        return None
    return Answer(
        value=result.objective_value(),
        at=np.maximum(at, 0.0),
        equal=price[:equal],
        most=np.maximum(-price[equal:], 0.0),
    )


def _model(
    cost: NDArray[np.float64], equal: csr_array, sums: NDArray[np.float64], most: csr_array
) -> model_pb2.ModelProto:
    """The programme as OR-Tools takes it: numbers of columns and rows as ids, row by row."""
    rows = coo_array(vstack([equal, most]).tocsr())
    columns, free = len(cost), most.shape[0]
    model = model_pb2.ModelProto()
    model.variables.ids.extend(range(columns))
    model.variables.lower_bounds.extend([0.0] * columns)
    model.variables.upper_bounds.extend([np.inf] * columns)
    model.variables.integers.extend([False] * columns)
    model.objective.linear_coefficients.ids.extend(range(columns))
    model.objective.linear_coefficients.values.extend(cost.tolist())
    model.linear_constraints.ids.extend(range(rows.shape[0]))
    model.linear_constraints.lower_bounds.extend([*sums.tolist(), *[-np.inf] * free])
    model.linear_constraints.upper_bounds.extend([*sums.tolist(), *[0.0] * free])
    model.linear_constraint_matrix.row_ids.extend(rows.coords[0].tolist())
    model.linear_constraint_matrix.column_ids.extend(rows.coords[1].tolist())
    model.linear_constraint_matrix.coefficients.extend(rows.data.tolist())
    return model
