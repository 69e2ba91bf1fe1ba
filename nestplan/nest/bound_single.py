"""Some frame holds each shape, so it is at least as long as that shape lies short."""

import numpy as np

from nestplan.geometry.same import SAME_MM
from nestplan.nest.bound_contours import hull_of
from nestplan.nest.task import Shape, Task


def longest_single_mm(task: Task, frames: int) -> float:
    """The longest of the shapes, each as short along the feed as it may lie."""
    return max(_least_extent_mm(task, shape) for shape in task.shapes)


def _least_extent_mm(task: Task, shape: Shape) -> float:
    if shape.any_angle:  # the least width of a convex hull is across one of its edges
        hull = hull_of(shape.outline.region)
        edges = np.roll(hull, -1, axis=0) - hull
        normals = np.column_stack((-edges[:, 1], edges[:, 0])) / np.hypot(*edges.T)[:, np.newaxis]
        return float(np.ptp(hull @ normals.T, axis=0).min())
    turned = [shape.outline.turned(angle_deg) for angle_deg in angles_that_fit(task, shape)]
    return min(outline.height_mm for outline in turned)


def angles_that_fit(task: Task, shape: Shape) -> list[float]:
    """Allowed angles at which a copy fits the width; all of them where none does."""
    room_mm = task.width_mm - 2 * shape.edge_mm + SAME_MM
    fits = [a for a in shape.angles_deg if shape.outline.turned(a).width_mm <= room_mm]
    return fits or list(shape.angles_deg)
