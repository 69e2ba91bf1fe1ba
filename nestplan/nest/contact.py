"""How far up one layout must stand on another, exactly.

The exit of a pair of copies is the greatest rise at which the upper one is still nearer
than allowed. It is read off the no-fit field: grown by the distance, the field is bounded by
shifted edges and by discs round its corners.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from nestplan.geometry.outline import turn
from nestplan.nest.fields import Form, edge_rows, form_of, no_fit
from nestplan.nest.placements import Placements
from nestplan.nest.task import Task

FAR_MM = 1e9
LOOKED_AT = 64  # copies at the seam looked at first; more where those do not settle it
FIELDS_KEPT = 4096

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Lying:
    """Copies of a layout with the lower and upper ends of their boxes, nearest to the seam first.

    boxes_mm: (n, 4) left, bottom, right, top.
    """

    shape: NDArray[np.intp]
    centre_mm: Floats
    angle_deg: Floats
    boxes_mm: Floats


def rise_mm(task: Task, below: Placements, above: Placements) -> float:
    """Least rise of `above` at which it clears all of `below`; 0 keeps it where it is.

    Only the shapes and distances of the task are used. Both layouts must be non-empty.
    """
    apart = np.array(task.apart_mm)
    low, high = _lying(task, below), _lying(task, above)
    down = _picked(low, np.argsort(-low.boxes_mm[:, 3], kind="stable"))
    up = _picked(high, np.argsort(high.boxes_mm[:, 1], kind="stable"))
    most, looked = -FAR_MM, LOOKED_AT
    while True:
        most = max(most, _greatest_exit(task, apart, _first(down, looked), _first(up, looked)))
        beyond = [
            down.boxes_mm[looked:, 3].max(initial=-FAR_MM) - up.boxes_mm[0, 1],
            down.boxes_mm[0, 3] - up.boxes_mm[looked:, 1].min(initial=FAR_MM),
        ]
        if max(beyond) + float(apart.max()) <= most or looked >= max(len(below), len(above)):
            return most
        looked *= 4


def boxes_mm(task: Task, placements: Placements) -> Floats:
    """(n, 4) left, bottom, right, top of every copy."""
    boxes = np.empty((len(placements), 4))
    for shape, angle, rows in _alike(placements.shape, placements.angle_deg):
        points = turn(np.concatenate(task.shapes[shape].outline.rings), angle)
        boxes[rows, :2] = placements.centre_mm[rows] + points.min(axis=0)
        boxes[rows, 2:] = placements.centre_mm[rows] + points.max(axis=0)
    return boxes


def _lying(task: Task, placements: Placements) -> _Lying:
    return _Lying(
        shape=placements.shape,
        centre_mm=placements.centre_mm,
        angle_deg=placements.angle_deg,
        boxes_mm=boxes_mm(task, placements),
    )


def _picked(lying: _Lying, rows: NDArray[np.intp]) -> _Lying:
    return _Lying(
        shape=lying.shape[rows],
        centre_mm=lying.centre_mm[rows],
        angle_deg=lying.angle_deg[rows],
        boxes_mm=lying.boxes_mm[rows],
    )


def _first(lying: _Lying, many: int) -> _Lying:
    return _picked(lying, np.arange(min(many, len(lying.shape))))


def _alike(shape: NDArray[np.intp], angle_deg: Floats) -> list[tuple[int, float, NDArray[np.intp]]]:
    """Rows of each shape and angle."""
    keys = sorted(set(zip(shape.tolist(), angle_deg.tolist(), strict=True)))
    return [(s, a, np.flatnonzero((shape == s) & (angle_deg == a))) for s, a in keys]


def _greatest_exit(task: Task, apart: Floats, low: _Lying, high: _Lying) -> float:
    most = -FAR_MM
    highs = _alike(high.shape, high.angle_deg)
    for i, one_deg, rows in _alike(low.shape, low.angle_deg):
        for j, other_deg, others in highs:
            offset = high.centre_mm[others] - low.centre_mm[rows][:, np.newaxis]
            boxes, over = low.boxes_mm[rows][:, np.newaxis], high.boxes_mm[others]
            meet = (over[..., 0] < boxes[..., 2] + apart[i, j]) & (
                over[..., 2] > boxes[..., 0] - apart[i, j]
            )
            if not meet.any():
                continue
            exits = _exits(task, (i, one_deg), (j, other_deg), offset[meet][:, 0])
            most = max(most, float((exits - offset[meet][:, 1]).max()))
    return most


def _exits(
    task: Task, one: tuple[int, float], other: tuple[int, float], offsets_mm: Floats
) -> Floats:
    """Greatest heights (k,) of the other's centre over the one's, at offsets (k,), still too near.

    -FAR_MM where the two cannot meet.
    """
    (i, one_deg), (j, other_deg) = one, other
    apart = task.apart_mm[i][j]
    between = round((other_deg - one_deg) % 360.0, 9)
    edges = _edges(_form(task, i), _form(task, j), between, apart)
    start, way = turn(edges[:, :2], one_deg), turn(edges[:, 2:4], one_deg)
    length = np.hypot(*way.T)
    normal = np.column_stack([-way[:, 1], way[:, 0]]) / length[:, np.newaxis]
    begin = start + apart * np.where(normal[:, 1:] < 0, -normal, normal)
    x = offsets_mm[:, np.newaxis]
    upright = np.abs(way[:, 0]) <= 1e-12 * length  # bounds nothing: its ends do
    share = (x - begin[:, 0]) / np.where(upright, 1.0, way[:, 0])
    on_edge = (share >= 0.0) & (share <= 1.0) & ~upright
    sides = np.where(on_edge, begin[:, 1] + share * way[:, 1], -FAR_MM)
    inside = apart**2 - (x - start[:, 0]) ** 2
    rounds = np.where(inside >= 0.0, start[:, 1] + np.sqrt(np.maximum(inside, 0.0)), -FAR_MM)
    greatest: Floats = np.maximum(sides.max(axis=1), rounds.max(axis=1))
    return greatest


def _form(task: Task, shape: int) -> Form:
    return form_of(task.shapes[shape].outline.region)


@lru_cache(maxsize=FIELDS_KEPT)
def _edges(one: Form, other: Form, between_deg: float, apart_mm: float) -> Floats:
    edges = edge_rows(no_fit(one, other, between_deg, apart_mm))
    edges.flags.writeable = False
    return edges
