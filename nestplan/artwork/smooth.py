"""Corners rounded so that a knife can follow: no radius below a least one, inside or outside.

Closing (growing, then shrinking by the radius) fills inner corners with arcs, opening rounds
the outer ones off (Serra, Image Analysis and Mathematical Morphology, 1982; from memory).
Where a neck is narrower than two radii, opening parts it and may leave a sharp inner corner,
and closing does so with narrow gaps: such corners are found by their curvature and rounded
again, each for itself.
"""

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.geometry.offset import grown
from nestplan.geometry.outline import oriented, polygons_of
from nestplan.geometry.polyline import Points

SAGITTA_MM = 0.004  # chords of rounded corners lie so near their arc
REACH = 0.4  # of the radius: how far to both sides of a point its curvature is looked at
TIGHT = 0.85  # of the radius: what chords make of an arc is no less
ROUNDS_MOST = 8
NEAR_MM = 0.01
SEAM_MM = 0.0005
STRAIGHT_MM = 4 * SEAM_MM  # what seams leave is straightened


def smoothed(region: shapely.Geometry, radius_mm: float) -> shapely.Geometry:
    """The region with no corner tighter than the radius, as far as that can be reached.

    Nothing thinner than two radii is kept, unless it lies between two wider parts.
    """
    now = _opened(_closed(region, radius_mm), radius_mm)
    for _ in range(ROUNDS_MOST):
        inner = tight_corners(now, radius_mm, inner=True)
        if len(inner):
            more = shapely.difference(_closed(now, radius_mm), now)
            now = shapely.union_all([now, *_at(more, inner)])
        outer = tight_corners(now, radius_mm, inner=False)
        if len(outer):
            less = shapely.difference(now, _opened(now, radius_mm))
            now = shapely.difference(now, shapely.union_all(_at(less, outer)))
        if not len(inner) and not len(outer):
            break
    return shapely.simplify(now, STRAIGHT_MM)


def tight_corners(region: shapely.Geometry, radius_mm: float, *, inner: bool) -> Points:
    """Places (n, 2) on the edge where it turns tighter than the radius.

    The circle through a corner and the places a little before and behind it is looked at.
    inner: corners of what lies outside, else of the region.
    """
    found = [np.zeros((0, 2))]
    for part in polygons_of(region):
        for ring, ccw in ((part.exterior, True), *((hole, False) for hole in part.interiors)):
            points = oriented(shapely.get_coordinates(ring)[:-1], ccw=ccw)
            turn = _curvature(points, REACH * radius_mm)
            sign = -1.0 if inner else 1.0
            found.append(points[sign * turn > 1 / (TIGHT * radius_mm)])
    return np.concatenate(found)


def _curvature(points: Points, reach_mm: float) -> NDArray[np.float64]:
    """(n,) one over the radius of the circle through each corner and its two neighbours.

    Positive where a counter-clockwise ring turns left.
    """
    closed = np.vstack([points, points[:1]])
    upto = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    whole = upto[-1]
    reach = min(reach_mm, whole / 6)

    def at(place: NDArray[np.float64]) -> Points:
        return np.column_stack([np.interp(place % whole, upto, closed[:, k]) for k in (0, 1)])

    before, behind = at(upto[:-1] - reach), at(upto[:-1] + reach)
    a, b, c = points - before, behind - points, behind - before
    area = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    sides = np.hypot(*a.T) * np.hypot(*b.T) * np.hypot(*c.T)
    curvature: NDArray[np.float64] = 2 * area / np.maximum(sides, 1e-12)
    return curvature


def _at(pieces: shapely.Geometry, places: Points) -> list[shapely.Geometry]:
    """The pieces that reach one of the places, a hair larger, so that no seam is left."""
    corners = shapely.multipoints(places)
    return [
        shapely.buffer(piece, SEAM_MM, join_style="mitre")
        for piece in polygons_of(pieces)
        if shapely.dwithin(piece, corners, NEAR_MM)
    ]


def _closed(region: shapely.Geometry, radius_mm: float) -> shapely.Geometry:
    wider = grown(region, radius_mm, sagitta_mm=SAGITTA_MM)
    return grown(wider, -radius_mm, sagitta_mm=SAGITTA_MM)


def _opened(region: shapely.Geometry, radius_mm: float) -> shapely.Geometry:
    less = grown(region, -radius_mm, sagitta_mm=SAGITTA_MM)
    return grown(less, radius_mm, sagitta_mm=SAGITTA_MM)
