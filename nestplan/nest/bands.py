"""Bands: a large quantity of one shape in its own pattern, from one long edge to the other.

A pattern is searched once for a shape, for more copies than are needed; a band takes from
its beginning as many as fill it well: a copy that stays out costs the film which a search
over a mix would take for it.
"""

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.nest.engine import Budget
from nestplan.nest.patterns import Patterns
from nestplan.nest.placements import Placements, boxes_mm
from nestplan.nest.task import Task

FEWEST = 24  # copies of a shape for which a band is thought of
PATTERN_LEAST = 512  # copies a pattern is searched for: those of a band are its beginning

REMEMBERED = 64  # patterns: frames of one run ask for the same ones again and again

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Pattern:
    """Copies of one shape by the height of their tops, the lowest at y = 0 at first."""

    centre_mm: Floats
    angle_deg: Floats
    top_mm: Floats


_remembered: dict[tuple[object, ...], _Pattern | None] = {}


def band(task: Task, index: int, fill_of_mix: float, budget: Budget) -> Placements | None:
    """The band of a shape that is worth making: copies from y = 0 on; None: not worth any.

    It may hold fewer copies than asked; never more.
    fill_of_mix: share of the film, gutters counted as shape, that a searched mix covers.
    budget:      only whether to stop is looked at: what a band is does not depend on how
                 long one may search.
    """
    shape = task.shapes[index]
    if shape.copies < FEWEST:
        return None
    alone = _alone(task, index)
    pattern = _pattern(alone, budget)
    if pattern is None:
        return None
    copies = np.arange(shape.copies + 1)
    apart = task.apart_mm[index][index]
    tops = np.concatenate([[-apart], pattern.top_mm[: shape.copies]])
    costs = tops + (shape.copies - copies) * _price_mm(alone, fill_of_mix)
    many = int(len(costs) - 1 - np.argmin(costs[::-1]))  # of equal costs the fullest
    if many == 0:
        return None
    return Placements(
        shape=np.full(many, index, dtype=np.intp),
        centre_mm=pattern.centre_mm[:many].copy(),
        angle_deg=pattern.angle_deg[:many].copy(),
    )


def _price_mm(alone: Task, fill_of_mix: float) -> float:
    """Film along the feed that one copy takes in a searched mix."""
    shape, gutter = alone.shapes[0], alone.apart_mm[0][0]
    grown = shape.outline.region.buffer(gutter / 2).area
    return float(grown / fill_of_mix / (alone.width_mm + gutter - 2 * shape.edge_mm))


def _alone(task: Task, index: int) -> Task:
    """The shape by itself, in a quantity that many runs share."""
    shape = task.shapes[index]
    copies = max(PATTERN_LEAST, 1 << (shape.copies - 1).bit_length())
    return Task(
        shapes=(replace(shape, copies=copies),),
        width_mm=task.width_mm,
        apart_mm=((task.apart_mm[index][index],),),
    )


def _pattern(alone: Task, budget: Budget) -> _Pattern | None:
    """The best pattern, copies by the height of their tops; None where there is none."""
    (shape,) = alone.shapes
    key = (
        shapely.to_wkb(shape.outline.region),
        shape.copies,
        shape.angles_deg,
        shape.any_angle,
        shape.edge_mm,
        shape.best_deg,
        alone.width_mm,
        alone.apart_mm,
    )
    if key in _remembered:
        return _remembered[key]
    layout = Patterns()(alone, budget)
    found = None if layout is None else _by_height(alone, layout.placements)
    if not budget.stopped():  # else it may be less than the best
        if len(_remembered) >= REMEMBERED:
            _remembered.clear()
        _remembered[key] = found
    return found


def _by_height(alone: Task, laid: Placements) -> _Pattern:
    tops = boxes_mm(alone, laid)[:, 3]
    order = np.lexsort((laid.centre_mm[:, 0], tops))
    return _Pattern(
        centre_mm=laid.centre_mm[order], angle_deg=laid.angle_deg[order], top_mm=tops[order]
    )
