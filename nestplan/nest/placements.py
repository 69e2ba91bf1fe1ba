"""Where the copies lie: arrays over a handful of shapes, never one object a copy."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nestplan.geometry.outline import Outline, turn
from nestplan.nest.task import Task


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placements:
    """n copies of a few shapes; row i of every array is copy i. Read-only."""

    shape: NDArray[np.intp]  # (n,) index into the task's shapes
    centre_mm: NDArray[
        np.float64
    ]  # (n, 2) centre of the bounding box that the shape has at angle 0
    angle_deg: NDArray[np.float64]  # (n,) counter-clockwise, in [0, 360)

    def __post_init__(self) -> None:
        n = len(self.shape)
        assert self.centre_mm.shape == (n, 2)
        assert self.angle_deg.shape == (n,)
        for array in (self.shape, self.centre_mm, self.angle_deg):
            array.flags.writeable = False

    def __len__(self) -> int:
        return len(self.shape)

    @property
    def key(self) -> bytes:
        """The same for copies that lie alike, and for no others."""
        return self.shape.tobytes() + self.centre_mm.tobytes() + self.angle_deg.tobytes()

    def moved(self, dx_mm: float, dy_mm: float) -> "Placements":
        """The same copies shifted."""
        return Placements(
            shape=self.shape, centre_mm=self.centre_mm + (dx_mm, dy_mm), angle_deg=self.angle_deg
        )

    def each(self) -> Iterator[tuple[int, tuple[float, float], float]]:
        """(shape, centre, angle) copy by copy."""
        centres = map(tuple, self.centre_mm.tolist())
        return zip(self.shape.tolist(), centres, self.angle_deg.tolist(), strict=True)

    def some(self, rows: NDArray[np.intp] | NDArray[np.bool_]) -> "Placements":
        """The copies of these rows, in their order; or those marked True."""
        return Placements(
            shape=self.shape[rows],
            centre_mm=self.centre_mm[rows],
            angle_deg=self.angle_deg[rows],
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """One engine's answer to a task: every copy placed, from y = 0 to y = length_mm."""

    placements: Placements
    length_mm: float
    engine: str


def placed(outline: Outline, centre_mm: ArrayLike, angle_deg: float) -> Outline:
    """The outline (about its own centre) as it lies on the film."""
    centre = np.asarray(centre_mm, dtype=np.float64)
    return Outline(rings=tuple(turn(ring, angle_deg) + centre for ring in outline.rings))


def lying(task: Task, placements: Placements) -> list[Outline]:
    """Every copy's outline as it lies."""
    return [placed(task.shapes[k].outline, at, angle) for k, at, angle in placements.each()]


def alike(placements: Placements) -> list[tuple[int, float, NDArray[np.intp]]]:
    """(shape, angle, rows) of all copies that lie alike."""
    shape, angle = placements.shape, placements.angle_deg
    keys = sorted(set(zip(shape.tolist(), angle.tolist(), strict=True)))
    return [(s, a, np.flatnonzero((shape == s) & (angle == a))) for s, a in keys]


def boxes_mm(task: Task, placements: Placements) -> NDArray[np.float64]:
    """(n, 4) left, bottom, right, top of every copy, from its corners."""
    boxes = np.empty((len(placements), 4))
    for shape, angle, rows in alike(placements):
        points = turn(np.concatenate(task.shapes[shape].outline.rings), angle)
        boxes[rows, :2] = placements.centre_mm[rows] + points.min(axis=0)
        boxes[rows, 2:] = placements.centre_mm[rows] + points.max(axis=0)
    return boxes


def extent_mm(task: Task, placements: Placements) -> tuple[float, float, float, float]:
    """(left, bottom, right, top) of all contours together."""
    boxes = boxes_mm(task, placements)
    left, bottom = boxes[:, :2].min(axis=0)
    right, top = boxes[:, 2:].max(axis=0)
    return float(left), float(bottom), float(right), float(top)


def settled(task: Task, placements: Placements, engine: str) -> Layout:
    """A layout from placements: slid to y = 0, length measured, not rounded."""
    _, bottom, _, top = extent_mm(task, placements)
    return Layout(placements=placements.moved(0.0, -bottom), length_mm=top - bottom, engine=engine)
