"""Paths, and what independent libraries say of their times; a test skips where one is missing."""

import numpy as np
import pytest


def point_to_point_s(lengths_mm, speed, acceleration):
    """Rest to rest along one axis, no limit on jerk, by ruckig."""
    ruckig = pytest.importorskip("ruckig", reason="ruckig has no wheel here")
    times = []
    for length in lengths_mm:
        mover, given = ruckig.Ruckig(1), ruckig.InputParameter(1)
        given.current_position, given.target_position = [0.0], [float(length)]
        given.max_velocity, given.max_acceleration = [speed], [acceleration]
        given.max_jerk = [float("inf")]
        trajectory = ruckig.Trajectory(1)
        mover.calculate(given, trajectory)
        times.append(trajectory.duration)
    return np.array(times)


def spline_of(seed):
    """A smooth random path of eight knots: points (k, 2) and the spline, by its own arc."""
    interpolate = pytest.importorskip("scipy.interpolate")
    rng = np.random.default_rng(seed)
    turns = np.linspace(0, rng.uniform(2, 6), 8)
    knots = np.column_stack([np.cos(turns), np.sin(turns)]) * rng.uniform(25, 60, (8, 1))
    return interpolate.CubicSpline(np.arange(8.0), knots)


def spline_s(spline, speeds, accelerations):
    """Time along a spline within limits of each axis, by toppra."""
    toppra = pytest.importorskip("toppra", reason="toppra has no wheel here")
    import logging

    logging.getLogger("toppra").setLevel(logging.ERROR)
    from toppra import algorithm, constraint

    path = toppra.SplineInterpolator(spline.x, spline(spline.x), bc_type="not-a-knot")
    limits = [
        constraint.JointVelocityConstraint(np.array([[-v, v] for v in speeds])),
        constraint.JointAccelerationConstraint(np.array([[-a, a] for a in accelerations])),
    ]
    grid = np.linspace(spline.x[0], spline.x[-1], 2001)
    solver = algorithm.TOPPRA(limits, path, gridpoints=grid, solver_wrapper="seidel")
    _, speeds_s, _ = solver.compute_parameterization(0.0, 0.0)
    return float((2 * np.diff(grid) / (speeds_s[1:] + speeds_s[:-1])).sum())


def fine_corner_path_s(points, pace):
    """A polyline whose corners the head rounds, by fine steps along it.

    Speed is capped at each corner by its rounding circle; v dv/ds = +-a between, in steps of
    a two-thousandth of the path.
    """
    legs = np.diff(points, axis=0)
    lengths = np.hypot(*legs.T)
    unit = legs / lengths[:, None]
    inside = np.pi - np.arccos(np.clip((unit[:-1] * unit[1:]).sum(axis=1), -1, 1))
    radius = pace.corner_mm * np.sin(inside / 2) / np.maximum(1 - np.sin(inside / 2), 1e-30)
    where = np.concatenate([[0.0], np.cumsum(lengths)])
    caps = np.concatenate([[0.0], np.sqrt(pace.acceleration_mm_s2 * radius), [0.0]])
    step = where[-1] / 20_000
    places = np.linspace(0, where[-1], 20_001)
    square = np.full(len(places), pace.speed_mm_s**2)
    at = np.rint(where / step).astype(int)
    square[at] = np.minimum(square[at], caps**2)
    for k in range(len(square) - 1, 0, -1):
        square[k - 1] = min(square[k - 1], square[k] + 2 * pace.acceleration_mm_s2 * step)
    for k in range(len(square) - 1):
        square[k + 1] = min(square[k + 1], square[k] + 2 * pace.acceleration_mm_s2 * step)
    speed = np.sqrt(square)
    return float((2 * step / (speed[1:] + speed[:-1])).sum())


def random_corners(seed):
    """Three to twelve straight legs of 5 to 80 mm in any direction."""
    rng = np.random.default_rng(seed)
    turns, lengths = rng.uniform(0, 2 * np.pi, rng.integers(3, 13)), rng.uniform(5, 80, 12)
    legs = np.column_stack([np.cos(turns), np.sin(turns)]) * lengths[: len(turns), None]
    return np.vstack([[0.0, 0.0], np.cumsum(legs, axis=0)])
