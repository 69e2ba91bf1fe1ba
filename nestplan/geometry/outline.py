"""Closed outlines: one or more rings, with holes, as arrays.

An outline is what a knife follows. Outer rings run counter-clockwise and holes
clockwise, so the interior is always on the left and the signed areas add up.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

FLATTEN_MM = 0.02  # curves become chords no farther off than this; a knife steps 0.025


@dataclass(frozen=True, kw_only=True, eq=False)
class Outline:
    """A region bounded by closed rings, in mm.

    rings: each (n, 2), n >= 3, first point not repeated; outers counter-clockwise,
    holes clockwise; an outer stands before its own holes. Read-only.
    """

    rings: tuple[NDArray[np.float64], ...]

    def __post_init__(self) -> None:
        assert self.rings, "an outline has at least one ring"
        for ring in self.rings:
            assert ring.ndim == 2
            assert ring.shape[1] == 2
            assert len(ring) >= 3
            ring.flags.writeable = False

    @cached_property
    def region(self) -> shapely.Polygon | shapely.MultiPolygon:
        """The outline as a shapely area."""
        holes: list[list[NDArray[np.float64]]] = []
        outers: list[NDArray[np.float64]] = []
        for ring in self.rings:
            if signed_area_mm2(ring) > 0:
                outers.append(ring)
                holes.append([])
            else:
                holes[-1].append(ring)
        parts = [shapely.Polygon(o, h) for o, h in zip(outers, holes, strict=True)]
        return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)

    @cached_property
    def area_mm2(self) -> float:
        """Enclosed area, holes taken off."""
        return float(sum(signed_area_mm2(ring) for ring in self.rings))

    @cached_property
    def length_mm(self) -> float:
        """Length of all rings together: what the knife travels."""
        return float(
            sum(
                np.hypot(*(np.roll(ring, -1, axis=0) - ring).T).sum()  # closed
                for ring in self.rings
            )
        )

    @cached_property
    def bounds_mm(self) -> tuple[float, float, float, float]:
        """(left, bottom, right, top)."""
        points = np.concatenate(self.rings)
        (left, bottom), (right, top) = points.min(axis=0), points.max(axis=0)
        return float(left), float(bottom), float(right), float(top)

    @property
    def width_mm(self) -> float:
        """Extent in x."""
        left, _, right, _ = self.bounds_mm
        return right - left

    @property
    def height_mm(self) -> float:
        """Extent in y."""
        _, bottom, _, top = self.bounds_mm
        return top - bottom

    def moved(self, dx_mm: float, dy_mm: float) -> "Outline":
        """The same outline shifted."""
        return Outline(rings=tuple(ring + (dx_mm, dy_mm) for ring in self.rings))

    def mirrored(self) -> "Outline":
        """The same outline with x turned over; rings keep their sense, twice is the same again."""
        return Outline(rings=tuple((ring * (-1.0, 1.0))[::-1] for ring in self.rings))

    def scaled(self, factor: float) -> "Outline":
        """The same outline scaled about the origin; factor > 0."""
        return Outline(rings=tuple(ring * factor for ring in self.rings))

    def turned(self, angle_deg: float) -> "Outline":
        """The same outline turned counter-clockwise about the origin."""
        return Outline(rings=tuple(turn(ring, angle_deg) for ring in self.rings))


def signed_area_mm2(ring: NDArray[np.float64]) -> float:
    """Area of one ring (n, 2), positive counter-clockwise."""
    x, y = (ring - ring[0]).T  # about its own corner: no cancellation far from the origin
    return 0.5 * float(x @ np.roll(y, -1) - y @ np.roll(x, -1))


def turn(points_mm: NDArray[np.float64], angle_deg: float) -> NDArray[np.float64]:
    """Turn points (n, 2) counter-clockwise about the origin; exact at quarter turns."""
    c, s = cos_sin(angle_deg)
    turned: NDArray[np.float64] = points_mm @ np.array([[c, s], [-s, c]])
    return turned


def cos_sin(angle_deg: float) -> tuple[float, float]:
    """Cosine and sine, exact at multiples of 90 degrees."""
    quarter = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}
    angle = angle_deg % 360.0
    if angle in quarter:
        return quarter[angle]
    return float(np.cos(np.radians(angle))), float(np.sin(np.radians(angle)))


def outline_of(region: shapely.Geometry) -> Outline:
    """An outline from a shapely area; rings are oriented, islands kept, nothing simplified."""
    rings: list[NDArray[np.float64]] = []
    for part in polygons_of(region):
        rings.append(oriented(np.asarray(part.exterior.coords)[:-1, :2], ccw=True))
        rings.extend(
            oriented(np.asarray(hole.coords)[:-1, :2], ccw=False) for hole in part.interiors
        )
    return Outline(rings=tuple(rings))


def oriented(ring: NDArray[np.float64], *, ccw: bool) -> NDArray[np.float64]:
    """The ring running the wanted way round; always a fresh array."""
    ring = np.array(ring, dtype=np.float64)
    return ring if (signed_area_mm2(ring) > 0) == ccw else ring[::-1].copy()


def polygons_of(region: shapely.Geometry) -> Iterable[shapely.Polygon]:
    """The polygons of any shapely geometry, in its own order; lines and points are left out."""
    if isinstance(region, shapely.Polygon):
        return [] if region.is_empty else [region]
    return [p for part in getattr(region, "geoms", ()) for p in polygons_of(part)]
