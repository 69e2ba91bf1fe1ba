"""Where the copies lie: arrays over a handful of shapes, never one object a copy."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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

    def moved(self, dx_mm: float, dy_mm: float) -> "Placements":
        """The same copies shifted."""
        return Placements(
            shape=self.shape, centre_mm=self.centre_mm + (dx_mm, dy_mm), angle_deg=self.angle_deg
        )

    def some(self, rows: NDArray[np.intp]) -> "Placements":
        """The copies of these rows, in their order."""
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


def placed(outline: Outline, centre_mm: NDArray[np.float64], angle_deg: float) -> Outline:
    """The outline (about its own centre) as it lies on the film."""
    return Outline(rings=tuple(turn(ring, angle_deg) + centre_mm for ring in outline.rings))


def extent_mm(task: Task, placements: Placements) -> tuple[float, float, float, float]:
    """(left, bottom, right, top) of all contours together, from their corners."""
    boxes = [(*(centre + low), *(centre + high)) for low, high, centre in _boxes(task, placements)]
    lows_highs = np.array(boxes)
    left, bottom = lows_highs[:, :2].min(axis=0)
    right, top = lows_highs[:, 2:].max(axis=0)
    return float(left), float(bottom), float(right), float(top)


def settled(task: Task, placements: Placements, engine: str) -> Layout:
    """A layout from placements: slid to y = 0, length measured, not rounded."""
    _, bottom, _, top = extent_mm(task, placements)
    return Layout(placements=placements.moved(0.0, -bottom), length_mm=top - bottom, engine=engine)


def _boxes(
    task: Task, placements: Placements
) -> list[tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]]:
    known: dict[tuple[int, float], tuple[NDArray[np.float64], NDArray[np.float64]]] = {}
    rows = []
    for index, angle, centre in zip(
        placements.shape.tolist(), placements.angle_deg.tolist(), placements.centre_mm, strict=True
    ):
        key = (index, angle)
        if key not in known:
            points = turn(np.concatenate(task.shapes[index].outline.rings), angle)
            known[key] = points.min(axis=0), points.max(axis=0)
        rows.append((*known[key], centre))
    return rows
