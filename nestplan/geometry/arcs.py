"""Chords back to arcs: runs of points that were flattened from one circle are found again.

Many cutters follow an arc more smoothly than twenty chords, and a file of arcs is smaller.
An arc is taken only where every point of the run lies on it and no chord leaves it by more
than curves are flattened by, so that arc and chords are one line to a knife.
"""

from dataclasses import dataclass
from math import asin, pi, tan

import numpy as np
from numpy.typing import NDArray

from nestplan.geometry.outline import FLATTEN_MM

POINT_MM = 0.002  # how far a point of the run may lie off its arc
CHORD_MM = FLATTEN_MM + POINT_MM
CHORDS_LEAST = 3  # two chords and a third that agrees: less is a corner that was cut off
CIRCLE_LEAST = 8  # points; a regular polygon of fewer sides was drawn as one
TURN_MOST = pi  # a longer arc becomes two, which every reader can follow

Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Circle:
    """A whole ring that is a circle."""

    x_mm: float
    y_mm: float
    radius_mm: float


def circle_of(ring: Points) -> Circle | None:
    """The circle that a closed ring (n, 2) was flattened from, if it was."""
    if len(ring) < CIRCLE_LEAST:
        return None
    near = ring - ring[0]
    rows = np.column_stack([2 * near, np.ones(len(near))])
    (x, y, rest), *_ = np.linalg.lstsq(rows, (near**2).sum(axis=1), rcond=None)
    centre = np.array([x, y])
    radius = float(np.sqrt(max(rest + x * x + y * y, 0.0)))
    closed = np.vstack([near, near[:1]])
    if not _lies_on(closed, centre, radius) or not _runs_one_way(closed):
        return None
    turned = _turns(closed, radius)
    if abs(turned - 2 * pi) > 0.01:
        return None
    x_mm, y_mm = (centre + ring[0]).tolist()
    return Circle(x_mm=x_mm, y_mm=y_mm, radius_mm=radius)


def bulges_of(ring: Points) -> list[tuple[int, float]]:
    """A closed ring (n, 2) as lines and arcs: the points that are kept, each with its bulge.

    As `line_bulges` has it; the way from the last point kept leads back to the first.
    """
    return line_bulges(np.vstack([ring, ring[:1]]))[:-1]


def line_bulges(line: Points) -> list[tuple[int, float]]:
    """An open line (n, 2) as lines and arcs: the points that are kept, each with its bulge.

    The first and the last are the line's own. bulge: tan of a quarter of the angle that the line to
    the next kept point turns through, positive counter-clockwise, 0 where it is straight (the
    definition of DXF's group 42).
    """
    last = len(line) - 1
    vertices = []
    at = 0
    while at < last:
        end = _farthest(line, at, last)
        bulge = _bulge(line[at : end + 1]) if end > at + 1 else 0.0
        vertices.append((at, bulge))
        at = end
    return [*vertices, (last, 0.0)]


def _farthest(closed: Points, start: int, last: int) -> int:
    """Index of the last point of the longest arc from a start; the next point where none is."""
    good = start + 1
    step = CHORDS_LEAST
    while start + step <= last and _is_arc(closed[start : start + step + 1]):
        good = start + step
        step *= 2
    bad = min(start + step, last + 1)
    if good == start + 1:
        return good
    while bad - good > 1:
        middle = (good + bad) // 2
        if _is_arc(closed[start : middle + 1]):
            good = middle
        else:
            bad = middle
    return good


def _is_arc(run: Points) -> bool:
    if not _runs_one_way(run):
        return False
    found = _through(run)
    if found is None:
        return False
    centre, radius = found
    return _lies_on(run - run[0], centre, radius) and _turns(run, radius) <= TURN_MOST + 1e-6


def _through(run: Points) -> tuple[Points, float] | None:
    """Centre, from the run's first point, and radius of the circle through three of its points."""
    (bx, by), (cx, cy) = run[len(run) // 2] - run[0], run[-1] - run[0]
    twice = 2 * (bx * cy - by * cx)
    if abs(twice) < 1e-12:
        return None
    b, c = bx * bx + by * by, cx * cx + cy * cy
    centre = np.array([(cy * b - by * c) / twice, (bx * c - cx * b) / twice])
    return centre, float(np.hypot(*centre))


def _lies_on(near: Points, centre: Points, radius: float) -> bool:
    """All points on the circle, all chords near it."""
    if not 0 < radius < 1e5:
        return False
    off = np.abs(np.hypot(*(near - centre).T) - radius)
    if float(off.max()) > POINT_MM:
        return False
    half = np.hypot(*np.diff(near, axis=0).T) / 2
    if float(half.max()) > radius:
        return False
    return float((radius - np.sqrt(radius**2 - half**2)).max()) <= CHORD_MM


def _runs_one_way(run: Points) -> bool:
    steps = np.diff(run, axis=0)
    crosses = steps[:-1, 0] * steps[1:, 1] - steps[:-1, 1] * steps[1:, 0]
    return bool((crosses > 0).all() or (crosses < 0).all())


def _turns(run: Points, radius: float) -> float:
    """Angle at the centre over all chords, radians."""
    half = np.hypot(*np.diff(run, axis=0).T) / 2
    return float(2 * np.arcsin(np.minimum(half / radius, 1.0)).sum())


def _bulge(run: Points) -> float:
    found = _through(run)
    assert found is not None, "the run was found to be an arc"
    _, radius = found
    steps = np.diff(run[:3], axis=0)
    way = 1.0 if steps[0, 0] * steps[1, 1] - steps[0, 1] * steps[1, 0] > 0 else -1.0
    half_chord = float(np.hypot(*(run[-1] - run[0]))) / 2
    angle = 2 * asin(min(half_chord / radius, 1.0))  # at most half a turn
    return way * tan(angle / 4)
