"""How far off a two-dimensional normal error is: the chance beyond a radius, and the radius.

With L L' the covariance, an error is mean + rho L (cos t, sin t), t even over the circle and
rho with P(rho > r) = exp(-r^2 / 2). Along each ray the circle |e| = R is met at a known rho,
so the chance beyond it is an average over rays of positive terms: exact in the far tail too.
"""

import numpy as np
from numpy.typing import NDArray

RAYS = 64  # error of the radius 2e-14 without a mean, for any ratio of the axes
TURNS = 12  # of Newton, each halved in a bracket where it would leave it
ROUNDING = 1e-9  # a step this little out of the bracket has arrived
LEAST_MM2 = 1e-12  # variance below which a millionth of a millimetre is put in its place

Array = NDArray[np.float64]


def chance_beyond(mean_mm: Array, covariance_mm2: Array, radius_mm: Array) -> Array:
    """P(|e| > radius) of n errors.

    mean_mm (n, 2), covariance_mm2 (n, 2, 2), radius_mm (n,). Good to 0.005 where the mean
    itself lies beyond: such a chance is over a half.
    """
    rays = _rays(covariance_mm2)
    along = np.einsum("na,nta->nt", mean_mm, rays)
    square = (rays**2).sum(axis=2)
    room = (radius_mm**2 - (mean_mm**2).sum(axis=1))[:, None]
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        root = np.sqrt(along**2 + square * room)
        outward = np.where(along > 0, room / (along + root), (root - along) / square)
        from_inside = np.exp(-(outward**2) / 2)
        # the mean lies outside: what meets the disc is what is not beyond
        near, far = (-along - root) / square, (-along + root) / square
        met = np.where((along < 0) & (root >= 0), np.exp(-(near**2) / 2) - np.exp(-(far**2) / 2), 0)
    beyond: Array = np.where(room > 0, from_inside, 1.0 - met).mean(axis=1)
    return beyond


def radius_within(mean_mm: Array, covariance_mm2: Array, share: float = 0.95) -> Array:
    """(n,) radius that holds this share of n errors; share at least a half.

    Newton on ln P in R^2, kept in a bracket: P beyond |mean| is at least a half, and beyond
    |mean| + 2.448 sd less than 0.05. source: ours; without a mean it is the radius of marks
    with unequal axes, chi-square with two degrees of freedom where they are equal.
    """
    beyond = 1.0 - share
    off2 = (mean_mm**2).sum(axis=1)
    rays = _rays(covariance_mm2)
    along = np.einsum("na,nta->nt", mean_mm, rays)
    square = (rays**2).sum(axis=2)
    widest = np.sqrt(square.max(axis=1))
    low, high = off2, (np.sqrt(off2) + 1.01 * np.sqrt(-2 * np.log(beyond)) * widest) ** 2
    at = (low + high) / 2
    for _ in range(TURNS):
        room = (at - off2)[:, None]
        root = np.sqrt(along**2 + square * room)
        outward = np.where(along > 0, room / (along + root), (root - along) / square)
        each = np.exp(-(outward**2) / 2)
        chance = each.mean(axis=1)
        slope = (outward * each / (2 * root)).mean(axis=1)
        low, high = np.where(chance > beyond, at, low), np.where(chance > beyond, high, at)
        step = at + np.log(chance / beyond) * chance / slope
        astray = (step < low * (1 - ROUNDING)) | (step > high * (1 + ROUNDING))
        at = np.where(astray, (low + high) / 2, np.clip(step, low, high))
    radius: Array = np.sqrt(at)
    return radius


def _rays(covariance_mm2: Array) -> Array:
    """(n, RAYS, 2): a square root of each covariance, times directions all round."""
    first = np.sqrt(np.maximum(covariance_mm2[:, 0, 0], LEAST_MM2))
    cross = covariance_mm2[:, 0, 1] / first
    second = np.sqrt(np.maximum(covariance_mm2[:, 1, 1] - cross**2, LEAST_MM2))
    turn = (np.arange(RAYS) + 0.5) * (2 * np.pi / RAYS)
    x = first[:, None] * np.cos(turn)
    y = cross[:, None] * np.cos(turn) + second[:, None] * np.sin(turn)
    return np.stack([x, y], axis=2)
