"""Rings and where they lie: the check's own geometry, shared with no other room.

A `Pose` is where a contour about its own centre has been put.
"""

from cmath import exp
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import hypot, radians

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

Points = NDArray[np.float64]
Rings = Sequence[Points]
SAME_MM = 0.01  # a fifth of what a good cutter repeats; files are written ten times finer


@dataclass(frozen=True, slots=True, kw_only=True)
class Pose:
    """Mirror in x, then size and turn about the origin, then shift."""

    x_mm: float
    y_mm: float
    angle_deg: float = 0.0
    scale: float = 1.0
    mirrored: bool = False

    def put(self, points: Points) -> Points:
        """Points (n, 2) about the contour's centre as they lie on the film."""
        across, up = points[:, 0], points[:, 1]
        z = (-across if self.mirrored else across) + 1j * up
        z = z * (self.scale * exp(1j * radians(self.angle_deg)))
        return np.column_stack([z.real + self.x_mm, z.imag + self.y_mm])

    def back(self, points: Points) -> Points:
        """Points (n, 2) on the film as they lie about the contour's centre."""
        z = (points[:, 0] - self.x_mm) + 1j * (points[:, 1] - self.y_mm)
        z = z / (self.scale * exp(1j * radians(self.angle_deg)))
        return np.column_stack([-z.real if self.mirrored else z.real, z.imag])

    def matrix(self) -> Points:
        """(3, 2): rows are what x, y and 1 become."""
        corners = self.put(np.array([[1.0, 0.0], [0.0, 1.0], [0.0, 0.0]]))
        return np.vstack([corners[:2] - corners[2], corners[2]])

    def turned_from(self, other: "Pose") -> float:
        """Degrees counter-clockwise from another pose to this one, in [-180, 180)."""
        return (self.angle_deg - other.angle_deg + 180) % 360 - 180

    def shifted_from(self, other: "Pose") -> float:
        """Millimetres from another pose's place to this one's."""
        return hypot(self.x_mm - other.x_mm, self.y_mm - other.y_mm)


@dataclass(frozen=True, kw_only=True, eq=False)
class Contour:
    """A decal's rings about the centre of its bounding box, the outer ring with most area first.

    backing: rings of a through cut round the contour, about the same centre.
    """

    rings: tuple[Points, ...]
    bleed_mm: float
    backing: tuple[Points, ...] = ()

    @cached_property
    def cut(self) -> tuple[Points, ...]:
        """All rings, those of most area first."""
        return tuple(sorted((*self.rings, *self.backing), key=lambda ring: -abs(area_mm2(ring))))

    @cached_property
    def footprint(self) -> BaseGeometry:
        """Inside the outermost cut."""
        return region_of(self.backing) if self.backing else self.region

    @cached_property
    def beyond_mm(self) -> float:
        """How far the print may reach beyond the outermost cut, all round."""
        if not self.backing:
            return self.bleed_mm
        away = shapely.distance(self.region.boundary, self.footprint.boundary)
        return max(0.0, self.bleed_mm - float(away))

    @cached_property
    def region(self) -> BaseGeometry:
        """Inside by the even-odd rule."""
        return region_of(self.rings)

    @cached_property
    def bled(self) -> BaseGeometry:
        """Where its print may be."""
        return bled(self.region, self.bleed_mm)

    @cached_property
    def print_centre(self) -> Points:
        """(1, 2): centre of the hull of where its print may be; holes do not move it."""
        return hull_centre(self.bled)

    @cached_property
    def reach_mm(self) -> float:
        """From the centre to the farthest point that is cut."""
        return max(float(np.hypot(ring[:, 0], ring[:, 1]).max()) for ring in self.cut)


def contour_of(rings: Rings, bleed_mm: float, backing: Rings = ()) -> Contour:
    """Rings in order of falling area."""
    ordered = sorted((np.asarray(ring, float) for ring in rings), key=lambda r: -abs(area_mm2(r)))
    return Contour(rings=tuple(ordered), bleed_mm=bleed_mm, backing=tuple(backing))


def bled(region: BaseGeometry, bleed_mm: float) -> BaseGeometry:
    """A region grown by a bleed, arcs within 0.001 mm."""
    if bleed_mm <= 0:
        return region
    quarter = max(4, int(np.ceil(np.pi / 4 / np.arccos(1 - min(0.001 / bleed_mm, 0.5)))))
    return shapely.buffer(region, bleed_mm, quad_segs=quarter)


def area_mm2(ring: Points) -> float:
    """Signed area, positive counter-clockwise."""
    x, y = (ring - ring[0]).T
    return 0.5 * float(x @ np.roll(y, -1) - y @ np.roll(x, -1))


def length_mm(ring: Points) -> float:
    """Length of a closed ring."""
    return float(np.hypot(*(np.roll(ring, -1, axis=0) - ring).T).sum())


def region_of(rings: Rings, *, even_odd: bool = True) -> BaseGeometry:
    """What rings enclose; rings that cross are made valid, their crossing is reported elsewhere.

    even_odd: False: by winding number (ISO 32000-1 8.5.3.3).
    """
    usable = [ring for ring in rings if len(ring) >= 3 and abs(area_mm2(ring)) > 1e-9]
    ordered = sorted(usable, key=lambda ring: -abs(area_mm2(ring)))
    region: BaseGeometry = shapely.Polygon()
    insides: list[tuple[BaseGeometry, int]] = []
    for ring in ordered:
        inside: BaseGeometry = shapely.Polygon(ring)
        inside = inside if inside.is_valid else shapely.make_valid(inside)
        point = inside.representative_point()
        way = 1 if even_odd or area_mm2(ring) > 0 else -1
        turns = way + sum(other_way for other, other_way in insides if other.contains(point))
        insides.append((inside, way))
        filled = turns % 2 == 1 if even_odd else turns != 0
        region = inside if region.is_empty and filled else _with(region, inside, filled)
    return region


def _with(region: BaseGeometry, inside: BaseGeometry, filled: bool) -> BaseGeometry:
    return region.union(inside) if filled else region.difference(inside)


def middle_of(rings: Rings) -> Points:
    """The middle (2,) of the bounding box of rings."""
    points = np.vstack(list(rings))
    middle: Points = (points.min(axis=0) + points.max(axis=0)) / 2
    return middle


def stretched_to(meant: Points, seen: Points) -> Points:
    """Places (n, 2) stretched to the extent that other places have."""
    low, size = meant.min(axis=0), np.maximum(np.ptp(meant, axis=0), 1e-9)
    stretched: Points = (meant - low) / size * np.ptp(seen, axis=0) + seen.min(axis=0)
    return stretched


def hull_centre(region: BaseGeometry) -> Points:
    """(1, 2): centre of gravity of the convex hull, which every affine map takes along.

    Where nothing is left of a region, such as of a ring that is there twice: the origin.
    """
    if region.is_empty:
        return np.zeros((1, 2))
    return np.array(region.convex_hull.centroid.coords)


def tree_of(points: Points) -> shapely.STRtree:
    """Points (n, 2) to be asked which of them are near."""
    return shapely.STRtree(np.asarray(shapely.points(points), dtype=object).reshape(-1))


def parts_of(region: BaseGeometry) -> list[shapely.Polygon]:
    """The polygons of a region."""
    if isinstance(region, shapely.Polygon):
        return [] if region.is_empty else [region]
    return [part for each in getattr(region, "geoms", ()) for part in parts_of(each)]


def holes_of(region: BaseGeometry) -> list[shapely.Polygon]:
    """The holes of a region, each as a polygon."""
    return [shapely.Polygon(hole) for part in parts_of(region) for hole in part.interiors]


def apart_mm(one: BaseGeometry, other: BaseGeometry) -> float:
    """Greatest distance from the edge of one region to the other's edge, either way."""
    if one.is_empty or other.is_empty:
        return float("inf")
    return float(shapely.hausdorff_distance(one.boundary, other.boundary))


def same_points(one: Points, other: Points, within_mm: float = SAME_MM) -> bool:
    """Whether two rings have the same points in the same order, from any start, either way."""
    if one.shape != other.shape:
        return False
    first = int(np.argmin(np.hypot(*(other - one[0]).T)))
    ways = np.roll(other, -first, axis=0), np.roll(other[::-1], first + 1, axis=0)
    return any(float(np.hypot(*(one - way).T).max()) <= within_mm for way in ways)


def ring_apart_mm(one: Points, other: Points) -> float:
    """Greatest distance between two closed rings as lines."""
    return float(shapely.hausdorff_distance(shapely.LinearRing(one), shapely.LinearRing(other)))
