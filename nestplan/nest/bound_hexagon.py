"""Convex pieces leave film free, because the cells round them have six sides on average.

Packed convex pieces can be widened until they are convex polygons that still do not overlap,
each round its piece. In a strip (a convex region of at most six sides) n such cells have at
most 6 n sides in all, by Euler's formula. A cell of k sides round K has at least the area
A_k(K) of the smallest k-gon round K, and A_k falls ever more slowly with k (Dowker), so no
choice of sides has less area than the greedy one.

source: L. Fejes Tóth, Some packing and covering theorems, Acta Sci. Math. (Szeged) 12A (1950)
62-67; C. H. Dowker, On minimum circumscribed polygons, Bull. Amer. Math. Soc. 50 (1944)
120-122; both from memory. The form for unequal pieces follows from the same two facts.
"""

from functools import lru_cache
from math import pi, sqrt

import numpy as np

from nestplan.geometry.outline import Outline
from nestplan.nest.bound_contours import (
    Floats,
    convex_inside,
    convex_part,
    grown_area_mm2,
    grown_convex,
)
from nestplan.nest.bound_radii import best_choices, length_for_mm
from nestplan.nest.hexagon import least_hexagon_mm2, least_polygons_mm2
from nestplan.nest.task import Task

SIDES_MOST = 12  # a cell of more sides is taken for the piece itself
CHOICES_MOST = 1  # choices of radii
SHAPES_MOST = 40  # more are left to the other bounds: a cell takes some hundredths of a second


def equal_hexagons_mm(task: Task, frames: int) -> float:
    """n congruent convex pieces in a strip need n times the area of their least hexagon.

    Turned and mirrored copies are covered. A shape that is not convex holds a convex part,
    and wherever its copies are packed those parts are.
    """
    if len(task.shapes) > 1 or task.copies == 1:
        return 0.0
    radius_mm = task.apart_mm[0][0] / 2
    area = _hexagon_mm2(task.shapes[0].outline, radius_mm)
    return length_for_mm(task, (radius_mm,), task.copies * area, frames)


@lru_cache(maxsize=512)
def _hexagon_mm2(outline: Outline, radius_mm: float) -> float:
    """Never more than the least hexagon round a convex part of the outline, grown.

    The better of two understatements: the hexagon of the grown polygon with its chords, and
    |h(K grown)| >= |h(K)| + r P(K) + 2 sqrt(3) r^2, for the girth of a hexagon's inner
    offset falls by at least 4 sqrt(3) a unit.
    """
    polygon = convex_part(outline)
    if polygon is None:
        return 0.0
    closed = least_hexagon_mm2(polygon) + radius_mm * _girth_mm(polygon)
    closed += 2 * sqrt(3) * radius_mm**2
    return max(closed, least_hexagon_mm2(grown_convex(polygon, radius_mm)))


def mixed_hexagons_mm(task: Task, frames: int) -> float:
    """The cheapest cells for several convex shapes: six sides a copy, shared out greedily."""
    if not 1 < len(task.shapes) <= SHAPES_MOST:
        return 0.0
    polygons = [convex_inside(shape.outline) for shape in task.shapes]
    if any(polygon is None for polygon in polygons):
        return 0.0
    copies = np.array([shape.copies for shape in task.shapes])
    lengths = [0.0]
    for radii in best_choices(task, frames)[:CHOICES_MOST]:
        if max(radii) == 0 and all(p is not None and len(p) <= 6 for p in polygons):
            continue  # every piece is its own cell: the area says as much
        cells = [_cells_mm2(s.outline, r) for s, r in zip(task.shapes, radii, strict=True)]
        total_mm2 = least_of_cells_mm2(np.array(cells), copies)
        lengths.append(length_for_mm(task, radii, total_mm2, frames))
    return max(lengths)


def least_of_cells_mm2(cells_mm2: Floats, copies: Floats) -> float:
    """Least area of cells with six sides on average.

    cells_mm2: (shapes, ...), areas with 3, 4, ... sides, convex in the sides, falling.
    """
    saved = cells_mm2[:, :-1] - cells_mm2[:, 1:]  # by one more side
    times = np.broadcast_to(copies[:, np.newaxis], saved.shape)
    order = np.argsort(-saved, axis=None)  # convex: earlier sides of a shape come first
    left = 3 * copies.sum() - np.concatenate(([0], np.cumsum(times.ravel()[order])[:-1]))
    taken = np.clip(left, 0, times.ravel()[order])
    return float(copies @ cells_mm2[:, 0] - taken @ saved.ravel()[order])


@lru_cache(maxsize=512)
def _cells_mm2(outline: Outline, radius_mm: float) -> tuple[float, ...]:
    """Areas of the least polygons of 3, 4, ... SIDES_MOST + 1 sides round the grown outline.

    None is overstated: the better of the same two understatements for each, the last one is
    the piece itself, triangles are known by convexity, and a chord under the whole row mends
    what rounding has bent.
    """
    polygon = convex_inside(outline)
    assert polygon is not None, "the caller has convex outlines"
    whole_mm2 = grown_area_mm2(outline, radius_mm) * (1 - 1e-12)
    sides = np.arange(4, SIDES_MOST + 1)
    closed = least_polygons_mm2(polygon, SIDES_MOST) + radius_mm * _girth_mm(polygon)
    closed += radius_mm**2 * sides * np.tan(pi / sides)
    drawn = least_polygons_mm2(grown_convex(polygon, radius_mm), SIDES_MOST)
    areas = np.maximum(np.maximum(closed, drawn), whole_mm2)
    triangle = 2 * areas[0] - areas[1]
    return tuple(_chord_under(np.concatenate(([triangle], areas, [whole_mm2]))))


def _chord_under(areas: Floats) -> list[float]:
    """The greatest convex row that lies nowhere above these areas."""
    n = len(areas)
    at = np.arange(n)
    under = areas.copy()
    for i in range(n):
        for j in range(i + 2, n):
            inner = at[i + 1 : j]
            chord = areas[i] + (areas[j] - areas[i]) * (inner - i) / (j - i)
            under[i + 1 : j] = np.minimum(under[i + 1 : j], chord)
    return [float(area) for area in under]


def _girth_mm(polygon: Floats) -> float:
    return float(np.hypot(*(np.roll(polygon, -1, axis=0) - polygon).T).sum())
