"""Whether frames can be told from each other and from their own half-turn by their marks.

Readings of one layout are compared with another by the sums of squares that an affine fit to
each leaves: an affine fit, since stretch and skew of the film must not count for either. With
D the other layout less the right one, matched mark by mark, and R the residual projector, the
difference of the sums is normal, so P(wrong) = Q(D'RD / (2 sqrt(D'R V R D))), V the covariance
of the readings: noise, waves and a wandering film.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment
from scipy.special import ndtr

from nestplan.marks.error_model import ErrorModel
from nestplan.marks.moments import agreement

Array = NDArray[np.float64]

WRONG = 1e-6  # for a whole run: shared among its pairs of layouts
MATCHES = 4  # of marks, each after the affine fit that the one before gave


def chance_mistaken(model: ErrorModel, right_mm: Array, other_mm: Array) -> float:
    """Chance that readings of one layout (N, 2) fit another (N', 2) better than itself."""
    if len(right_mm) != len(other_mm):
        return 0.0  # a mark more or less is counted, not measured
    right = right_mm - right_mm.mean(axis=0)
    other = _matched(right, other_mm - other_mm.mean(axis=0))
    off = _not_affine(right, other - right)
    square = float((off**2).sum())
    apart2 = square**2 / (4 * _variance(model, right, off)) if square > 1e-12 else 0.0
    return float(ndtr(-np.sqrt(apart2)))


def turned(marks_mm: Array) -> Array:
    """The marks of a frame that is loaded back to front."""
    return -marks_mm


def greatest_mistaken(model: ErrorModel, frames_mm: Sequence[Array]) -> float:
    """The greatest chance to take any frame of a run for another, or for one turned round."""
    worst = 0.0
    for k, frame in enumerate(frames_mm):
        worst = max(worst, chance_mistaken(model, frame, turned(frame)))
        for other in frames_mm[:k]:
            worst = max(
                worst,
                chance_mistaken(model, frame, other),
                chance_mistaken(model, frame, turned(other)),
            )
    return worst


def allowed(frames: int) -> float:
    """The chance that each comparison of a run may have: WRONG in all for one frame's readings."""
    return WRONG / (2 * frames)


def _matched(right: Array, other: Array) -> Array:
    """The other layout's marks in the order in which they fit the right one best."""
    at = other
    order = np.arange(len(other))
    for _ in range(MATCHES):
        apart2 = ((right[:, None] - at) ** 2).sum(axis=2)
        found = linear_sum_assignment(apart2)[1]
        if (found == order).all() and at is not other:
            break
        order = found
        columns = np.column_stack([other, np.ones(len(other))])
        fit = np.linalg.lstsq(columns[order], right, rcond=None)[0]
        at = columns @ fit
    return other[order]


def _not_affine(marks: Array, shifts: Array) -> Array:
    """(N, 2): what an affine fit to the marks leaves of the shifts."""
    columns = np.column_stack([marks / max(1.0, np.abs(marks).max()), np.ones(len(marks))])
    left: Array = shifts - columns @ np.linalg.lstsq(columns, shifts, rcond=None)[0]
    return left


def _variance(model: ErrorModel, marks: Array, off: Array) -> float:
    """off' V off, with V the covariance of what is read at the marks."""
    total = model.mark_noise_mm**2 * float((off**2).sum())
    waves = agreement(marks, marks, model.distortion_length_mm)
    total += model.distortion_mm**2 * float(np.einsum("ia,ij,ja->", off, waves, off))
    along = marks[:, 1] - marks[:, 1].min()
    walk = np.minimum.outer(along, along) * model.tracking_mm_m**2 / 1000
    return total + float(off[:, 0] @ walk @ off[:, 0]) + 1e-12
