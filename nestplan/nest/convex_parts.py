"""An area cut into convex parts, because only convex areas add up simply.

Triangles that honour every corner, merged again over the longest diagonals first while the
result stays convex (Hertel and Mehlhorn 1983: never more than four times the fewest parts).
Curved bays would give dozens of slivers; their chords are laid outside first, so that an
area only grows, by no more than a stated distance.
"""

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.geometry.outline import oriented, polygons_of

Points = NDArray[np.float64]
Area = shapely.Polygon | shapely.MultiPolygon

PARTS_MANY = 24  # above this the bays of an outline are drawn with fewer chords
BAY_SHARES = (1e-4, 2e-4, 5e-4, 1e-3)  # of the outline's size: how far a chord may stand off


def convex_parts(region: Area) -> list[Points]:
    """Counter-clockwise convex rings (k, 2) that together cover the region and nothing else."""
    parts: list[Points] = []
    for polygon in polygons_of(region):
        parts += _merged(polygon)
    return parts


def convex_parts_outside(region: Area) -> tuple[Area, list[Points]]:
    """The region and its parts, bays simplified outwards where there would be too many parts."""
    parts = convex_parts(region)
    left, bottom, right, top = region.bounds
    for share in BAY_SHARES:
        if len(parts) <= PARTS_MANY:
            break
        grown = bays_simplified(region, share * max(right - left, top - bottom))
        region, parts = grown, convex_parts(grown)
    return region, parts


def _merged(polygon: shapely.Polygon) -> list[Points]:
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(polygon))
    corners = np.array([np.asarray(t.exterior.coords)[:3] for t in triangles])
    points, numbers = np.unique(corners.reshape(-1, 2), axis=0, return_inverse=True)
    pieces: dict[int, list[int]] = {}
    sides: dict[tuple[int, int], int] = {}
    for name, row in enumerate(numbers.reshape(-1, 3).tolist()):
        ring = row if _cross(points, *row) >= 0 else row[::-1]
        pieces[name] = ring
        for a, b in zip(ring, ring[1:] + ring[:1], strict=True):
            sides[a, b] = name
    diagonals = [(a, b) for a, b in sides if a < b and (b, a) in sides]
    diagonals.sort(key=lambda ab: (-float(np.hypot(*(points[ab[0]] - points[ab[1]]))), ab))
    for a, b in diagonals:
        _merge_over(points, pieces, sides, a, b)
    return [points[ring] for ring in pieces.values()]


def _merge_over(
    points: Points,
    pieces: dict[int, list[int]],
    sides: dict[tuple[int, int], int],
    a: int,
    b: int,
) -> None:
    """Drop the diagonal from a to b if the two pieces beside it are convex together."""
    first, second = sides[a, b], sides[b, a]
    if first == second:
        return
    one, other = pieces[first], pieces[second]
    one = one[one.index(b) :] + one[: one.index(b)]  # from b round to a
    other = other[other.index(a) :] + other[: other.index(a)]  # from a round to b
    ring = one + other[1:-1]
    if _cross(points, one[-2], a, other[1]) < 0 or _cross(points, other[-2], b, one[1]) < 0:
        return
    pieces[first] = ring
    del pieces[second], sides[a, b], sides[b, a]
    for p, q in zip(ring, ring[1:] + ring[:1], strict=True):
        sides[p, q] = first


def _cross(points: Points, a: int, b: int, c: int) -> float:
    """Twice the area of a triangle of corners, positive when it turns left."""
    (ax, ay), (bx, by), (cx, cy) = points[a], points[b], points[c]
    return float((bx - ax) * (cy - ay) - (by - ay) * (cx - ax))


def bays_simplified(region: Area, off_mm: float) -> Area:
    """The region with fewer corners in its bays; unchanged where that would not be an area."""
    polygons = [
        shapely.Polygon(
            _without_reflex(oriented(np.asarray(p.exterior.coords)[:-1], ccw=True), off_mm),
            [
                _without_reflex(oriented(np.asarray(h.coords)[:-1], ccw=False), off_mm)
                for h in p.interiors
            ],
        )
        for p in polygons_of(region)
    ]
    grown = polygons[0] if len(polygons) == 1 else shapely.MultiPolygon(polygons)
    grows = (
        shapely.is_valid(grown)
        and shapely.area(shapely.difference(grown, region)) < 2 * off_mm * region.length
    )
    return grown if grows and shapely.area(shapely.difference(region, grown)) <= 0 else region


def _without_reflex(ring: Points, off_mm: float) -> Points:
    """The ring, interior on the left, without reflex corners that lie near the chord past them."""
    kept = list(range(len(ring)))
    position = 0
    while position < len(kept) and len(kept) > 3:
        a, c = kept[position - 1], kept[(position + 1) % len(kept)]
        b = kept[position]
        between = np.arange(a + 1, c if c > a else c + len(ring)) % len(ring)
        chord = ring[c] - ring[a]
        offs = (
            chord[0] * (ring[between] - ring[a])[:, 1] - chord[1] * (ring[between] - ring[a])[:, 0]
        )
        offs /= max(float(np.hypot(*chord)), 1e-300)
        if offs.min() >= 0 and offs.max() <= off_mm and _cross(ring, a, b, c) < 0:
            del kept[position]
        else:
            position += 1
    return ring[kept]
