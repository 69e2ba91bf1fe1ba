"""Proves a nest, or says what is broken in it: no line of this is shared with an engine.

It knows the task and where the copies lie, and works everything else out again: it turns
the outlines itself, measures with shapely in float64 and takes nobody's word for a length.
A search that fools itself cannot fool this.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.nest.placements import Layout, Placements
from nestplan.nest.task import Shape, Task

EXACT_MM = 1e-6  # float64 keeps this over a kilometre of film; no cutter steps finer than 0.01
EXACT_DEG = 1e-9
CHUNK = 256  # copies whose neighbours are looked up at once: the tree answers in bulk
PAIRS = 4096  # pairs measured at once, so that 10 000 copies in one spot fit in memory
MOST_BROKEN = 100  # enough to see what is wrong

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class Broken:
    """One rule that a layout breaks.

    what:    the rule, in words. where: the copies, by shape name and row of the placements.
    found, allowed: the two figures, in the unit that `what` names.
    """

    what: str
    where: str
    found: float
    allowed: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lying:
    """Copies as they lie: areas, and boxes (n, 4) left, bottom, right, top."""

    areas: NDArray[np.object_]
    boxes_mm: Floats


def verify(
    task: Task,
    laid: Layout | Placements,
    *,
    copies: Sequence[int] | None = None,
    length_most_mm: float | None = None,
) -> tuple[Broken, ...]:
    """Everything a layout breaks; nothing broken means that it is legal to EXACT_MM.

    laid:           a layout, whose stated length is checked too, or placements alone.
    copies:         wanted copies of each shape; absent, the task's own.
    length_most_mm: greatest length, where it matters (a frame of the cutter).
    returns:        at most about MOST_BROKEN entries; those of distances only when the
                    placements are finite and name known shapes.
    """
    placements = laid.placements if isinstance(laid, Layout) else laid
    broken = list(_nonsense(task, placements))
    if broken:
        return tuple(broken[:MOST_BROKEN])
    broken += _counts(task, placements, copies)
    broken += _angles(task, placements)
    if len(placements):
        lying = _lay(task, placements)
        stated_mm = laid.length_mm if isinstance(laid, Layout) else None
        broken += _lengths(task, lying, stated_mm, length_most_mm)
        broken += _edges(task, placements, lying)
        broken += _near_obstacles(task, placements, lying)
        broken += _near_each_other(task, placements, lying)
    return tuple(broken)


def _nonsense(task: Task, placements: Placements) -> Iterator[Broken]:
    """Placements that lie nowhere, or are of no known shape."""
    finite = np.isfinite(placements.centre_mm).all(axis=1) & np.isfinite(placements.angle_deg)
    for row in np.flatnonzero(~finite).tolist():
        yield Broken(what="a place is not a number", where=f"row {row}", found=np.nan, allowed=0.0)
    known = (placements.shape >= 0) & (placements.shape < len(task.shapes))
    for row in np.flatnonzero(~known).tolist():
        yield Broken(
            what="a copy of no known shape",
            where=f"row {row}",
            found=float(placements.shape[row]),
            allowed=float(len(task.shapes) - 1),
        )


def _counts(task: Task, placements: Placements, copies: Sequence[int] | None) -> Iterator[Broken]:
    wanted = [shape.copies for shape in task.shapes] if copies is None else copies
    counted = np.bincount(placements.shape, minlength=len(task.shapes)).tolist()
    for shape, found, allowed in zip(task.shapes, counted, wanted, strict=True):
        if found != allowed:
            yield Broken(
                what="copies laid", where=shape.name, found=float(found), allowed=float(allowed)
            )


def _angles(task: Task, placements: Placements) -> Iterator[Broken]:
    for index, shape in enumerate(task.shapes):
        if shape.any_angle:
            continue
        rows = np.flatnonzero(placements.shape == index)
        turns = placements.angle_deg[rows, np.newaxis] - np.array(shape.angles_deg)
        off_deg = np.abs((turns + 180.0) % 360.0 - 180.0)
        for row, off in zip(rows.tolist(), off_deg.min(axis=1).tolist(), strict=True):
            if off > EXACT_DEG:
                nearest = shape.angles_deg[int(off_deg[np.searchsorted(rows, row)].argmin())]
                yield Broken(
                    what="angle that the shape may not take, degrees",
                    where=_name(task, placements, row),
                    found=float(placements.angle_deg[row]),
                    allowed=nearest,
                )


def _lay(task: Task, placements: Placements) -> _Lying:
    """Turn and shift every copy, all of one shape at one angle in one go."""
    n = len(placements)
    areas = np.empty(n, dtype=np.object_)
    boxes_mm = np.empty((n, 4))
    keys = np.column_stack((placements.shape.astype(np.float64), placements.angle_deg))
    distinct, which = np.unique(keys, axis=0, return_inverse=True)
    which = which.reshape(-1)
    for number, (index, angle_deg) in enumerate(distinct.tolist()):
        rows = np.flatnonzero(which == number)
        area = _area(task.shapes[int(index)])
        corners = _turned(shapely.get_coordinates(area), angle_deg)
        centres = placements.centre_mm[rows]
        laid = (centres[:, np.newaxis, :] + corners).reshape(-1, 2)
        areas[rows] = shapely.set_coordinates(np.full(len(rows), area, dtype=np.object_), laid)
        boxes_mm[rows, :2] = centres + corners.min(axis=0)
        boxes_mm[rows, 2:] = centres + corners.max(axis=0)
    return _Lying(areas=areas, boxes_mm=boxes_mm)


def _area(shape: Shape) -> shapely.Geometry:
    """Outer rings less holes, whichever way round and in whatever order the rings run."""
    area: shapely.Geometry = shapely.Polygon()
    for ring in shape.outline.rings:
        area = shapely.symmetric_difference(area, shapely.Polygon(ring))
    return area


def _turned(points_mm: Floats, angle_deg: float) -> Floats:
    turn = np.exp(1j * np.radians(angle_deg))
    turned = (points_mm @ np.array([1.0, 1j])) * turn
    return np.column_stack((turned.real, turned.imag))


def _lengths(
    task: Task, lying: _Lying, stated_mm: float | None, length_most_mm: float | None
) -> Iterator[Broken]:
    """The layout begins at y = 0 and ends at its stated length."""
    bottom, top = float(lying.boxes_mm[:, 1].min()), float(lying.boxes_mm[:, 3].max())
    if stated_mm is not None:
        starts_late = bottom > EXACT_MM and not task.obstacles
        if not bottom >= -EXACT_MM or starts_late:
            yield Broken(what="start along the feed, mm", where="layout", found=bottom, allowed=0.0)
        if not abs(top - stated_mm) <= EXACT_MM:
            yield Broken(what="stated length, mm", where="layout", found=stated_mm, allowed=top)
    if length_most_mm is not None and top - bottom > length_most_mm + EXACT_MM:
        yield Broken(what="length, mm", where="layout", found=top - bottom, allowed=length_most_mm)


def _edges(task: Task, placements: Placements, lying: _Lying) -> Iterator[Broken]:
    edges_mm = np.array([shape.edge_mm for shape in task.shapes])[placements.shape]
    left_mm = lying.boxes_mm[:, 0]
    right_mm = task.width_mm - lying.boxes_mm[:, 2]
    for side, room_mm in (("left", left_mm), ("right", right_mm)):
        for row in np.flatnonzero(~(room_mm >= edges_mm - EXACT_MM)).tolist():
            yield Broken(
                what=f"distance to the {side} edge, mm",
                where=_name(task, placements, row),
                found=float(room_mm[row]),
                allowed=float(edges_mm[row]),
            )


def _near_obstacles(task: Task, placements: Placements, lying: _Lying) -> Iterator[Broken]:
    for number, obstacle in enumerate(task.obstacles):
        area = _area(Shape(name="", outline=obstacle.outline, copies=1, angles_deg=(0.0,)))
        rows = np.arange(len(placements))
        areas = np.full(len(rows), area, dtype=np.object_)
        apart_mm = np.full(len(rows), obstacle.apart_mm)
        near, found_mm = _too_near(lying.areas, areas, apart_mm)
        for row, distance_mm in zip(rows[near].tolist(), found_mm.tolist(), strict=True):
            yield Broken(
                what="distance to an obstacle, mm",
                where=f"{_name(task, placements, row)}, obstacle {number}",
                found=distance_mm,
                allowed=obstacle.apart_mm,
            )


def _near_each_other(task: Task, placements: Placements, lying: _Lying) -> Iterator[Broken]:
    """Pairs of copies that overlap, lie one in the other, or are nearer than they may be."""
    apart_mm = np.array(task.apart_mm)
    named = 0
    for first, second in _neighbours(placements, lying, apart_mm):
        least_mm = apart_mm[placements.shape[first], placements.shape[second]]
        near, found_mm = _too_near(lying.areas[first], lying.areas[second], least_mm)
        rows = zip(first[near].tolist(), second[near].tolist(), strict=True)
        figures = zip(found_mm.tolist(), least_mm[near].tolist(), strict=True)
        for (a, b), (found, least) in zip(rows, figures, strict=True):
            yield Broken(
                what="distance of two copies, mm",
                where=f"{_name(task, placements, a)} and {_name(task, placements, b)}",
                found=found,
                allowed=least,
            )
            named += 1
            if named >= MOST_BROKEN:
                return


def _neighbours(
    placements: Placements, lying: _Lying, apart_mm: Floats
) -> Iterator[tuple[Indices, Indices]]:
    """Pairs of rows, each pair once, whose boxes are nearer than the copies may come."""
    boxes = lying.boxes_mm
    reach_mm = apart_mm.max(axis=1)[placements.shape, np.newaxis]
    tree = shapely.STRtree(np.asarray(shapely.box(*boxes.T)))
    around = np.asarray(shapely.box(*(boxes + reach_mm * (-1.0, -1.0, 1.0, 1.0)).T))
    for start in range(0, len(boxes), CHUNK):
        first, second = tree.query(around[start : start + CHUNK])
        first = first + start
        once = first < second
        first, second = first[once], second[once]
        between = np.maximum(
            np.maximum(boxes[first, :2], boxes[second, :2])
            - np.minimum(boxes[first, 2:], boxes[second, 2:]),
            0.0,
        )
        least_mm = apart_mm[placements.shape[first], placements.shape[second]]
        # boxes that touch may hold copies that overlap by rounding: looked at all the same
        close = np.hypot(*between.T) <= np.maximum(least_mm - EXACT_MM, 0.0)
        first, second = first[close], second[close]
        for pair in range(0, len(first), PAIRS):
            yield first[pair : pair + PAIRS], second[pair : pair + PAIRS]


def _too_near(
    first: NDArray[np.object_], second: NDArray[np.object_], least_mm: Floats
) -> tuple[Bools, Floats]:
    """Which pairs are nearer than they may be (mask over all), and how near those are.

    Overlap counts below zero, so that copies which may touch (least 0) are still told from
    copies that lie on each other.
    """
    shapely.prepare(first)  # each lies beside several others: its edges are indexed once
    within_mm = np.maximum(least_mm - EXACT_MM, 0.0)
    near: Bools = shapely.dwithin(first, second, within_mm)  # type: ignore[call-overload]  # one distance a pair: the stubs know only one for all
    found_mm: Floats = shapely.distance(first[near], second[near])
    met = np.flatnonzero(found_mm == 0.0)
    found_mm[met] = -_overlap_mm(first[near][met], second[near][met])
    really = found_mm < least_mm[near] - EXACT_MM
    near[near] = really
    return near, found_mm[really]


def _overlap_mm(first: NDArray[np.object_], second: NDArray[np.object_]) -> Floats:
    """How wide the common area is, 0 where it is a mere touch no wider than EXACT_MM.

    A mean width (twice the area over the girth) of what is left after a touch is worn off.
    """
    common = shapely.intersection(first, second)
    worn = shapely.buffer(common, -EXACT_MM / 2, join_style="mitre")
    girth_mm = shapely.length(worn)
    width_mm: Floats = 2.0 * shapely.area(worn) / np.where(girth_mm > 0, girth_mm, 1.0)
    return np.where(girth_mm > 0, width_mm + EXACT_MM, 0.0)


def _name(task: Task, placements: Placements, row: int) -> str:
    return f"{task.shapes[int(placements.shape[row])].name} (row {row})"
