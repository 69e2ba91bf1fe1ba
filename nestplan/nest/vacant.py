"""Places that a layout's own pattern leaves free.

Where copies lie in rows or on a lattice, how one lies beside another is repeated many times.
A copy that comes may lie beside any copy just so: exactly, where a search only comes near.
"""

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.nest.legal import ROUNDED_MM
from nestplan.nest.placements import Placements, lying, placed
from nestplan.nest.task import Task

SAME_STEP_MM = 1e-3  # steps from copy to copy that differ by less are one
OFTEN = 2  # how often a step must be seen to be a pattern
REACH = 1.6  # neighbours are nearer than this many times both their sizes
CANDIDATES_MOST = 20_000  # the lowest; more would be no pattern

Floats = NDArray[np.float64]
Kind = tuple[int, float]  # a shape and its angle


def vacant_places(
    task: Task, laid: Placements, missing: NDArray[np.intp], room_mm: float
) -> Placements:
    """Legal places for missing copies, the lowest first, none reaching beyond room_mm.

    missing: copies wanted of each shape. Distances are kept but for what rounded places lack.
    """
    left = missing.copy()
    there = _Film(task, laid)
    found: list[tuple[Kind, Floats]] = []
    for kind, centre in _candidates(task, laid, missing, room_mm):
        if left[kind[0]] and there.takes(kind, centre):
            found.append((kind, centre))
            left[kind[0]] -= 1
        if not left.any():
            break
    return Placements(
        shape=np.array([kind[0] for kind, _ in found], dtype=np.intp),
        centre_mm=np.array([centre for _, centre in found]).reshape(-1, 2),
        angle_deg=np.array([kind[1] for kind, _ in found], dtype=np.float64),
    )


class _Film:
    """What lies there, and whether one more copy may lie at a place; if so, it does."""

    def __init__(self, task: Task, laid: Placements) -> None:
        self._task = task
        self._apart_mm = np.array(task.apart_mm)
        self._shapes = laid.shape
        areas = [outline.region for outline in lying(task, laid)]
        self._areas = np.array(areas, dtype=np.object_)
        self._tree = shapely.STRtree(self._areas)
        self._reach_mm = float(self._apart_mm.max())
        self._came: list[tuple[int, shapely.Geometry]] = []

    def takes(self, kind: Kind, centre: Floats) -> bool:
        """Whether a copy keeps its distances there."""
        area, apart_mm = self._area(kind, centre), self._apart_mm[kind[0]]
        near = self._tree.query(area, predicate="dwithin", distance=self._reach_mm)
        allowed = apart_mm[self._shapes[near]] - ROUNDED_MM
        if (shapely.distance(area, self._areas[near]) <= np.maximum(allowed, 0.0)).any():
            return False
        for obstacle in self._task.obstacles:
            if shapely.distance(area, obstacle.outline.region) < obstacle.apart_mm:
                return False
        for shape, other in self._came:
            if shapely.distance(area, other) <= max(apart_mm[shape] - ROUNDED_MM, 0.0):
                return False
        self._came.append((kind[0], area))
        return True

    def _area(self, kind: Kind, centre: Floats) -> shapely.Geometry:
        return placed(self._task.shapes[kind[0]].outline, centre, kind[1]).region


def _candidates(
    task: Task, laid: Placements, missing: NDArray[np.intp], room_mm: float
) -> list[tuple[Kind, Floats]]:
    """Every copy's repeated neighbours, inside the strip, by how far along they reach."""
    steps = _steps(task, laid, missing)
    found: list[tuple[float, float, Kind, Floats]] = []
    boxes: dict[Kind, tuple[float, float, float, float]] = {}
    for row, base in enumerate(zip(laid.shape.tolist(), laid.angle_deg.tolist(), strict=True)):
        for kind, step in steps.get(base, ()):
            if kind not in boxes:
                boxes[kind] = task.shapes[kind[0]].outline.turned(kind[1]).bounds_mm
            x, y = (laid.centre_mm[row] + step).tolist()
            left, bottom, right, top = boxes[kind]
            edge_mm = task.shapes[kind[0]].edge_mm - ROUNDED_MM
            across = x + left >= edge_mm and x + right <= task.width_mm - edge_mm
            if across and y + bottom >= -ROUNDED_MM and y + top <= room_mm + ROUNDED_MM:
                found.append((y + top, x, kind, np.array([x, y])))
    found.sort(key=lambda each: (round(each[0], 3), round(each[1], 3), each[2]))
    return [(kind, centre) for _, _, kind, centre in found[:CANDIDATES_MOST]]


def _steps(
    task: Task, laid: Placements, missing: NDArray[np.intp]
) -> dict[Kind, list[tuple[Kind, Floats]]]:
    """For each kind the kinds that lie beside it again and again, and where from its centre."""
    size = np.array(
        [np.hypot(shape.outline.width_mm, shape.outline.height_mm) for shape in task.shapes]
    )
    reach_mm = REACH * float(size[laid.shape].max()) + float(np.max(task.apart_mm))
    points = np.asarray(shapely.points(laid.centre_mm))
    tree = shapely.STRtree(points)
    one, other = tree.query(points, predicate="dwithin", distance=reach_mm)
    wanted = (one != other) & (missing[laid.shape[other]] > 0)
    one, other = one[wanted], other[wanted]
    step = np.round((laid.centre_mm[other] - laid.centre_mm[one]) / SAME_STEP_MM)
    key = np.column_stack(
        (laid.shape[one], laid.angle_deg[one], laid.shape[other], laid.angle_deg[other], step)
    )
    if not len(key):
        return {}
    distinct, first, times = np.unique(key, axis=0, return_index=True, return_counts=True)
    found: dict[Kind, list[tuple[Kind, Floats]]] = {}
    for row, at in zip(distinct[times >= OFTEN], first[times >= OFTEN].tolist(), strict=True):
        exact = laid.centre_mm[other[at]] - laid.centre_mm[one[at]]
        base, kind = (int(row[0]), float(row[1])), (int(row[2]), float(row[3]))
        found.setdefault(base, []).append((kind, exact))
    return found
