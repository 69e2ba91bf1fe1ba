"""The pose that lays one ring best on another, from any start, either way round.

Complex numbers keep turn and size in one figure, so that the best pose between two rings
of as many points has a closed form; all starts are tried at once by Fourier transform.
Rings with other points on them are fitted roughly first, then closed in on.
"""

from cmath import phase
from dataclasses import dataclass
from math import degrees

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.check.outlines import SAME_MM, Points, Pose, ring_apart_mm

ROUGH_TURNS = 256  # places along a ring at which a rough fit looks
CLOSE_IN = 30  # rounds of the fine fit; each round halves what is left, or better


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """Where a ring was put, and how far from the ring's own shape it still is, mm."""

    pose: Pose
    off_mm: float


def fit_ring(model: Points, seen: Points, near: Pose) -> Fit:
    """The pose that lays a model ring best on a ring that was read.

    model: (n, 2) about the contour's centre; seen: (m, 2) on the film. Where several poses
    fit as well (a disc, a square), the one nearest to `near` is taken.
    """
    fits = [_fit_one_way(model, seen, near, mirrored) for mirrored in (near.mirrored, True, False)]
    best = min(fit.off_mm for fit in fits)
    return next(fit for fit in fits if fit.off_mm <= 1.5 * best + SAME_MM / 5)


def _fit_one_way(model: Points, seen: Points, near: Pose, mirrored: bool) -> Fit:
    if len(model) == len(seen):
        ways = [_best_turn(model, way, near, mirrored) for way in (seen, seen[::-1])]
        fit = min(ways, key=lambda each: each.off_mm)
        if fit.off_mm <= 5 * SAME_MM:
            return fit
    even = [_evenly(ring, ROUGH_TURNS) for ring in (model, seen)]
    rough = min(
        (_best_turn(even[0], way, near, mirrored) for way in (even[1], even[1][::-1])),
        key=lambda each: each.off_mm,
    )
    return _closed_in(model, seen, rough.pose)


def _complex(points: Points, mirrored: bool = False) -> NDArray[np.complex128]:
    x, y = points[:, 0], points[:, 1]
    return (-x if mirrored else x) + 1j * y


def _best_turn(model: Points, seen: Points, near: Pose, mirrored: bool) -> Fit:
    """Least squares over every start: all starts at once by Fourier transform."""
    p, q = _complex(model, mirrored), _complex(seen)
    p0, q0 = p.mean(), q.mean()
    a, b = p - p0, q - q0
    spread = float(np.vdot(a, a).real)
    if spread < 1e-12:
        return Fit(pose=near, off_mm=float("inf"))
    match = np.fft.ifft(np.conj(np.fft.fft(a)) * np.fft.fft(b))  # over starts
    left = np.sqrt(np.maximum(np.vdot(b, b).real - np.abs(match) ** 2 / spread, 0) / len(p))
    as_good = np.flatnonzero(left <= left.min() + SAME_MM / 5)
    turns = (np.angle(match[as_good], deg=True) - near.angle_deg + 180) % 360 - 180
    start = int(as_good[np.argmin(np.abs(turns))])
    z = match[start] / spread
    if abs(z) < 1e-9:
        return Fit(pose=near, off_mm=float("inf"))
    off = float(np.abs(z * a - np.roll(b, -start)).max())
    return Fit(pose=_pose(z, q0 - z * p0, mirrored), off_mm=off)


def _pose(z: complex, shift: complex, mirrored: bool) -> Pose:
    return Pose(
        x_mm=float(shift.real),
        y_mm=float(shift.imag),
        angle_deg=degrees(phase(z)),
        scale=float(abs(z)),
        mirrored=mirrored,
    )


def _evenly(ring: Points, count: int) -> Points:
    line = shapely.LinearRing(ring)
    at = np.linspace(0, line.length, count, endpoint=False)
    return shapely.get_coordinates(shapely.line_interpolate_point(line, at))


def _closed_in(model: Points, seen: Points, pose: Pose) -> Fit:
    """From a rough pose to a fine one: nearest points on the ring, fitted again and again."""
    line = shapely.LinearRing(seen)
    points = np.vstack([model, _evenly(model, ROUGH_TURNS)])
    p = _complex(points, pose.mirrored)
    for _ in range(CLOSE_IN):
        put = shapely.points(pose.put(points))
        near = shapely.line_interpolate_point(line, shapely.line_locate_point(line, put))
        q = _complex(shapely.get_coordinates(near))
        a, b = p - p.mean(), q - q.mean()
        z = np.vdot(a, b) / np.vdot(a, a).real
        if abs(z) < 1e-9:
            break
        pose = _pose(z, q.mean() - z * p.mean(), pose.mirrored)
    return Fit(pose=pose, off_mm=ring_apart_mm(pose.put(model), seen))
