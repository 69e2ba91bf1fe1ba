"""Shapes with fewer corners, for a search in haste.

Fields of pairs take most of the time of a search for a price. A rough shape need not hold the
true one: it stands off it no farther than a stated distance, and is kept that much farther from
others, so that what is legal for rough shapes is legal for the true ones.
"""

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.geometry.outline import polygons_of
from nestplan.nest.convex_parts import Area, bays_simplified

ROUGH_MM = 0.05  # how far a true shape reaches beyond its rough one at most
BAY_MM, BAY_SHARE = 0.4, 4e-3  # how deep a bay may be that is filled: of the size, no more than
LEAST_CORNERS = 3


def rough(region: Area) -> Area:
    """A region with fewer corners. Bays may be filled; nowhere else is it larger by more than
    ROUGH_MM, and nowhere smaller by more.
    """
    left, bottom, right, top = region.bounds
    bay_mm = min(BAY_MM, BAY_SHARE * max(right - left, top - bottom))
    return bays_simplified(_fewer_corners(region), bay_mm)


def _fewer_corners(region: Area) -> Area:
    """The region with corners left out that lie near the chord past them; itself where its rings
    would cross.
    """
    polygons = [
        shapely.Polygon(_chords(polygon.exterior), [_chords(hole) for hole in polygon.interiors])
        for polygon in polygons_of(region)
    ]
    fewer = polygons[0] if len(polygons) == 1 else shapely.MultiPolygon(polygons)
    return fewer if shapely.is_valid(fewer) else region


def _chords(ring: shapely.LinearRing) -> NDArray[np.float64]:
    """Corners of a ring, simplified as two lines: where a closed one begins and ends, corners
    may come to lie farther off than asked.
    """
    corners = shapely.get_coordinates(ring)
    middle = len(corners) // 2
    halves = [shapely.LineString(corners[: middle + 1]), shapely.LineString(corners[middle:])]
    fewer = [shapely.get_coordinates(shapely.simplify(half, ROUGH_MM)) for half in halves]
    if len(fewer[0]) + len(fewer[1]) < LEAST_CORNERS + 2:
        return corners
    return np.concatenate([fewer[0][:-1], fewer[1]])
