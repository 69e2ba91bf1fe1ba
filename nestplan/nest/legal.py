"""Which copies of a given layout may stay where they lie.

A layout that comes from a file has its places rounded: distances that were exact are then
short by a millionth of a millimetre. Such copies are eased apart before they are judged.
"""

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.geometry.same import SAME_MM
from nestplan.nest.placements import Placements, lying
from nestplan.nest.task import Task

ROUNDED_MM = 5e-6  # what rounding two places to six decimals may take from a distance, and more
SHORT_MM = SAME_MM / 5  # copies nearer than this are eased
STILL_MM = 4 * SHORT_MM  # and what is left then may stay: the verifier looks over more
EASED_MM = 1e-8  # copies are pushed this much farther than they need
ROUNDS = 60
OVERLAP_MM2 = 1e-4  # of copies that may touch

Areas = NDArray[np.object_]
Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


def legal_rows(
    task: Task, laid: Placements, *, length_most_mm: float
) -> tuple[Placements, NDArray[np.bool_]]:
    """The placements, eased apart, and which of their copies break no rule together.

    Where copies are too near each other, the one with most such neighbours goes first.
    """
    laid = _eased(task, laid)
    kept = np.ones(len(laid), dtype=np.bool_)
    if not len(laid):
        return laid, kept
    areas = _areas(task, laid)
    left, _, right, top = shapely.bounds(areas).T
    edge_mm = np.array([shape.edge_mm for shape in task.shapes])[laid.shape] - STILL_MM
    kept &= (left >= edge_mm) & (right <= task.width_mm - edge_mm)
    kept &= top <= length_most_mm + STILL_MM
    for row, (index, _, angle) in enumerate(laid.each()):
        shape = task.shapes[index]
        kept[row] &= shape.any_angle or angle in shape.angles_deg
    one, other, least_mm, found_mm = _near(task, laid, areas)
    bad = found_mm < least_mm - STILL_MM
    touching = np.flatnonzero((found_mm == 0.0) & ~bad)
    shared = shapely.area(shapely.intersection(areas[one[touching]], areas[other[touching]]))
    bad[touching] = shared > OVERLAP_MM2
    _drop(kept, one[bad], other[bad])
    return laid, kept


def _drop(kept: NDArray[np.bool_], one: Indices, other: Indices) -> None:
    """Take rows out until no pair of them is left."""
    while True:
        there = kept[one] & kept[other]
        if not there.any():
            return
        one, other = one[there], other[there]
        neighbours = np.bincount(np.concatenate([one, other]), minlength=len(kept))
        kept[len(kept) - 1 - int(neighbours[::-1].argmax())] = False  # of equals the last


def _areas(task: Task, laid: Placements) -> Areas:
    return np.array([outline.region for outline in lying(task, laid)], dtype=np.object_)


def _near(task: Task, laid: Placements, areas: Areas) -> tuple[Indices, Indices, Floats, Floats]:
    """Pairs of rows nearer than they may be, or just so near: both, allowed, found."""
    apart_mm = np.array(task.apart_mm)
    tree = shapely.STRtree(areas)
    one, other = tree.query(areas, predicate="dwithin", distance=float(apart_mm.max()))
    once = one < other
    one, other = one[once], other[once]
    least_mm = apart_mm[laid.shape[one], laid.shape[other]]
    found_mm = shapely.distance(areas[one], areas[other])
    close = found_mm <= least_mm
    return one[close], other[close], least_mm[close], found_mm[close]


def _eased(task: Task, laid: Placements) -> Placements:
    """Copies that rounding brought a hair too near, pushed apart along their shortest line."""
    edge_mm = np.array([shape.edge_mm for shape in task.shapes])[laid.shape]
    for _ in range(ROUNDS if len(laid) else 0):
        areas = _areas(task, laid)
        one, other, least_mm, found_mm = _near(task, laid, areas)
        slight = (found_mm < least_mm - SHORT_MM) & (found_mm > least_mm - ROUNDED_MM)
        slight &= found_mm > 0
        if not slight.any():
            break
        one, other = one[slight], other[slight]
        ends = shapely.get_coordinates(shapely.shortest_line(areas[one], areas[other]))
        along = ends[1::2] - ends[::2]
        push = (least_mm - found_mm)[slight] / 2 + EASED_MM
        push = along * (push / np.hypot(*along.T))[:, np.newaxis]
        shift = np.zeros((len(laid), 2))
        np.add.at(shift, one, -push)
        np.add.at(shift, other, push)
        left, _, right, _ = shapely.bounds(areas).T
        low, high = edge_mm - left, task.width_mm - edge_mm - right
        inside = low <= high
        shift[inside, 0] = np.clip(shift[inside, 0], low[inside], high[inside])
        laid = Placements(
            shape=laid.shape, centre_mm=laid.centre_mm + shift, angle_deg=laid.angle_deg
        )
    return laid
