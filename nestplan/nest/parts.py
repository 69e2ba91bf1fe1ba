"""Part of a task: some of its copies, and their layout in the numbers of the whole."""

from dataclasses import replace

import numpy as np

from nestplan.nest.placements import Placements
from nestplan.nest.task import Task

Counts = tuple[int, ...]  # copies of each shape


def part_of(task: Task, mix: Counts, length_most_mm: float | None) -> Task:
    """The task of one part: the same film and distances, some of the copies."""
    kept = [index for index, count in enumerate(mix) if count > 0]
    return replace(
        task,
        shapes=tuple(replace(task.shapes[i], copies=mix[i]) for i in kept),
        apart_mm=tuple(tuple(task.apart_mm[i][j] for j in kept) for i in kept),
        length_most_mm=length_most_mm,
    )


def in_whole(mix: Counts, placements: Placements) -> Placements:
    """Placements of a part with the shape numbers of the whole task."""
    kept = np.array([index for index, count in enumerate(mix) if count > 0], dtype=np.intp)
    return Placements(
        shape=kept[placements.shape],
        centre_mm=placements.centre_mm,
        angle_deg=placements.angle_deg,
    )


def joined(parts: list[Placements]) -> Placements:
    """Several placements as one."""
    return Placements(
        shape=np.concatenate([part.shape for part in parts]),
        centre_mm=np.concatenate([part.centre_mm for part in parts]),
        angle_deg=np.concatenate([part.angle_deg for part in parts]),
    )
