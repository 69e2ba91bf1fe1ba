"""By how much each contour may be grown, so that grown contours still do not overlap."""

from collections.abc import Iterator
from functools import lru_cache
from math import pi

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

from nestplan.nest.task import Task

CHOICES_MOST = 4  # choices of radii worked out exactly
CEILINGS_MOST = 6  # greatest radii tried
PROGRAM_MOST = 60  # shapes in the linear program for radii; more have plain choices only

Floats = NDArray[np.float64]
Radii = tuple[float, ...]


def length_for_mm(task: Task, radii: Radii, total_mm2: float, frames: int) -> float:
    """How long the frames must be to hold so much grown area."""
    return total_mm2 / grown_width_mm(task, radii) - 2 * max(radii) * frames


def grown_width_mm(task: Task, radii: Radii) -> float:
    """From the leftmost to the rightmost place that a grown contour can reach."""
    aside_mm = min(s.edge_mm - r for s, r in zip(task.shapes, radii, strict=True))
    return task.width_mm - 2 * aside_mm


@lru_cache(maxsize=16)
def best_choices(task: Task, frames: int) -> tuple[Radii, ...]:
    """The most promising choices of radii, by the areas of grown hulls, the best first."""
    hull_mm = np.array([shape.outline.region.convex_hull.length for shape in task.shapes])
    area_mm2 = np.array([shape.outline.area_mm2 for shape in task.shapes])
    copies = np.array([shape.copies for shape in task.shapes])

    def promise(radii: Radii) -> float:
        r = np.array(radii)
        total_mm2 = float(copies @ (area_mm2 + r * hull_mm + pi * r * r))
        return length_for_mm(task, radii, total_mm2, frames)

    choices = dict.fromkeys(radius_choices(task))
    return tuple(sorted(choices, key=promise, reverse=True)[:CHOICES_MOST])


def radius_choices(task: Task) -> Iterator[Radii]:
    """Radii r with r_i + r_j <= apart_ij for all pairs of copies, i and another i too.

    Gutter / 2 for all; then each raised as far as the others leave it room, the shape with
    most outline first or last, from that start or from nothing, under several ceilings; and
    under each ceiling the radii that grow most outline.
    """
    rooms_mm = _rooms_mm(task)
    n = len(task.shapes)
    known = rooms_mm[np.isfinite(rooms_mm)]
    least_mm = float(known.min()) if len(known) else 0.0
    yield (0.0,) * n
    yield (least_mm / 2,) * n
    outline_mm = np.array([shape.outline.length_mm * shape.copies for shape in task.shapes])
    by_outline = np.argsort(-outline_mm, kind="stable").tolist()
    for ceiling_mm in sorted(set(known.tolist()))[:CEILINGS_MOST]:
        for order in (by_outline, by_outline[::-1]):
            for start_mm in (0.0, least_mm / 2):
                yield _raised(rooms_mm, order, start_mm, ceiling_mm / 2)
        if known.max() > least_mm and n <= PROGRAM_MOST:
            yield _most_grown(rooms_mm, outline_mm, ceiling_mm / 2)


def _rooms_mm(task: Task) -> Floats:
    """What two copies keep from each other; infinite between a single copy and its like."""
    rooms_mm = np.array(task.apart_mm, dtype=np.float64)
    alone = [i for i, shape in enumerate(task.shapes) if shape.copies == 1]
    rooms_mm[alone, alone] = np.inf
    return rooms_mm


def _raised(rooms_mm: Floats, order: list[int], start_mm: float, ceiling_mm: float) -> Radii:
    """One radius after the other as great as the others leave it."""
    radii = np.full(len(rooms_mm), start_mm)
    for i in order:
        left = rooms_mm[i] - radii
        left[i] = rooms_mm[i, i] / 2
        radii[i] = max(radii[i], min(ceiling_mm, float(left.min())))
    return tuple(radii.tolist())


def _most_grown(rooms_mm: Floats, outline_mm: Floats, ceiling_mm: float) -> Radii:
    """The radii up to a ceiling that together grow the most outline: a linear program.

    Its answer is drawn in until every pair keeps its distance exactly.
    """
    n = len(rooms_mm)
    first, second = np.triu_indices(n)
    kept = np.isfinite(rooms_mm[first, second])
    first, second = first[kept], second[kept]
    pairs = np.zeros((len(first), n))
    np.add.at(pairs, (np.arange(len(first)), first), 1.0)
    np.add.at(pairs, (np.arange(len(first)), second), 1.0)
    found = linprog(-outline_mm, pairs, rooms_mm[first, second], bounds=(0.0, ceiling_mm))
    if not found.success:
        return (0.0,) * n
    radii = np.clip(found.x, 0.0, ceiling_mm)
    sums = radii[first] + radii[second]
    over = np.divide(rooms_mm[first, second], sums, out=np.ones_like(sums), where=sums > 0)
    drawn_in = radii * min(1.0, float(over.min(initial=1.0)))
    return tuple(drawn_in.tolist())
