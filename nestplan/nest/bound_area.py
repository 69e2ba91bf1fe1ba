"""Grown contours do not overlap: their areas fit into the grown strip.

L >= sum(area(K_i grown by r_i)) / (W + 2r) - 2 r frames. Nothing is asked of the shapes: for
shapes with bays and holes this is the bound that always holds.
"""

from nestplan.nest.bound_contours import grown_area_mm2
from nestplan.nest.bound_radii import best_choices, length_for_mm
from nestplan.nest.task import Task


def area_mm(task: Task, frames: int) -> float:
    """The greatest such length over several choices of radii."""
    lengths = []
    for radii in best_choices(task, frames):
        areas = [grown_area_mm2(s.outline, r) for s, r in zip(task.shapes, radii, strict=True)]
        total = sum(area * s.copies for area, s in zip(areas, task.shapes, strict=True))
        lengths.append(length_for_mm(task, radii, total, frames))
    return max(lengths)
