"""How long a moving head takes along a path: steady acceleration, limited speed, slow corners.

Speed rises and falls with one acceleration and is capped at every corner; a pass backward
and a pass forward give the greatest speeds that can be reached. That is the least time for
a limit on the acceleration along the path (Bobrow, Dubowsky, Gibson 1985; Shin, McKay
1985, from memory). Where the web has limits of its own, each axis keeps its own: see
`axes`. Jerk is not modelled.
"""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from nestplan.clock.axes import along, bend_caps, squared_speeds

Pair = tuple[float, float]
STRAIGHT_ON = 1e-9  # of a direction: the other axis does not move
NO_TURN = 1e-30  # stands for zero below a line: straight on, any radius will do


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """What a head can do. corner_mm: it may pass a corner by this much to keep its speed.

    web_speed_mm_s, web_acceleration_mm_s2: of the web, in y; then the others are the head's, in
    x. None: head and web are one mover, and the limits hold along the path.
    """

    speed_mm_s: float
    acceleration_mm_s2: float
    corner_mm: float
    web_speed_mm_s: float | None = None
    web_acceleration_mm_s2: float | None = None

    @property
    def by_axis(self) -> bool:
        """Whether head and web have limits of their own."""
        return self.web_speed_mm_s is not None or self.web_acceleration_mm_s2 is not None

    @property
    def speeds_mm_s(self) -> Pair:
        """Of head and web."""
        web = self.web_speed_mm_s
        return self.speed_mm_s, self.speed_mm_s if web is None else web

    @property
    def accelerations_mm_s2(self) -> Pair:
        """Of head and web."""
        web = self.web_acceleration_mm_s2
        return self.acceleration_mm_s2, self.acceleration_mm_s2 if web is None else web


def path_s(points_mm: NDArray[np.float64], pace: Pace) -> float:
    """Time along a polyline (n, 2), n >= 2, from rest to rest, seconds."""
    points, lengths = merged(points_mm, pace.corner_mm)
    if not len(lengths):
        return 0.0
    if pace.by_axis:
        return _by_axis_s(points, lengths, pace)
    caps = np.concatenate([[0.0], corner_speeds_mm_s(points, pace), [0.0]])
    speeds = joint_speeds_mm_s(lengths, caps, pace.acceleration_mm_s2)
    return float(straight_s(lengths, pace, speeds[:-1], speeds[1:]).sum())


def moves_s(legs_mm: NDArray[np.float64], pace: Pace) -> NDArray[np.float64]:
    """Times (n,) of straight moves (n, 2) from rest to rest, seconds."""
    lengths: NDArray[np.float64] = np.hypot(*legs_mm.T)
    if not pace.by_axis:
        return straight_s(lengths, pace)
    v, a = along(pace.speeds_mm_s, legs_mm), along(pace.accelerations_mm_s2, legs_mm)
    return _straight_s(lengths, v, a, 0.0, 0.0)


def straight_s(
    length_mm: NDArray[np.float64],
    pace: Pace,
    enter_mm_s: NDArray[np.float64] | float = 0.0,
    leave_mm_s: NDArray[np.float64] | float = 0.0,
) -> NDArray[np.float64]:
    """Times of straight moves, seconds; arrays (n,) or one number for all.

    enter, leave: speeds at the ends, none over the pace's, and near enough to each other
    to be reached on this length. source: elementary, uniform acceleration.
    """
    v, a = np.array(pace.speed_mm_s), np.array(pace.acceleration_mm_s2)
    return _straight_s(length_mm, v, a, enter_mm_s, leave_mm_s)


def _straight_s(
    length_mm: NDArray[np.float64],
    v: NDArray[np.float64],
    a: NDArray[np.float64],
    enter_mm_s: NDArray[np.float64] | float,
    leave_mm_s: NDArray[np.float64] | float,
) -> NDArray[np.float64]:
    both = np.square(enter_mm_s) + np.square(leave_mm_s)
    peak = np.minimum(v, np.sqrt((2 * a * length_mm + both) / 2))
    ramps = (2 * np.square(peak) - both) / (2 * a)
    steady = np.maximum(length_mm - ramps, 0.0)  # not below zero by rounding
    times: NDArray[np.float64] = (2 * peak - enter_mm_s - leave_mm_s) / a + steady / v
    return times


def joint_speeds_mm_s(
    lengths_mm: NDArray[np.float64], caps_mm_s: NDArray[np.float64], acceleration_mm_s2: float
) -> NDArray[np.float64]:
    """The greatest speeds at the ends of n stretches, (n + 1,), none over its cap.

    Backward, so that every corner can be braked for; forward, so that it can be reached.
    """
    gains = (2 * acceleration_mm_s2 * lengths_mm).tolist()
    speeds = caps_mm_s.tolist()
    for k in range(len(gains) - 1, -1, -1):
        speeds[k] = min(speeds[k], sqrt(speeds[k + 1] ** 2 + gains[k]))
    for k, gain in enumerate(gains):
        speeds[k + 1] = min(speeds[k + 1], sqrt(speeds[k] ** 2 + gain))
    return np.array(speeds)


def corner_speeds_mm_s(points_mm: NDArray[np.float64], pace: Pace) -> NDArray[np.float64]:
    """Speed caps (n - 2,) at the inner points of a polyline (n, 2), no two of them alike.

    A corner is rounded by a circle that touches both legs and passes the corner by
    `corner_mm`: R = d sin(i/2) / (1 - sin(i/2)), i the inside angle, and v = sqrt(a R). A
    curve chopped finely has corners so flat that this says next to nothing: R is never
    more than that of the circle through the point and its two neighbours, which is the
    curve's own radius however unevenly it is chopped. source: elementary.
    """
    radius, _ = radii_mm(points_mm, pace.corner_mm)
    speeds: NDArray[np.float64] = np.minimum(
        pace.speed_mm_s, np.sqrt(pace.acceleration_mm_s2 * radius)
    )
    return speeds


def radii_mm(
    points_mm: NDArray[np.float64], corner_mm: float
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Radii (n - 2,) at which the inner points are passed, and whether each is of a curve."""
    legs = np.diff(points_mm, axis=0)
    before, after = legs[:-1], legs[1:]
    cross = np.abs(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0])
    dot = (before * after).sum(axis=1)
    half_turn = 0.5 * np.arctan2(cross, dot)  # half the turning angle, in [0, pi / 2]
    flat = np.maximum(2 * np.sin(half_turn / 2) ** 2, NO_TURN)  # 1 - sin(i/2)
    rounding = corner_mm * np.cos(half_turn) / flat
    across = np.hypot(*(points_mm[2:] - points_mm[:-2]).T)
    sides = across * np.hypot(*before.T) * np.hypot(*after.T)
    # three sides over four times the area; beyond a right angle it is a corner, not a curve
    through = np.where(dot > 0, sides / np.maximum(2 * cross, NO_TURN), np.inf)
    return np.minimum(rounding, through), through <= rounding


def _by_axis_s(points: NDArray[np.float64], lengths: NDArray[np.float64], pace: Pace) -> float:
    """Time along a polyline (n, 2), each axis within its own limits, from rest to rest."""
    legs = np.diff(points, axis=0)
    fast, strong = along(pace.speeds_mm_s, legs), along(pace.accelerations_mm_s2, legs)
    unit = legs / np.hypot(*legs.T)[:, None]
    tangents, bends = np.zeros_like(points), np.zeros_like(points)
    caps = np.zeros(len(points))
    curved = np.zeros(len(points), dtype=bool)
    if len(points) > 2:
        radius, curved[1:-1] = radii_mm(points, pace.corner_mm)
        turn = unit[1:] - unit[:-1]
        middle = unit[1:] * lengths[:-1, None] + unit[:-1] * lengths[1:, None]
        bent = turn / np.maximum(np.hypot(*turn.T), NO_TURN)[:, None] / radius[:, None]
        tangents[1:-1] = middle / np.maximum(np.hypot(*middle.T), NO_TURN)[:, None]
        least = np.minimum(fast[:-1], fast[1:])
        held = bend_caps(bent, pace.accelerations_mm_s2)
        # on a curve, braking along the path may help an axis to hold it, unless it moves across
        shared = np.abs(tangents[1:-1]).min(axis=1) > STRAIGHT_ON
        held = np.where(curved[1:-1] & shared, np.inf, held)
        caps[1:-1] = np.minimum(least**2, held)
        bends[1:-1] = np.where(curved[1:-1, None], bent, 0.0)
    speeds = np.sqrt(
        squared_speeds(lengths, caps, tangents, bends, strong, pace.accelerations_mm_s2)
    )
    times = _straight_s(lengths, fast, strong, speeds[:-1], speeds[1:])
    smooth = curved[:-1] & curved[1:] & (speeds[:-1] + speeds[1:] > 0)
    ends = np.maximum(speeds[:-1] + speeds[1:], NO_TURN)
    return float(np.where(smooth, 2 * lengths / ends, times).sum())


def merged(
    points_mm: NDArray[np.float64], apart_mm: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Points (m, 2) at least `apart_mm` from one to the next, and path lengths (m - 1,).

    What lies nearer together than a corner may be missed by is one corner to the head,
    also where a file has it as an arc of specks. The length of what is left out stays.
    The last point stays where it is, and the one before it goes if it is too near.
    """
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points_mm, axis=0).T))])
    if np.diff(along).min() >= apart_mm:
        return points_mm, np.diff(along)
    kept, reach = [0], apart_mm
    for k, way in enumerate(along.tolist()):
        if way >= reach:
            kept.append(k)
            reach = way + apart_mm
    if kept[-1] != len(along) - 1:
        if len(kept) > 1:
            kept.pop()
        kept.append(len(along) - 1)
    if along[-1] == 0.0:
        return points_mm[:1], np.empty(0)
    return points_mm[kept], np.diff(along[kept])
