"""Contours grown by a radius, and convex polygons inside contours: never more than the truth."""

from functools import lru_cache
from math import pi

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.geometry.outline import Outline, oriented

DENT = 1e-6  # an outline this near its hull, in parts of its size, counts as convex
ARC_CHORDS = 8  # in a quarter circle; chords lie inside the arc, areas are understated
DIRECTIONS = 36  # of the straight cuts tried where a polygon must leave a point out
CUTS_MOST = 60  # an outline with more dents than that is given up

Floats = NDArray[np.float64]


@lru_cache(maxsize=512)
def grown_area_mm2(outline: Outline, radius_mm: float) -> float:
    """Area of an outline grown by a radius: exact for a convex one, else a little less.

    Not by shapely's buffer of the whole, which may fill dents: the union of the outline and
    a capsule along every edge, each capsule inside the true one.
    """
    if radius_mm == 0:
        return outline.area_mm2
    if len(outline.rings) == 1 and is_convex(outline.rings[0]):  # Steiner's formula
        return outline.area_mm2 + radius_mm * outline.length_mm + pi * radius_mm**2
    capsules = [_capsules(ring, radius_mm) for ring in outline.rings]
    return float(shapely.union_all([outline.region, *np.concatenate(capsules)]).area)


def _capsules(ring: Floats, radius_mm: float) -> NDArray[np.object_]:
    """Every edge grown by the radius, arcs as chords."""
    edges = np.stack((ring, np.roll(ring, -1, axis=0)), axis=1)
    return np.asarray(
        shapely.buffer(np.asarray(shapely.linestrings(edges)), radius_mm, quad_segs=ARC_CHORDS)
    )


def grown_convex(polygon: Floats, radius_mm: float) -> Floats:
    """A convex polygon grown by a radius, arcs as chords: inside the truth, sides exact."""
    if radius_mm == 0:
        return polygon
    corners = shapely.get_coordinates(_capsules(polygon, radius_mm))
    return hull_of(shapely.MultiPoint(corners))


def is_convex(ring: Floats) -> bool:
    """Whether a counter-clockwise ring never turns right."""
    edges = np.roll(ring, -1, axis=0) - ring
    after = np.roll(edges, -1, axis=0)
    return bool((edges[:, 0] * after[:, 1] - edges[:, 1] * after[:, 0] >= 0).all())


def hull_of(region: shapely.Geometry) -> Floats:
    """Corners of the convex hull, counter-clockwise."""
    points = shapely.get_coordinates(shapely.convex_hull(region))[:-1]
    return oriented(points, ccw=True)


@lru_cache(maxsize=512)
def convex_inside(outline: Outline) -> Floats | None:
    """A convex polygon inside the outline and all but equal to it, or None.

    Copies of it are packed wherever copies of the outline are, so theorems on convex
    shapes hold for it exactly, though flattening may have dented the outline by 1e-12.
    """
    if len(outline.rings) > 1:
        return None
    if is_convex(outline.rings[0]):
        return outline.rings[0]
    inside = _drawn_in(hull_of(outline.region))
    return inside if outline.region.contains(shapely.Polygon(inside)) else None


@lru_cache(maxsize=512)
def convex_part(outline: Outline) -> Floats | None:
    """The outline itself where it is convex, else a large convex polygon inside it, or None."""
    whole = convex_inside(outline)
    return whole if whole is not None else carved(hull_of(outline.region), outline.region)


def carved(
    polygon: Floats, region: shapely.Geometry, *, through_middle: bool = False
) -> Floats | None:
    """A large convex polygon inside both a convex polygon and a region, or None.

    As long as something of the polygon is outside the region, its deepest point is left out
    by the straight cut that loses least. Greedy: the polygon is inside, not the largest, and
    round a hole none is found.
    through_middle: both stay symmetric about the origin, every cut is made on both sides.
    """
    for _ in range(CUTS_MOST):
        points = shapely.get_coordinates(shapely.difference(shapely.Polygon(polygon), region))
        depths = _depths(polygon, points)
        if not len(points) or depths.max() < 1e-9 * np.ptp(polygon, axis=0).max():
            inside = _drawn_in(polygon)
            return inside if shapely.contains(region, shapely.Polygon(inside)) else None
        kept = _left_by_cuts(polygon, points[depths.argmax()], through_middle)
        largest = kept[shapely.area(kept).argmax()]
        if largest.area == 0:
            return None
        polygon = hull_of(largest)
    return None


def _left_by_cuts(polygon: Floats, point: Floats, both_sides: bool) -> NDArray[np.object_]:
    """What straight cuts through a point leave of a convex polygon, for every direction."""
    turns = 2 * np.pi * np.arange(DIRECTIONS) / DIRECTIONS
    normals = np.column_stack((np.cos(turns), np.sin(turns)))
    if both_sides:  # the point and its opposite
        normals = normals[normals @ point > 0]
    across = np.column_stack((-normals[:, 1], normals[:, 0]))
    beyond = 2 * float(np.hypot(*np.ptp(polygon, axis=0)))  # longer than the polygon is
    deep = (2 * (normals @ point) if both_sides else np.full(len(normals), beyond))[:, np.newaxis]
    left, right = point - beyond * across, point + beyond * across
    # a strip right of the cut, as deep as the polygon or up to the opposite cut
    corners = np.stack((left, right, right - deep * normals, left - deep * normals), axis=1)
    return np.asarray(shapely.intersection(shapely.polygons(corners), shapely.Polygon(polygon)))


def _drawn_in(polygon: Floats) -> Floats:
    middle = polygon.mean(axis=0)
    drawn: Floats = middle + (polygon - middle) * (1 - 2 * DENT)
    return drawn


def _depths(polygon: Floats, points: Floats) -> Floats:
    """How far inside the sides of a convex polygon points are."""
    sides = np.roll(polygon, -1, axis=0) - polygon
    lengths = np.hypot(*sides.T)
    real = lengths > 0  # two cuts may meet in one corner
    normals = np.column_stack((-sides[real, 1], sides[real, 0])) / lengths[real, np.newaxis]
    inward: Floats = points @ normals.T - (polygon[real] * normals).sum(axis=1)
    return np.asarray(inward.min(axis=1, initial=np.inf))
