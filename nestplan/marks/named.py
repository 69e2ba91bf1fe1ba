"""Whether one bad mark can be named from its residuals, or only suspected.

A mark off by b leaves residuals R_i b, R_i its columns of R = I - J (J'J)^-1 J'. Two marks are
told apart by how little their columns agree: rho, the greatest cosine between them, 1: never.
One bad mark can be named exactly when the fit is still determined after any two are removed.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.special import chndtr, ive

from nestplan.job import Corrects
from nestplan.marks.corrects import knots_mm, parameters, rows
from nestplan.marks.mark_plan import Named

Array = NDArray[np.float64]

WRONG = 0.01  # chance of a wrong name that is still called named
NEVER = 1e-9


def named(corrects: Corrects, marks_mm: Array) -> Named:
    """What can be said of one bad mark among these (N, 2), under the cutter's own fit."""
    if corrects == "none":  # no residuals at all: mark 1 is followed, the others not read
        return Named(alike=1.0, seen=0.0, times_noise=None)
    left = residual_share(corrects, marks_mm)
    number = len(marks_mm)
    own = np.array([left[2 * i : 2 * i + 2, 2 * i : 2 * i + 2] for i in range(number)])
    least = np.array([np.linalg.eigvalsh(each)[0] for each in own])
    determined = np.trace(left) < 2 * number - parameters(corrects, marks_mm) + 0.5
    if least.min() <= NEVER or not determined:
        return Named(alike=1.0, seen=float(max(least.min(), 0.0)), times_noise=None)
    root = np.array([np.linalg.inv(np.linalg.cholesky(each)) for each in own])
    blocks = left.reshape(number, 2, number, 2).transpose(0, 2, 1, 3)
    agree = np.einsum("iab,ijbc,jdc->ijad", root, blocks, root)
    cosine = np.linalg.norm(agree, ord=2, axis=(2, 3))
    np.fill_diagonal(cosine, 0.0)
    alike = cosine.max(axis=1)
    worst = float(alike.max())
    times = None
    if worst < 1 - NEVER:
        times = max(least_named(float(a), float(s)) for a, s in zip(alike, least, strict=True))
    return Named(alike=min(worst, 1.0), seen=float(least.min()), times_noise=times)


def residual_share(corrects: Corrects, marks_mm: Array) -> Array:
    """(2N, 2N) R: what is left of readings after the fit."""
    middle = marks_mm.mean(axis=0)
    scale = np.ptp(marks_mm, axis=0).max() / 2
    joints = (knots_mm(marks_mm) - middle[1]) / scale if corrects == "strips" else np.zeros(0)
    design = rows(corrects, (marks_mm - middle) / scale, joints).reshape(2 * len(marks_mm), -1)
    share: Array = np.eye(len(design)) - design @ np.linalg.pinv(design)
    return share


def chance_misnamed(times_noise: float, alike: float, seen: float) -> float:
    """Chance to name one certain other mark in place of the bad one.

    source: |R_i'y|^2 / R_ii of two marks are chi-squares that go together; which is greater
    comes to Marcum's Q: Q1(a, c) - exp(-(a^2 + c^2) / 2) I0(ac) / 2, with a^2 and c^2 =
    (b^2 R_ii / 4 s^2) (1 -+ sqrt(1 - rho^2)). Ours; simulated in the tests.
    """
    strength = times_noise**2 * seen / 4
    apart = np.sqrt(max(0.0, 1 - alike**2))
    a2, c2 = strength * (1 - apart), strength * (1 + apart)
    a, c = np.sqrt(a2), np.sqrt(c2)
    marcum = 1 - chndtr(c2, 2, a2)
    return float(max(0.0, marcum - 0.5 * np.exp(a * c - (a2 + c2) / 2) * ive(0, a * c)))


def least_named(alike: float, seen: float) -> float:
    """From how many standard deviations on a bad mark is taken for one certain other in at most
    WRONG of cases.
    """
    low, high = 0.0, 1.0
    while chance_misnamed(high, alike, seen) > WRONG and high < 1e6:
        low, high = high, 2 * high
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (
            (middle, high) if chance_misnamed(middle, alike, seen) > WRONG else (low, middle)
        )
    return high
