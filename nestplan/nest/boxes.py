"""Mixes of boxes: rectpack's heuristics over bounding boxes, in whole tenths of a nanometre.

Each copy's bounding box is grown by half its gutter, so that grown boxes may touch. First
every heuristic packs every order into an endless bin; then the bin is made shorter than
the best so far, as long as somebody still fits it. Runs are paid for from the budget at a
price set by their number of boxes: how busy the machine is changes nothing, and a larger
budget only adds runs at the end.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import product
from math import ceil, floor
from typing import Any

import numpy as np
import rectpack

from nestplan.geometry.same import SAME_MM
from nestplan.nest.engine import Budget, Tell, silent
from nestplan.nest.placements import Layout, Placements, settled
from nestplan.nest.task import Shape, Task

PER_MM = 10_000_000  # whole units: rounding moves a box by less than the verifier can see
SHARE = 4  # the part of the budget boxes may use; the search needs the rest
FINER = 1000  # the bin is shortened by at least this part of the best length
POLLED = 32  # boxes packed between two looks at the budget's stop

# In the order they are run: quick ones first, then by how often they won on the 41 known
# instances of Hopper & Turton 2000, Burke et al. 2004 and Hopper 2000.
ENDLESS: tuple[Any, ...] = (
    rectpack.SkylineBl,
    rectpack.GuillotineBssfSas,
    rectpack.GuillotineBafMinas,
    rectpack.MaxRectsBl,
)
SHRINKING: tuple[Any, ...] = (
    rectpack.MaxRectsBl,
    rectpack.GuillotineBssfSas,
    rectpack.MaxRectsBssf,
    rectpack.GuillotineBafMinas,
    rectpack.MaxRectsBaf,
    rectpack.MaxRectsBlsf,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Box:
    """One copy's grown bounding box at its first angle, in units."""

    shape: int
    width: int
    height: int
    half: int  # of its gutter, in units, inside the grown box on every side
    angle_deg: float
    turned_deg: float | None  # the angle of the box lying on its side, None: it may not lie


@dataclass(frozen=True, slots=True, kw_only=True)
class _Packed:
    """Where every box went: (x, y, whether it lies on its side).

    top: of the grown boxes. length: extent along the feed without what they were grown by.
    """

    places: tuple[tuple[int, int, bool], ...]
    top: int
    length: int


Order = tuple[int, ...]

SORTS: tuple[Callable[[_Box], Any], ...] = (
    lambda box: box.width * box.height,
    lambda box: box.width + box.height,
    lambda box: abs(box.width - box.height),
    lambda box: (min(box.width, box.height), max(box.width, box.height)),
    lambda box: (max(box.width, box.height), min(box.width, box.height)),
    lambda box: box.width / box.height,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Boxes:
    """The engine of box heuristics."""

    name: str = "boxes"

    def __call__(self, task: Task, budget: Budget, tell: Tell = silent) -> Layout | None:
        """The shortest of all runs the budget's share pays for.

        returns: None with obstacles, or where the share pays for no run (thousands of copies).
        """
        if task.obstacles:
            return None
        half_mm = half_gaps_mm(task)
        aside_mm = max(s.edge_mm - half for s, half in zip(task.shapes, half_mm, strict=True))
        width = floor((task.width_mm - 2 * aside_mm + SAME_MM / 2) * PER_MM)
        boxes = [
            box
            for index, shape in enumerate(task.shapes)
            for box in [_box(shape, index, half_mm[index])] * shape.copies
        ]
        best: _Packed | None = None
        for best in _improving(_Runs(boxes=boxes, width=width, budget=budget)):
            tell(best.length / PER_MM, 0.0)
        return None if best is None else self._layout(task, boxes, best, aside_mm)

    def _layout(self, task: Task, boxes: list[_Box], packed: _Packed, aside_mm: float) -> Layout:
        rows = []
        for box, (x, y, lies) in zip(boxes, packed.places, strict=True):
            wide, high = (box.height, box.width) if lies else (box.width, box.height)
            angle_deg = box.turned_deg if lies else box.angle_deg
            centre = _box_centre_mm(task.shapes[box.shape], angle_deg or 0.0)
            x_mm, y_mm = (x + wide / 2) / PER_MM + aside_mm, (y + high / 2) / PER_MM
            rows.append((x_mm - centre[0], y_mm - centre[1], angle_deg or 0.0))
        table = np.array(rows)
        placements = Placements(
            shape=np.array([box.shape for box in boxes], dtype=np.intp),
            centre_mm=table[:, :2].copy(),
            angle_deg=table[:, 2].copy(),
        )
        return settled(task, placements, self.name)


def half_gaps_mm(task: Task) -> list[float]:
    """Half a gutter for each shape, so that two halves are never less than the pair's least.

    Half of what a shape keeps from itself will do where gutter or bleed decide; where it
    does not, half of the most that the shape keeps from any.
    """
    own = [task.apart_mm[i][i] / 2 for i in range(len(task.shapes))]
    return [
        half
        if all(half + other >= apart for other, apart in zip(own, row, strict=True))
        else max(row) / 2
        for half, row in zip(own, task.apart_mm, strict=True)
    ]


def _box(shape: Shape, index: int, half_mm: float) -> _Box:
    """The grown box at the angle where it is smallest, and whether it may lie on its side."""
    sizes = []
    for angle_deg in shape.angles_deg:
        turned = shape.outline.turned(angle_deg)
        sizes.append((turned.width_mm, turned.height_mm))
    first = min(range(len(sizes)), key=lambda i: round(sizes[i][0] * sizes[i][1], 6))
    angle_deg = shape.angles_deg[first]
    on_its_side = [(angle_deg + turn) % 360 for turn in (90.0, 270.0)]
    allowed = [angle for angle in on_its_side if angle in shape.angles_deg]
    return _Box(
        shape=index,
        width=round((sizes[first][0] + 2 * half_mm) * PER_MM),
        height=round((sizes[first][1] + 2 * half_mm) * PER_MM),
        half=round(half_mm * PER_MM),
        angle_deg=angle_deg,
        turned_deg=allowed[0] if allowed else None,
    )


def _box_centre_mm(shape: Shape, angle_deg: float) -> tuple[float, float]:
    """Where the centre of a turned shape's bounding box lies (at the origin for angle 0)."""
    left, bottom, right, top = shape.outline.turned(angle_deg).bounds_mm
    return (left + right) / 2, (bottom + top) / 2


class _Spent(Exception):  # an end, not an error
    """The share is used up, or the search was stopped."""


@dataclass(slots=True, kw_only=True)
class _Runs:
    """Packs, and keeps account."""

    boxes: list[_Box]
    width: int
    budget: Budget
    spent_steps: float = 0.0

    def pack(self, algorithm: Any, order: Order, height: int) -> _Packed | None:
        """One run; None where the boxes do not fit. raises: _Spent."""
        self.spent_steps += price_steps(algorithm, len(order))
        if self.spent_steps > self.budget.steps / SHARE:
            raise _Spent
        bin_ = algorithm(self.width, height, True)
        places = [(0, 0, False)] * len(order)
        top, contours_top, contours_bottom = 0, 0, height
        for number, index in enumerate(order):
            if number % POLLED == 0 and self.budget.stopped():
                raise _Spent
            box = self.boxes[index]
            bin_.rot = box.turned_deg is not None  # looked at by each add_rect
            lying = bin_.add_rect(box.width, box.height)
            if lying is None:
                return None
            places[index] = lying.x, lying.y, lying.width != box.width
            top = max(top, lying.top)
            contours_top = max(contours_top, lying.top - box.half)
            contours_bottom = min(contours_bottom, lying.y + box.half)
        return _Packed(places=tuple(places), top=top, length=contours_top - contours_bottom)


def price_steps(algorithm: Any, boxes: int) -> float:
    """What a run costs: as measured, 0.1 ms a step on a core like those the steps were set on."""
    if algorithm.__name__.startswith("MaxRects"):  # compares each free rectangle with each
        return 1e-4 * boxes**3
    return 2e-3 * boxes**2


def _improving(runs: _Runs) -> Iterator[_Packed]:
    """Each packing that is shorter than all before."""
    shortest: _Packed | None = None
    try:
        for packed in _all_packed(runs):
            if shortest is None or packed.length < shortest.length:
                shortest = packed
                yield packed
    except _Spent:
        return


def _all_packed(runs: _Runs) -> Iterator[_Packed]:
    """What every run packed: into an endless bin, then into ever lower ones. raises: _Spent."""
    boxes = runs.boxes
    orders = list(dict.fromkeys(_order(boxes, key) for key in SORTS))
    endless = sum(max(box.width, box.height) for box in boxes)
    least = ceil(sum(box.width * box.height for box in boxes) / runs.width)
    top = endless + 1
    for algorithm, order in product(ENDLESS, orders):
        packed = runs.pack(algorithm, order, endless)
        if packed is not None:
            top = min(top, packed.top)
            yield packed
    if top > endless:
        return
    for algorithm, order in product(SHRINKING, orders):
        low, height = least, top - top // FINER
        while low <= height < top:
            packed = runs.pack(algorithm, order, height)
            if packed is not None:
                top = packed.top
                yield packed
            elif height == top - top // FINER:
                break  # not even a little lower: the next one
            else:
                low = height + 1
            height = min((low + top) // 2, top - top // FINER)


def _order(boxes: list[_Box], key: Callable[[_Box], Any]) -> Order:
    """Rows of the boxes from the largest key down; equal ones as they come."""
    return tuple(sorted(range(len(boxes)), key=lambda row: key(boxes[row]), reverse=True))
