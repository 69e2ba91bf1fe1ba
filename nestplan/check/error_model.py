"""The predicted error worked out anew from what the summary says, by ways of the check's own.

The fit is done on unit shifts of the marks; the covariance of marks and place is written down
whole and carried through it; chances come from Gauss-Legendre over strips of the normal.
"""

from math import erf

import numpy as np
from numpy.typing import NDArray

from nestplan.check.outlines import Points
from nestplan.check.said import SaidErrors

Array = NDArray[np.float64]

EDGE_MM = 60.0  # an edge's marks stand this near its outermost one
JOINT_MM = 1.0  # pairs nearer than this share a joint
NODES = 96
LEAST_SD_MM = 1e-6
ERF = np.frompyfunc(erf, 1, 1)


def mean_and_covariance(model: SaidErrors, marks: Points, places: Points) -> tuple[Array, Array]:
    """(n, 2) and (n, 2, 2) of cut less print. marks: (N, 2) by their numbers; places: (n, 2)."""
    n, m = len(places), len(marks)
    at = np.concatenate([marks, np.zeros((1, 2))])
    carry = np.concatenate(
        [_carried(model.corrects, marks, places), np.broadcast_to(-np.eye(2), (n, 2, 2))], axis=2
    )
    mean, covariance = np.zeros((n, 2)), np.zeros((n, 2, 2))
    low = min(float(marks[:, 1].min()), float(places[:, 1].min()))
    # what x and y of a place become: rows are x and y
    stretch = np.array(
        [[model.across_percent / 100, 0.0], [model.skew_mm_m / 1000, model.along_percent / 100]]
    )
    offset = np.array([model.offset_x_mm, model.offset_y_mm])
    for k, place in enumerate(places):
        at[m] = place
        mean[k] = carry[k] @ (at @ stretch).ravel() + offset
        covariance[k] = carry[k] @ _film(model, at, low) @ carry[k].T
    own = model.print_noise_mm**2 + model.cut_noise_mm**2 + model.offset_sd_mm**2
    return mean, covariance + own * np.eye(2)


def _film(model: SaidErrors, at: Points, low: float) -> Array:
    """Covariance of the shifts x1, y1, x2 ... of the marks and of the place, which comes last."""
    x, y = at.T
    none = np.zeros_like(x)
    apart = (x[:, None] - x) ** 2 + (y[:, None] - y) ** 2
    smooth = model.distortion_mm**2 * np.exp(-apart / (2 * model.distortion_length_mm**2))
    read = np.full(len(at), model.print_noise_mm**2 + model.sensor_noise_mm**2)
    read[-1] = 0.0
    covariance = np.kron(smooth + np.diag(read), np.eye(2))
    walk = model.tracking_mm_m**2 / 1000 * np.minimum(y[:, None] - low, y - low)
    covariance += np.kron(walk, np.diag([1.0, 0.0]))
    for across, along in (
        (none, y * (model.along_sd_percent / 100)),
        (x * (model.across_sd_percent / 100), none),
        (x * (model.both_sd_percent / 100), y * (model.both_sd_percent / 100)),
        (y * (model.skew_sd_mm_m / 1000), none),
        (-y * (model.askew_sd_mm_m / 1000), x * (model.askew_sd_mm_m / 1000)),
    ):
        shift = np.column_stack([across, along]).ravel()
        covariance += np.outer(shift, shift)
    result: Array = covariance
    return result


def _carried(corrects: str, marks: Points, places: Points) -> Array:
    """(n, 2, 2N): shift of each place for a unit shift of each mark in x, then in y."""
    n, m = len(places), len(marks)
    carry = np.zeros((n, 2, m, 2))
    middle = marks.mean(axis=0)
    arm, reach = marks - middle, places - middle
    if corrects == "none":
        carry[:, (0, 1), 0, (0, 1)] = 1.0
    elif corrects in ("turn", "similarity"):
        carry[:, (0, 1), :, (0, 1)] = 1 / m
        spread = (arm**2).sum()
        across = np.stack([-arm[:, 1], arm[:, 0]], axis=1) / spread  # what each shift turns
        turned = np.stack([-reach[:, 1], reach[:, 0]], axis=1)
        carry += np.einsum("ka,ib->kaib", turned, across)
        if corrects == "similarity":
            carry += np.einsum("ka,ib->kaib", reach, arm / spread)
    else:
        known, wanted = _columns(corrects, arm, arm), _columns(corrects, reach, arm)
        weights = wanted @ np.linalg.solve(known.T @ known, known.T)
        carry[:, 0, :, 0] = carry[:, 1, :, 1] = weights
    return carry.reshape(n, 2, 2 * m)


def _columns(corrects: str, at: Points, arm: Points) -> Array:
    """What one axis is fitted with, coordinates in metres."""
    x, y = at.T / 1000
    if corrects == "affine":
        return np.column_stack([np.ones_like(x), x, y])
    joints = _joints(arm) / 1000
    # straight lines that bend at the inner joints
    bends = [np.maximum(y - joint, 0.0) for joint in joints[1:-1]]
    return np.column_stack([np.ones_like(x), x, y, *bends])


def _joints(marks: Points) -> Array:
    """Where the strips meet: half-way between the two marks of a pair."""
    x = marks[:, 0]
    band = min(EDGE_MM, (x.max() - x.min()) / 3)
    sides = [np.sort(marks[near, 1]) for near in (x - x.min() <= band, x.max() - x <= band)]
    few, many = sorted(sides, key=len)
    if len(few) < len(many):
        many = np.array([many[np.abs(many - y).argmin()] for y in few])
    joints = [float(few[0] + many[0]) / 2]
    for each in ((few + many) / 2).tolist():
        if each - joints[-1] > JOINT_MM:
            joints.append(each)
    return np.array(joints)


def chance_off(mean: Array, covariance: Array, radius_mm: Array) -> Array:
    """(n,) chance of an error beyond its radius.

    In the axes of the ellipse, strip by strip: x = R sin t, and in y what the circle leaves.
    """
    squares, axes = np.linalg.eigh(covariance)
    small, great = np.sqrt(np.maximum(squares, LEAST_SD_MM**2)).T[:, :, None]
    off = np.einsum("nab,na->nb", axes, mean)
    low, wide = off[:, :1], off[:, 1:]
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    # strips where the normal is, not where the circle is wide
    start = np.clip((wide - 9 * great) / radius_mm[:, None], -1, 1)
    end = np.clip((wide + 9 * great) / radius_mm[:, None], -1, 1)
    first, last = np.arcsin(start), np.arcsin(end)
    t = (first + last) / 2 + (last - first) / 2 * nodes
    x, half = radius_mm[:, None] * np.sin(t), radius_mm[:, None] * np.cos(t)
    across = np.exp(-(((x - wide) / great) ** 2) / 2) / (great * np.sqrt(2 * np.pi))
    inside = _below((half - low) / small) - _below((-half - low) / small)
    held = (across * inside * half * weights).sum(axis=1) * ((last - first) / 2)[:, 0]
    result: Array = 1.0 - held
    return result


def _below(z: Array) -> Array:
    """The normal distribution."""
    result: Array = 0.5 * (1.0 + ERF(z / np.sqrt(2)).astype(np.float64))
    return result
