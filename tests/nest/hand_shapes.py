"""Outlines drawn by hand for the nest's tests, and tasks made of them."""

import numpy as np
import shapely

from nestplan.geometry.outline import Outline, outline_of
from nestplan.nest.task import Obstacle, Shape, Task

QUARTER = (0.0, 90.0, 180.0, 270.0)


def centred(region: shapely.Geometry) -> Outline:
    """The outline with the centre of its box at the origin."""
    left, bottom, right, top = region.bounds
    middle = np.array([(left + right) / 2, (bottom + top) / 2])
    return outline_of(shapely.transform(region, lambda points: points - middle))


def disc(diameter: float, corners: int = 48) -> shapely.Polygon:
    """A regular polygon round a circle, so that it is never narrower than the disc."""
    angles = 2 * np.pi * (np.arange(corners) + 0.5) / corners
    radius = diameter / 2 / np.cos(np.pi / corners)
    return shapely.Polygon(radius * np.column_stack([np.cos(angles), np.sin(angles)]))


def star(outer: float, inner: float, points: int = 5) -> shapely.Polygon:
    """A star, one point up."""
    angles = np.pi / 2 + np.pi * np.arange(2 * points) / points
    radii = np.where(np.arange(2 * points) % 2 == 0, outer, inner)
    return shapely.Polygon(radii[:, None] * np.column_stack([np.cos(angles), np.sin(angles)]))


RECTANGLE = shapely.box(0, 0, 40, 25)
ANGLE = shapely.Polygon([(0, 0), (40, 0), (40, 12), (12, 12), (12, 30), (0, 30)])
SICKLE = shapely.Polygon(disc(40, 32)).difference(
    shapely.transform(disc(34, 32), lambda p: p + [14.0, 3.0])
)
RING = disc(60, 40).difference(disc(40, 40))
ISLANDS = shapely.union_all([shapely.box(0, 0, 12, 30), shapely.box(20, 5, 34, 16)])
HAND_DRAWN = {
    "rectangle": RECTANGLE,
    "angle": ANGLE,
    "disc": disc(22),
    "star": star(20, 8),
    "sickle": SICKLE,
    "ring": RING,
    "islands": ISLANDS,
}


def shape(
    name: str,
    copies: int,
    angles_deg: tuple[float, ...] = QUARTER,
    edge_mm: float = 0.0,
) -> Shape:
    """One of the hand-drawn outlines, so many times."""
    return Shape(
        name=name,
        outline=centred(HAND_DRAWN[name]),
        copies=copies,
        angles_deg=angles_deg,
        edge_mm=edge_mm,
    )


def task(
    *shapes: Shape,
    width_mm: float,
    gutter_mm: float = 3.0,
    obstacles: tuple[Obstacle, ...] = (),
) -> Task:
    """A task with one gutter for all."""
    return Task(
        shapes=shapes,
        width_mm=width_mm,
        apart_mm=((gutter_mm,) * len(shapes),) * len(shapes),
        obstacles=obstacles,
    )
