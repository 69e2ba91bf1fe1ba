"""Small parts and small holes of a contour: left out, joined or filled, as the job's rule says."""

import numpy as np
import shapely

from nestplan.geometry.offset import grown
from nestplan.geometry.outline import polygons_of

BRIDGE_MM = 2.0  # what joins two parts is at least so wide: it must not tear when it is weeded
TOUCH_MM = 1e-3
ROUNDING = 1 - 1e-6


def holds_disc(area: shapely.Geometry, across_mm: float) -> bool:
    """Whether a disc so large fits in."""
    return not shapely.is_empty(shapely.buffer(area, -ROUNDING * across_mm / 2))


def without_small(region: shapely.Geometry, least_mm: float) -> shapely.Geometry:
    """Only those parts, holes filled, that hold a disc so large; empty where none does."""
    kept = [p for p in polygons_of(region) if holds_disc(shapely.Polygon(p.exterior), least_mm)]
    return shapely.union_all(kept)


def filled(region: shapely.Geometry, least_mm: float = np.inf) -> shapely.Geometry:
    """The region without the holes that hold no disc so large."""
    parts = []
    for part in polygons_of(region):
        holes = [h for h in part.interiors if np.isfinite(least_mm)]
        kept = [h for h in holes if holds_disc(shapely.Polygon(h), least_mm)]
        parts.append(shapely.Polygon(part.exterior, kept))
    return shapely.union_all(parts)


def joined(region: shapely.Geometry, gap_mm: float) -> shapely.Geometry:
    """Parts no farther apart than the gap become one.

    What lies between them, where the gap is no wider, is filled; where that leaves less, a
    bridge of `BRIDGE_MM` lies along the shortest way, as far as both parts are as wide.
    """
    parts = list(polygons_of(region))
    if len(parts) < 2:
        return region
    links = _links(parts, gap_mm)
    if not links:
        return region
    closed = grown(grown(region, gap_mm / 2), -gap_mm / 2)
    tree = shapely.STRtree(parts)
    between = [
        piece
        for piece in polygons_of(shapely.difference(closed, region))
        if len(tree.query(piece, predicate="dwithin", distance=TOUCH_MM)) > 1
    ]
    # what is filled touches the parts along lines that rounding leaves open
    sealed = [shapely.buffer(piece, TOUCH_MM, join_style="mitre") for piece in between]
    bridges = [_bridge(parts[i], parts[j]) for i, j in links]
    return shapely.union_all([*parts, *sealed, *bridges])


def _links(parts: list[shapely.Polygon], gap_mm: float) -> list[tuple[int, int]]:
    """The shortest ways that join all parts which can be joined (Kruskal 1956)."""
    tree = shapely.STRtree(parts)
    one, other = tree.query(parts, predicate="dwithin", distance=gap_mm)
    one, other = one[one < other], other[one < other]
    away = shapely.distance(
        np.array(parts, dtype=object)[one], np.array(parts, dtype=object)[other]
    )
    group = list(range(len(parts)))
    links = []
    for k in np.argsort(away, kind="stable").tolist():
        i, j = int(one[k]), int(other[k])
        if group[i] != group[j]:
            gone, stays = group[i], group[j]
            group = [stays if own == gone else own for own in group]
            links.append((i, j))
    return links


def _bridge(one: shapely.Polygon, other: shapely.Polygon) -> shapely.Geometry:
    """A strip over the shortest way between two parts, and a little into both."""
    (x0, y0), (x1, y1) = shapely.get_coordinates(shapely.shortest_line(one, other)).tolist()
    along = np.array([x1 - x0, y1 - y0])
    length = float(np.hypot(*along))
    if length == 0:
        return shapely.Point(x0, y0).buffer(BRIDGE_MM / 2)
    into = along / length * BRIDGE_MM / 2
    line = shapely.LineString([np.array([x0, y0]) - into, np.array([x1, y1]) + into])
    strip = shapely.buffer(line, BRIDGE_MM / 2, cap_style="flat")
    return shapely.intersection(strip, shapely.convex_hull(shapely.union(one, other)))
