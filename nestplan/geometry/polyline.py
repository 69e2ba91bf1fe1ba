"""Curves become chords that lie no farther off than a stated distance.

The points of least and greatest x and y are always among the ends of the chords, so a
flattened curve is exactly as wide and as high as the curve itself. Circles, ellipses and
their arcs are flattened from the true arc, never from cubics that stand in for it.
"""

from dataclasses import dataclass, replace
from itertools import pairwise
from math import asin, atan2, ceil, inf, pi, sqrt

import numpy as np
from numpy.typing import NDArray

CHORDS_MOST = 20_000  # of one curve; a limit for broken files, far above any real contour

Points = NDArray[np.float64]
Affine = NDArray[np.float64]  # (3, 3), last row 0 0 1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """A straight piece. points: (2, 2), both ends."""

    points: Points

    def mapped(self, affine: Affine) -> "Line":
        """The same piece in other coordinates."""
        return Line(points=map_points(self.points, affine))

    def flattened(self, off_mm: float) -> Points:
        """Both ends, (2, 2)."""
        return self.points

    def directions(self) -> Points:
        """Which way it runs at its start and at its end, (2, 2), of any length."""
        return np.repeat(np.diff(self.points, axis=0), 2, axis=0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cubic:
    """A cubic Bézier curve. points: (4, 2), its control points."""

    points: Points

    def mapped(self, affine: Affine) -> "Cubic":
        """The same curve in other coordinates."""
        return Cubic(points=map_points(self.points, affine))

    def flattened(self, off_mm: float) -> Points:
        """Chord ends, (n, 2), both ends of the curve included.

        source: Wang's bound for degree 3, n = sqrt(6/8 * greatest second difference / off);
        G. Wang 1984, quoted from memory, tested against dense points of the curve.
        """
        second = self.points[2:] - 2 * self.points[1:-1] + self.points[:-2]
        chords = sqrt(0.75 * float(np.hypot(*second.T).max()) / off_mm)
        t = _steps(np.array([0.0, *self._turning_points(), 1.0]), chords)[:, np.newaxis]
        a, b, c, d = self.points
        s = 1 - t
        at: Points = s**3 * a + 3 * s**2 * t * b + 3 * s * t**2 * c + t**3 * d
        at[0], at[-1] = a, d
        return at

    def directions(self) -> Points:
        """Which way it runs at its start and at its end, (2, 2), of any length."""
        away, back = self.points[1:] - self.points[0], self.points[-1] - self.points[:-1]
        first = next((d for d in away if d.any()), away[-1])
        last = next((d for d in back[::-1] if d.any()), back[0])
        return np.stack([first, last])

    def _turning_points(self) -> list[float]:
        """Parameters where the curve runs straight up or straight across."""
        first = np.diff(self.points, axis=0)
        found: set[float] = set()
        for a, b, c in first.T.tolist():  # derivative a(1-t)^2 + 2b(1-t)t + c t^2, up to a factor
            found |= {t for t in _roots(a - 2 * b + c, 2 * (b - a), a) if 0 < t < 1}
        return sorted(found)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Arc:
    """An arc of an ellipse: centre + cos(t) u + sin(t) v.

    points: (3, 2), the rows centre, u, v; u and v are any two conjugate half diameters.
    start_rad, sweep_rad: t runs from start to start + sweep.
    """

    points: Points
    start_rad: float
    sweep_rad: float

    def mapped(self, affine: Affine) -> "Arc":
        """The same arc in other coordinates: an ellipse stays an ellipse."""
        centre = map_points(self.points[:1], affine)
        limbs = self.points[1:] @ affine[:2, :2].T
        return replace(self, points=np.concatenate([centre, limbs]))

    def flattened(self, off_mm: float) -> Points:
        """Chord ends, (n, 2), both ends of the arc included; all on the true arc.

        An ellipse is a circle stretched by at most its long half axis r, so chords over equal
        steps of t lie within r (1 - cos(step / 2)) = 2 r sin^2(step / 4).
        """
        centre, u, v = self.points
        radius = float(np.linalg.norm(self.points[1:], 2))
        step = 4 * asin(sqrt(off_mm / radius / 2)) if radius > off_mm else pi / 2
        breaks = np.array([0.0, *self._turning_points(u, v), abs(self.sweep_rad)])
        t = _steps(breaks, 1 / min(step, pi / 2)) * np.sign(self.sweep_rad) + self.start_rad
        at: Points = centre + np.outer(np.cos(t), u) + np.outer(np.sin(t), v)
        return at

    def directions(self) -> Points:
        """Which way it runs at its start and at its end, (2, 2), of any length."""
        _, u, v = self.points
        t = np.array([self.start_rad, self.start_rad + self.sweep_rad])
        forward = np.outer(-np.sin(t), u) + np.outer(np.cos(t), v)
        return forward if self.sweep_rad > 0 else -forward

    def _turning_points(self, u: Points, v: Points) -> list[float]:
        """How far along the sweep the arc runs straight up or straight across."""
        turn = 1.0 if self.sweep_rad > 0 else -1.0
        found = set()
        for across, up in zip(u, v, strict=True):
            first = turn * (atan2(up, across) - self.start_rad) % pi
            found |= {first + k * pi for k in range(ceil(abs(self.sweep_rad) / pi))}
        return sorted(t for t in found if 1e-9 < t < abs(self.sweep_rad) - 1e-9)


Curve = Line | Cubic | Arc


def map_points(points: Points, affine: Affine) -> Points:
    """Points (n, 2) through an affine map."""
    mapped: Points = points @ affine[:2, :2].T + affine[:2, 2]
    return mapped


def without_repeats(points: Points, same_mm: float) -> Points:
    """The polyline without points nearer than same_mm to the one kept before; ends are kept."""
    if len(points) < 2 or np.hypot(*np.diff(points, axis=0).T).min() > same_mm:
        return points
    keep = [0]
    for i in range(1, len(points)):
        if np.hypot(*(points[i] - points[keep[-1]])) > same_mm:
            keep.append(i)
    if keep[-1] != len(points) - 1:  # the last point counts more than the one it is near to
        keep[-1 if len(keep) > 1 else len(keep) :] = [len(points) - 1]
    return points[keep]


def _steps(breaks: Points, per_unit: float) -> Points:
    """Parameters from the first break to the last: each break, and even steps between."""
    per_unit = min(per_unit, CHORDS_MOST / max(1e-12, breaks[-1] - breaks[0]))
    pieces = [
        np.linspace(a, b, max(1, ceil((b - a) * per_unit - 1e-9)), endpoint=False)
        for a, b in pairwise(breaks.tolist())
    ]
    return np.concatenate([*pieces, breaks[-1:]])


def _roots(a: float, b: float, c: float) -> list[float]:
    """Real roots of a t^2 + b t + c, by the form that does not cancel."""
    inside = b * b - 4 * a * c
    if inside < 0:
        return []
    q = -0.5 * (b + (sqrt(inside) if b >= 0 else -sqrt(inside)))
    return [n / d for n, d in ((q, a), (c, q)) if d != 0 and abs(n / d) < inf]
