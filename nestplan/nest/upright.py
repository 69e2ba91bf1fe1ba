"""Copies turned to where their art should point, wherever the contour covers the same film."""

from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.geometry.outline import Outline, turn
from nestplan.nest.nested import Strip
from nestplan.nest.task import Task

COVERS_MM = 1e-7  # a tenth of what the verifier tells apart


def laid_best(task: Task, strips: tuple[Strip, ...]) -> tuple[Strip, ...]:
    """The same strips, copies at their shape's best angle where no contour moves for it."""
    return tuple(_laid_best(task, strip) for strip in strips)


def _laid_best(task: Task, strip: Strip) -> Strip:
    placements = strip.placements
    centre, angle = placements.centre_mm.copy(), placements.angle_deg.copy()
    keys = np.column_stack((placements.shape.astype(np.float64), angle))
    distinct, which = np.unique(keys, axis=0, return_inverse=True)
    for number, (index, found_deg) in enumerate(distinct.tolist()):
        shape = task.shapes[int(index)]
        moved = _moved_mm(shape.outline, found_deg, shape.best_deg)
        if moved is not None:
            rows = np.flatnonzero(which.reshape(-1) == number)
            centre[rows] += moved
            angle[rows] = shape.best_deg
    return replace(strip, placements=replace(placements, centre_mm=centre, angle_deg=angle))


def _moved_mm(outline: Outline, one_deg: float, other_deg: float) -> NDArray[np.float64] | None:
    """How the centre of its box moves from one turn to the other; None: they cover other film.

    A turn that maps a shape on itself keeps its centre of area, not that of its box.
    """
    if one_deg == other_deg:
        return None
    area = shapely.centroid(outline.region)
    centre = np.array([[area.x, area.y]])
    moved: NDArray[np.float64] = (turn(centre, one_deg) - turn(centre, other_deg))[0]
    one = outline.turned(one_deg)
    other = outline.turned(other_deg).moved(*moved.tolist())
    if np.abs(np.subtract(one.bounds_mm, other.bounds_mm)).max() > COVERS_MM:
        return None
    edge, other_edge = shapely.boundary(one.region), shapely.boundary(other.region)
    return moved if shapely.hausdorff_distance(edge, other_edge) <= COVERS_MM else None
