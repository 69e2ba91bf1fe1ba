"""Why no nest is shorter, each picture drawn from the figures the bounds are computed with."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.geometry.outline import outline_of
from nestplan.nest import Budget, Layout, Shape, Task
from nestplan.nest.bound_apart import middle_of
from nestplan.nest.bound_contours import grown_convex, hull_of
from nestplan.nest.bound_middles import unit_region
from nestplan.nest.columns import Columns
from nestplan.nest.outlines import Outlines
from nestplan.nest.patterns import Patterns
from nestplan.nest.placements import lying
from nestplan.show.canvas import ACCENT, CUT, FILM, INK, RULE, SAFE, TINTS, Canvas
from nestplan.show.demo import AROUND_MM, Demo, regions, task_of

Points = NDArray[np.float64]

QUARTER = (0.0, 90.0, 180.0, 270.0)
LINES = 5  # along the feed, in the picture of whole rows


def star_shape() -> Shape:
    """A star of five points, 100 mm across."""
    angles = np.pi / 2 + np.pi * np.arange(10) / 5
    radii = np.where(np.arange(10) % 2 == 0, 50.0, 22.0)
    points = radii[:, np.newaxis] * np.column_stack((np.cos(angles), np.sin(angles)))
    return plain_shape("star", shapely.Polygon(points - (points.max(0) + points.min(0)) / 2), 14)


def plain_shape(name: str, region: shapely.Polygon, copies: int) -> Shape:
    """A shape of an area whose box is about the origin; half turns allowed."""
    return Shape(name=name, outline=outline_of(region), copies=copies, angles_deg=(0.0, 180.0))


# ---------------------------------------------------------------- one picture an idea


def grown(shapes: tuple[Shape, ...]) -> bytes:
    """Contours grown by half the gutter do not overlap, and lie in the grown strip."""
    few = tuple(replace(shape, copies=1) for shape in shapes)
    task = replace(task_of(few, width_mm=420.0), apart_mm=((12.0,) * len(few),) * len(few))
    layout = Outlines()(task, Budget(steps=1500, seed=1))
    assert layout is not None
    radius = 6.0
    canvas = Canvas(task.width_mm + 2 * AROUND_MM, layout.length_mm + 3 * AROUND_MM, wide_px=900)
    strip = shapely.box(
        AROUND_MM, AROUND_MM, AROUND_MM + task.width_mm, AROUND_MM + layout.length_mm
    )
    wider = shapely.box(*(np.array(strip.bounds) + (-radius, -radius, radius, radius)))
    canvas.area(wider, fill=FILM, line=ACCENT, px=1.4, dash="6 4")
    canvas.area(strip, line=RULE, px=1.2)
    for index, region in enumerate(regions(task, layout.placements)):
        canvas.area(region.buffer(radius, quad_segs=32), fill=SAFE, line=ACCENT, px=1.0)
        canvas.area(region, fill=TINTS[index % len(TINTS)], line=INK, px=1.0)
    text = "each contour grown by half the gutter; film and nest grown by as much (dashed)"
    canvas.words(AROUND_MM, layout.length_mm + 2 * AROUND_MM, text)
    return canvas.png()


def hexagon(shield: Shape) -> bytes:
    """The least hexagon round the grown hull of a shield: its share of the film, at least."""
    polygon = grown_convex(hull_of(shield.outline.region), 2.0)
    cell = least_drawn(polygon, 6)
    left, bottom, right, top = cell.bounds
    canvas = Canvas(right - left + 2 * AROUND_MM, top - bottom + 2.6 * AROUND_MM, wide_px=620)
    move = np.array([AROUND_MM - left, AROUND_MM - bottom])
    around = shapely.transform(cell, lambda points: points + move)
    canvas.area(around, fill=FILM, line=ACCENT, px=2.0)
    canvas.area(shapely.Polygon(polygon + move), fill=SAFE, line=ACCENT, px=1.0)
    canvas.area(
        shapely.transform(shield.outline.region, lambda points: points + move),
        fill=TINTS[0],
        line=INK,
    )
    share = 100 * (1 - shapely.Polygon(polygon).area / cell.area)
    text = f"{share:.1f} % of the hexagon lies outside the grown hull"
    canvas.words(AROUND_MM / 2, top - bottom + 1.8 * AROUND_MM, text)
    return canvas.png()


def lines(plate: Shape) -> bytes:
    """Lines along the feed so close that every plate crosses one."""
    task = task_of((replace(plate, copies=18, angles_deg=(0.0,)),), width_mm=480.0)
    layout = Columns()(task, Budget(steps=1, seed=1))
    assert layout is not None
    canvas = _film_canvas(task, layout)
    for region in regions(task, layout.placements):
        canvas.area(region, fill=TINTS[0], line=INK, px=1.0)
    wide = plate.outline.width_mm
    for number in range(LINES):
        x = AROUND_MM + plate.edge_mm + wide * (number + 0.94)
        ends = [[x, AROUND_MM / 2], [x, layout.length_mm + 1.5 * AROUND_MM]]
        canvas.line(np.array(ends), colour=CUT, px=1.6, dash="8 4")
    text = (
        f"{task.copies} plates, {LINES} lines: one line is crossed by "
        f"{-(-task.copies // LINES)} plates, one behind the other"
    )
    canvas.words(AROUND_MM, layout.length_mm + 1.8 * AROUND_MM, text)
    return canvas.png()


def middles(star: Shape) -> bytes:
    """Stars in a pattern, each with half the region that keeps its middle from the others'."""
    task = replace(task_of((star,), width_mm=480.0), apart_mm=((3.0,),))
    layout = Patterns()(task, Budget(steps=1, seed=1)) or Columns()(task, Budget(steps=1, seed=1))
    assert layout is not None
    region = unit_region(star.outline, star.angles_deg, 3.0)
    assert region is not None
    canvas = _film_canvas(task, layout)
    copies = lying(task, layout.placements.moved(AROUND_MM, AROUND_MM))
    for copy in copies:
        canvas.area(copy.region, fill=TINTS[1], line=INK, px=0.9)
    for copy in copies:
        middle = middle_of(copy)
        half = shapely.Polygon(middle + region.corners / 2)
        canvas.area(half, fill=SAFE, line=ACCENT, px=0.7, opacity=0.35)
        canvas.dot(*middle, colour=ACCENT, px=3.0)
    text = "points reach into notches, but the regions about the middles never overlap"
    canvas.words(AROUND_MM, layout.length_mm + 1.8 * AROUND_MM, text)
    return canvas.png()


# ---------------------------------------------------------------- parts of pictures


def least_drawn(polygon: Points, sides: int) -> shapely.Polygon:
    """A polygon of so many sides round another, turned side by side until it is small.

    For the eye only: it may be a hair larger than the least, which the bound understates.
    """
    drawn = [
        _turned_small(polygon, start + 2 * np.pi * np.arange(sides) / sides)
        for start in np.linspace(0, 2 * np.pi / sides, 6, endpoint=False)
    ]
    return min((shapely.Polygon(corners) for corners in drawn), key=lambda cell: cell.area)


def _turned_small(polygon: Points, angles: NDArray[np.float64]) -> Points:
    step, least = 0.2, _area(_round_about(polygon, angles))
    while step > 1e-3:
        tried = [angles + by * side for side in np.eye(len(angles)) for by in (-step, step)]
        areas = [_area(_round_about(polygon, each)) for each in tried]
        if min(areas) < least:
            least = min(areas)
            angles = tried[areas.index(least)]
        else:
            step /= 2
    return _round_about(polygon, angles)


def _round_about(polygon: Points, angles: NDArray[np.float64]) -> Points:
    """Corners of the sides that touch a polygon and face these ways."""
    normals = np.column_stack((np.cos(angles), np.sin(angles)))
    reach = (polygon @ normals.T).max(axis=0)
    after, further = np.roll(normals, -1, axis=0), np.roll(reach, -1)
    turn = normals[:, 0] * after[:, 1] - normals[:, 1] * after[:, 0]
    x = (reach * after[:, 1] - further * normals[:, 1]) / turn
    y = (further * normals[:, 0] - reach * after[:, 0]) / turn
    return np.column_stack((x, y))


def _area(corners: Points) -> float:
    x, y = corners.T
    return 0.5 * float(x @ np.roll(y, -1) - y @ np.roll(x, -1))


def _film_canvas(task: Task, layout: Layout) -> Canvas:
    canvas = Canvas(task.width_mm + 2 * AROUND_MM, layout.length_mm + 2.6 * AROUND_MM, wide_px=900)
    film = (AROUND_MM, AROUND_MM, AROUND_MM + task.width_mm, AROUND_MM + layout.length_mm)
    canvas.area(shapely.box(*film), fill=FILM, line=RULE)
    return canvas


DRAWINGS: dict[str, Callable[[Demo], bytes]] = {
    "bound-grown": lambda demo: grown(tuple(demo.regatta.values())),
    "bound-hexagon": lambda demo: hexagon(demo.regatta["lighthouse shield"]),
    "bound-lines": lambda demo: lines(demo.plate),
    "bound-middles": lambda _: middles(star_shape()),
}
