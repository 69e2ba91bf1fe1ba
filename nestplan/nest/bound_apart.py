"""Steps from one copy's middle to another's that are too short: no-fit regions, understated.

The sum of two convex parts is convex and simple; the no-fit region of two outlines is the
union of the sums over their parts. Parts are drawn in by a hair, so that a place where one
copy just fits into another stays open however the union is rounded.
"""

from functools import lru_cache

import numpy as np
import shapely

from nestplan.geometry.outline import Outline, oriented, polygons_of, turn
from nestplan.nest.bound_contours import Floats, convex_inside, convex_part, grown_convex

PARTS_MOST = 16  # of an outline; one with more is drawn simpler, inside itself
SHARES = (0.0, 2e-3, 5e-3, 1e-2, 2e-2)  # of its size: how much simpler
HAIR = 1e-5  # of a part's size


def middle_of(outline: Outline) -> Floats:
    """The point of a copy that the steps are between: the middle of its area."""
    return np.array(outline.region.centroid.coords[0])


@lru_cache(maxsize=512)
def no_fit(outline: Outline, turned_deg: float, gap_mm: float) -> shapely.Geometry:
    """Steps from a copy at angle 0 to a turned one at which they come nearer than the gap."""
    parts = [part - middle_of(outline) for part in _parts(outline)]
    fixed = [grown_convex(part, gap_mm) for part in parts]
    moving = [turn(part, turned_deg) for part in parts]
    sums = [_sum(a, -b) for a in fixed for b in moving]
    return shapely.union_all(shapely.convex_hull([shapely.Polygon(ring) for ring in sums]))


def _sum(one: Floats, other: Floats) -> Floats:
    """Minkowski sum of two convex rings: their sides in order of direction, end to end."""
    rings = []
    for ring in (one, other):
        lowest = np.lexsort((ring[:, 0], ring[:, 1]))[0]
        rings.append(np.roll(ring, -int(lowest), axis=0))
    sides = np.concatenate([np.roll(ring, -1, axis=0) - ring for ring in rings])
    order = np.argsort(np.arctan2(sides[:, 1], sides[:, 0]) % (2 * np.pi), kind="stable")
    begin = rings[0][0] + rings[1][0]
    summed: Floats = begin + np.cumsum(sides[order], axis=0)
    return summed


def clear_mm(outline: Outline, turned_deg: float) -> float:
    """No two middles are nearer when one copy is turned so; 0 where they may coincide."""
    region, here = no_fit(outline, turned_deg, 0.0), shapely.Point(0, 0)
    return float(shapely.boundary(region).distance(here)) if shapely.contains(region, here) else 0.0


@lru_cache(maxsize=512)
def _parts(outline: Outline) -> list[Floats]:
    """Not too many convex parts inside the outline, covering nearly all of it."""
    whole = convex_inside(outline)
    if whole is not None:
        return [whole]
    size = max(outline.width_mm, outline.height_mm)
    for share in SHARES:
        simpler = _drawn_simpler(outline.region, share * size)
        parts = [part for polygon in polygons_of(simpler) for part in _convex_parts(polygon)]
        if 0 < len(parts) <= PARTS_MOST:
            return [m + (p - m) * (1 - HAIR) for p in parts for m in [p.mean(axis=0)]]
    part = convex_part(outline)
    return [] if part is None else [part]


def _drawn_simpler(region: shapely.Geometry, by_mm: float) -> shapely.Geometry:
    """The region with fewer corners in its bays and holes, which are made wider for that."""
    if by_mm == 0:
        return region
    bays = shapely.difference(shapely.convex_hull(region), region)
    wider = shapely.simplify(shapely.buffer(bays, by_mm), by_mm)
    simpler = shapely.difference(region, wider)
    return simpler if shapely.contains(region, simpler) else shapely.Polygon()


def _convex_parts(polygon: shapely.Polygon) -> list[Floats]:
    """Triangles, joined over the longest diagonals first as long as the result is convex."""
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(polygon))
    corners = np.array([oriented(np.asarray(t.exterior.coords)[:3], ccw=True) for t in triangles])
    points, numbers = np.unique(corners.reshape(-1, 2), axis=0, return_inverse=True)
    rings = dict(enumerate(numbers.reshape(-1, 3).tolist()))
    owner = {side: name for name, ring in rings.items() for side in _sides(ring)}
    shared = [(a, b) for a, b in owner if a < b and (b, a) in owner]
    for a, b in sorted(shared, key=lambda s: -float(np.hypot(*(points[s[0]] - points[s[1]])))):
        one, other = owner[a, b], owner[b, a]
        joined = _from(rings[one], b) + _from(rings[other], a)[1:-1]
        if one != other and _turns_left(points[joined]):
            rings[one] = joined
            owner |= dict.fromkeys(_sides(rings.pop(other)), one)
    return [points[ring] for ring in rings.values()]


def _sides(ring: list[int]) -> list[tuple[int, int]]:
    return list(zip(ring, ring[1:] + ring[:1], strict=True))


def _from(ring: list[int], first: int) -> list[int]:
    at = ring.index(first)
    return ring[at:] + ring[:at]


def _turns_left(points: Floats) -> bool:
    """Whether a ring is convex, corners of 180 degrees allowed."""
    edges = np.roll(points, -1, axis=0) - points
    after = np.roll(edges, -1, axis=0)
    return bool((edges[:, 0] * after[:, 1] >= edges[:, 1] * after[:, 0]).all())
