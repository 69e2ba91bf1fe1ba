"""The scatter of single readings, where what they share is known: restricted likelihood.

Readings y = X b + shared + scatter, Cov(shared) = K known. In the part of the readings that no
b can explain the eigenvectors of K are independent, with variances s^2 + k_i, and s^2 is the one
unknown. Its degrees of freedom are s^4 sum 1 / (s^2 + k_i)^2, from the Fisher information; with
K = 0 they are n - p and s^2 is the usual mean square, so Student's t holds exactly.
source: Patterson and Thompson 1971, Biometrika 58(3), 545-554 (from memory).
"""

from math import exp, log
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

Array = NDArray[np.float64]

MOST_MM2 = 100.0


class Scatter(NamedTuple):
    """variance_mm2: of a single reading. freedom: degrees of freedom it is known with."""

    variance_mm2: float
    freedom: float


def scatter_of(read: Array, columns: Array, rank: int, shared: Array, least_mm2: float) -> Scatter:
    """Scatter of readings (m,) under columns (m, p) of this rank; shared (m, m): Cov(shared).

    least_mm2: no reading is finer than its step.
    """
    beyond = np.linalg.svd(columns)[0][:, rank:]
    known, turned = np.linalg.eigh(beyond.T @ shared @ beyond)
    known = np.maximum(known, 0.0)
    squares = (turned.T @ (beyond.T @ read)) ** 2

    def unlikely(log_variance: float) -> float:
        total = exp(log_variance) + known
        return float((np.log(total) + squares / total).sum())

    bounds = log(least_mm2), log(MOST_MM2)
    found = minimize_scalar(unlikely, bounds=bounds, method="bounded", options={"xatol": 1e-6})
    variance = max(exp(float(found.x)), least_mm2)
    freedom = float((variance**2 / (variance + known) ** 2).sum())
    return Scatter(variance_mm2=variance, freedom=freedom)
