"""From what runs were expected to take and what they took: the next one's correction. Pure.

Ratios, not differences: what is wrong with a speed or a habit is wrong in proportion. Their
logarithms are taken as normal, so that half and twice are equally far off. A run that stands far
out (a stopwatch left running) is set aside and counted. The interval is the one for a single
further value, with mean and spread both unknown: mean ± t s √(1 + 1/n) (ISO 16269-8; G. J. Hahn,
W. Q. Meeker, "Statistical Intervals", 1991, chapter 4; both from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

import numpy as np
from scipy.special import stdtrit

from nestplan.stock.outliers import outliers

JOBS_LEAST = 3  # of fewer, spread and mean cannot be told apart: no interval
SPREAD_LEAST = 0.005  # of a ratio: nobody reads a tape or a stopwatch closer than half a percent
OUTLIER_ALPHA = 0.01
OUTLIER_SHARE = 5  # at most one run in so many is set aside


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """Times the estimate: the middle, and between what the next run lies with this certainty.

    factor: 1 where there is too little to go by. low, high: None where no interval is known.
    jobs: how many runs it rests on; set_aside: further ones that stood far out.
    """

    factor: float
    low: float | None
    high: float | None
    level: float
    jobs: int
    set_aside: int = 0

    @property
    def known(self) -> bool:
        """Whether there is an interval."""
        return self.low is not None


def correction(expected: Sequence[float], took: Sequence[float], level: float = 0.90) -> Correction:
    """The correction that these runs teach; all amounts above 0, in one unit.

    level: certainty of the interval, between 0 and 1.
    """
    assert len(expected) == len(took) and 0 < level < 1
    ratios = [log(t / e) for e, t in zip(expected, took, strict=True)]
    aside = outliers(ratios, most=len(ratios) // OUTLIER_SHARE, alpha=OUTLIER_ALPHA)
    kept = np.array([ratio for k, ratio in enumerate(ratios) if k not in aside])
    n = len(kept)
    if n < JOBS_LEAST:
        return Correction(factor=1.0, low=None, high=None, level=level, jobs=n)
    mean, spread = float(kept.mean()), max(float(kept.std(ddof=1)), SPREAD_LEAST)
    half = float(stdtrit(n - 1, (1 + level) / 2)) * spread * sqrt(1 + 1 / n)
    return Correction(
        factor=exp(mean),
        low=exp(mean - half),
        high=exp(mean + half),
        level=level,
        jobs=n,
        set_aside=len(aside),
    )
