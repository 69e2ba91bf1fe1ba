"""Values that do not belong with the others: Rosner's generalized extreme Studentized deviate test.

B. Rosner, "Percentage points for a generalized ESD many-outlier procedure", Technometrics 25
(1983) 165-172; NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.3. With one outlier at
most it is Grubbs' test, which holds for small samples too. Pure.
"""

from collections.abc import Sequence

import numpy as np
from scipy.special import stdtrit


def outliers(values: Sequence[float], most: int, alpha: float) -> list[int]:
    """Which values (by place) stand out, at most so many; alpha: how often good ones may too.

    The others are taken as normal. Fewer than four values say nothing.
    """
    kept = np.asarray(values, dtype=float)
    places = np.arange(len(kept))
    removed: list[int] = []
    found = 0
    for step in range(1, most + 1):
        n = len(kept)
        spread = kept.std(ddof=1) if n > 1 else 0.0
        if n < 4 or spread == 0:
            break
        away = np.abs(kept - kept.mean()) / spread
        at = int(away.argmax())
        removed.append(int(places[at]))
        if away[at] > critical(n, alpha):
            found = step
        kept, places = np.delete(kept, at), np.delete(places, at)
    return sorted(removed[:found])


def critical(n: int, alpha: float) -> float:
    """How many standard deviations off the mean the farthest of n may lie."""
    t = stdtrit(n - 2, 1 - alpha / (2 * n))
    return float((n - 1) * t / np.sqrt((n - 2 + t**2) * n))
