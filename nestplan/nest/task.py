"""What a nesting engine is asked: shapes, copies, distances, a strip. No job, no art."""

from collections.abc import Hashable
from dataclasses import dataclass
from functools import cached_property

from nestplan.geometry.outline import Outline


@dataclass(frozen=True, kw_only=True, eq=False)
class Shape:
    """One outline and how often it must lie on the film.

    outline:    at angle 0, centre of its bounding box at the origin, mm.
    angles_deg: allowed turns, counter-clockwise, sorted, in [0, 360); `any_angle`
                says that every other angle is allowed too (engines may stay with these).
    edge_mm:    least distance to the two long edges of the strip (its bleed).
    best_deg:   of all turns at which it covers the same film, the one to lay it at.
    """

    name: str
    outline: Outline
    copies: int
    angles_deg: tuple[float, ...]
    any_angle: bool = False
    edge_mm: float = 0.0
    best_deg: float = 0.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Obstacle:
    """A fixed area that no contour comes nearer to than `apart_mm` (a mark, a lane, a defect).

    outline: in strip coordinates, mm.
    """

    outline: Outline
    apart_mm: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Task:
    """Lay all copies into the shortest strip.

    Strip coordinates: mm, x across in [0, width_mm], y along the feed from 0.
    apart_mm[i][j]: least distance of a contour of shape i from one of shape j (also i from i).
    length_most_mm: a layout longer than this is of no use (a frame of the cutter), or None.
    obstacles: fixed areas, in strip coordinates.
    """

    shapes: tuple[Shape, ...]
    width_mm: float
    apart_mm: tuple[tuple[float, ...], ...]
    length_most_mm: float | None = None
    obstacles: tuple[Obstacle, ...] = ()

    @cached_property
    def copies(self) -> int:
        """Pieces in all."""
        return sum(shape.copies for shape in self.shapes)

    @cached_property
    def key(self) -> Hashable:
        """The same for tasks that ask the same, whatever their shapes are called."""
        shapes = tuple(
            (_key(s.outline), s.copies, s.angles_deg, s.any_angle, s.edge_mm, s.best_deg)
            for s in self.shapes
        )
        obstacles = tuple((_key(each.outline), each.apart_mm) for each in self.obstacles)
        return shapes, self.width_mm, self.apart_mm, self.length_most_mm, obstacles


def _key(outline: Outline) -> tuple[bytes, ...]:
    return tuple(ring.tobytes() for ring in outline.rings)
