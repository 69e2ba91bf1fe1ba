"""Marks that do not go with the others: named where they can be, else the group in doubt.

One mark's offset is added to the fit; the residual square falls by a chi-square with two
degrees of freedom if the mark is sound. A mark can be named only where leaving out no other
would do as well: on four corners an affine fit sees that something is wrong, not what.
sources: Baarda 1968 (from memory) for the test; Bonferroni over the marks.
"""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from scipy import stats
from scipy.optimize import brentq

from nestplan.fit.choose import ROUGH_LEVEL
from nestplan.fit.maps import Array
from nestplan.fit.noise import Residuals

LEVEL = 1e-3  # a sound print is doubted so often
ALIKE = 9.21  # the square of a mark that is a hundred times less likely than the worst
POWER = 0.95  # with which the least misreading that is seen, is seen
DOUBTED_MM = 0.3  # no smaller offset of one mark is worth measuring again


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BadMarks:
    """What is wrong with single marks. rows: of the marks in doubt, one where it is named.

    offset_mm: by how much the first of them is off; chance: of so odd a mark on a sound print.
    """

    rows: tuple[int, ...]
    offset_mm: float
    chance: float

    @property
    def named(self) -> bool:
        """Whether it can be but this one."""
        return len(self.rows) == 1


def bad_marks(left: Residuals) -> BadMarks | None:
    """The mark, or the group of them, without which the rest goes together; None: all do."""
    falls, offsets = left.without()
    n = len(falls)
    worst = int(falls.argmax())
    chance = min(1.0, n * float(stats.chi2.sf(falls[worst], 2)))
    whole = float(stats.chi2.sf(left.square, left.dof)) if left.dof > 0 else 1.0
    if min(chance, whole) > LEVEL:
        return None
    size = float(np.hypot(*offsets[worst]))
    rest_dof = left.dof - 2
    doubted = [
        i
        for i in range(n)
        if falls[worst] - falls[i] < ALIKE
        and _goes_together(left.square - float(falls[i]), rest_dof)
    ]
    if not doubted or size < DOUBTED_MM:
        return None  # no single mark explains it: the print as a whole is uneven
    doubted.sort(key=lambda i: -falls[i])
    return BadMarks(rows=tuple(doubted), offset_mm=size, chance=chance)


def least_seen_mm(left: Residuals) -> Array:
    """(n,) misreading of each mark that would be found with a chance of 95 %; inf: none would.

    The square of a misread mark is a non-central chi-square with two degrees of freedom.
    """
    bar = float(stats.chi2.isf(LEVEL / (len(left.shifts_mm) // 2), 2))
    far = float(brentq(lambda nc: stats.ncx2.sf(bar, 2, nc) - POWER, 1.0, 500.0))
    return np.array(
        [
            sqrt(far / float(np.linalg.eigvalsh(left.own(i))[0])) if left.checked(i) else np.inf
            for i in range(len(left.shifts_mm) // 2)
        ]
    )


def _goes_together(square: float, dof: int) -> bool:
    return dof <= 0 or float(stats.chi2.sf(max(square, 0.0), dof)) > ROUGH_LEVEL
