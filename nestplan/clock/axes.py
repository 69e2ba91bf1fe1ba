"""How long a path takes where head and web have limits of their own: the head in x, the web in y.

A straight move is as fast as the slower axis lets it. On a curve what holds the knife on its
arc and what speeds it up along the arc share each axis: |k v^2 + t u| <= a for each, t the
direction, k the curvature, u the acceleration along the path. A pass backward finds from which
speeds the rest can still be done, a pass forward takes the greatest of them (the
two passes of reachability analysis, Pham and Pham 2018, IEEE Transactions on Robotics 34(3),
645-659, from memory).
"""

import numpy as np
from numpy.typing import NDArray

NOTHING = 1e-12
Pair = tuple[float, float]


def along(limits: Pair, legs_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """The limit along each straight leg (n, 2), from those of x and y."""
    length = np.maximum(np.hypot(*legs_mm.T), NOTHING)
    share = np.abs(legs_mm) / length[:, None]
    return np.asarray((np.array(limits) / np.maximum(share, NOTHING)).min(axis=1))


def squared_speeds(
    lengths_mm: NDArray[np.float64],
    caps: NDArray[np.float64],
    tangents: NDArray[np.float64],
    bends: NDArray[np.float64],
    along_mm_s2: NDArray[np.float64],
    limits_mm_s2: Pair,
) -> NDArray[np.float64]:
    """Squares of the greatest speeds at the ends of n stretches, (n + 1,).

    caps: (n + 1,) squared. tangents, bends: (n + 1, 2) direction and curvature at each point;
    a bend of nothing is a corner or a straight, and only the cap counts there.
    along_mm_s2: (n,) limit along each stretch.
    """
    most = caps.copy()
    for k in range(len(lengths_mm) - 1, -1, -1):
        uppers, lowers = _lines(tangents[k], bends[k], float(along_mm_s2[k]), limits_mm_s2)
        double = 2 * float(lengths_mm[k])
        uppers.append((float(most[k + 1]) / double, -1 / double))
        lowers.append((0.0, -1 / double))
        x = float(caps[k])
        for high, rise in uppers:
            for low, climb in lowers:
                if climb > rise:
                    x = min(x, (high - low) / (climb - rise))
        most[k] = max(x, 0.0)
    found = most
    for k in range(len(lengths_mm)):
        uppers, _ = _lines(tangents[k], bends[k], float(along_mm_s2[k]), limits_mm_s2)
        gain = min(high + rise * float(found[k]) for high, rise in uppers)
        found[k + 1] = min(found[k + 1], max(found[k] + 2 * lengths_mm[k] * gain, 0.0))
    return found


def _lines(
    tangent: NDArray[np.float64], bend: NDArray[np.float64], most: float, limits: Pair
) -> tuple[list[Pair], list[Pair]]:
    """Limits of the acceleration along the path, each as value and slope over v squared."""
    if not bend.any():
        return [(most, 0.0)], [(-most, 0.0)]
    uppers: list[Pair] = []
    lowers: list[Pair] = []
    for t, k, limit in zip(tangent.tolist(), bend.tolist(), limits, strict=True):
        if abs(t) > NOTHING:
            uppers.append((limit / abs(t), -k / t))
            lowers.append((-limit / abs(t), -k / t))
    return uppers, lowers


def bend_caps(bends: NDArray[np.float64], limits_mm_s2: Pair) -> NDArray[np.float64]:
    """The greatest squared speeds (n,) at which each axis still holds the bends (n, 2)."""
    held = np.array(limits_mm_s2) / np.maximum(np.abs(bends), NOTHING)
    return np.asarray(held.min(axis=1))
