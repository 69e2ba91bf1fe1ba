"""How far up one layout must stand on another, exactly: the greatest exit of all pairs."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from nestplan.geometry.outline import turn
from nestplan.nest.exits import FAR, exit_rows, exits_at
from nestplan.nest.fields import Form, edge_rows, form_of, no_fit
from nestplan.nest.placements import Placements, alike, boxes_mm
from nestplan.nest.task import Task

LOOKED_AT = 64  # copies at the seam looked at first; more where those do not settle it
FIELDS_KEPT = 4096

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Side:
    """Copies of a layout, those nearest to the seam first, with their boxes.

    boxes_mm: (n, 4) left, bottom, right, top.
    """

    laid: Placements
    boxes_mm: Floats

    def some(self, rows: NDArray[np.intp]) -> "_Side":
        """The copies of these rows."""
        return _Side(laid=self.laid.some(rows), boxes_mm=self.boxes_mm[rows])

    def first(self, many: int) -> "_Side":
        """So many copies nearest to the seam."""
        return self.some(np.arange(min(many, len(self.laid))))


def rise_mm(task: Task, below: Placements, above: Placements) -> float:
    """Least rise of `above` at which it clears all of `below`; 0 keeps it where it is.

    Only the shapes and distances of the task are used. Both layouts must be non-empty.
    """
    apart = np.array(task.apart_mm)
    low, high = (_Side(laid=laid, boxes_mm=boxes_mm(task, laid)) for laid in (below, above))
    down = low.some(np.argsort(-low.boxes_mm[:, 3], kind="stable"))
    up = high.some(np.argsort(high.boxes_mm[:, 1], kind="stable"))
    most, looked = -FAR, LOOKED_AT
    while True:
        most = max(most, _greatest_exit(task, apart, down.first(looked), up.first(looked)))
        beyond = [
            down.boxes_mm[looked:, 3].max(initial=-FAR) - up.boxes_mm[0, 1],
            down.boxes_mm[0, 3] - up.boxes_mm[looked:, 1].min(initial=FAR),
        ]
        if max(beyond) + float(apart.max()) <= most or looked >= max(len(below), len(above)):
            return most
        looked *= 4


def _greatest_exit(task: Task, apart: Floats, low: _Side, high: _Side) -> float:
    most = -FAR
    highs = alike(high.laid)
    for i, one_deg, rows in alike(low.laid):
        for j, other_deg, others in highs:
            offset = high.laid.centre_mm[others] - low.laid.centre_mm[rows][:, np.newaxis]
            boxes, over = low.boxes_mm[rows][:, np.newaxis], high.boxes_mm[others]
            meet = (over[..., 0] < boxes[..., 2] + apart[i, j]) & (
                over[..., 2] > boxes[..., 0] - apart[i, j]
            )
            if not meet.any():
                continue
            bounds = _rows(_form(task, i), one_deg, _form(task, j), other_deg, apart[i, j])
            x, y = offset[meet].T
            most = max(most, float((exits_at(bounds, apart[i, j], x.copy()) - y).max()))
    return most


def _form(task: Task, shape: int) -> Form:
    return form_of(task.shapes[shape].outline.region)


@lru_cache(maxsize=FIELDS_KEPT)
def _rows(one: Form, one_deg: float, other: Form, other_deg: float, apart_mm: float) -> Floats:
    """What bounds the grown field of a pair that lies at these angles."""
    edges = _edges(one, other, round((other_deg - one_deg) % 360.0, 9), apart_mm)
    return exit_rows(turn(edges[:, :2], one_deg), turn(edges[:, 2:4], one_deg), apart_mm)


@lru_cache(maxsize=FIELDS_KEPT)
def _edges(one: Form, other: Form, between_deg: float, apart_mm: float) -> Floats:
    return edge_rows(no_fit(one, other, between_deg, apart_mm))
