"""Benchmark files as nesting tasks, and what is known of them."""

import json
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely
import shapely.affinity

from nestplan.geometry.outline import outline_of
from nestplan.nest import Shape, Task
from nestplan.nest.task import Obstacle

# Shortest lengths known, in each instance's own unit. Irregular: solution files published
# with arXiv 2509.13329 (2025), and the solutions stored in the ESICUP XML files.
BEST_KNOWN = {
    "albano": 9692.1,
    "blaz": 25.049,
    "dagli": 56.087,
    "dighe1": 100.0,
    "dighe2": 100.0,
    "fu": 30.843,
    "jakobs1": 10.980,
    "jakobs2": 22.000,
    "mao": 1696.8,
    "marques": 75.176,
    "shapes0": 57.012,
    "shapes1": 52.002,
    "shirts": 59.393,
    "swim": 5541.7,
    "trousers": 235.172,
}

MARK_MM, MARK_CLEAR_MM, MARK_EDGE_MM = 6.0, 3.0, 10.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Instance:
    """One benchmark: its task, and the width its density is told for."""

    name: str
    task: Task
    nominal_width: float
    best_known: float | None

    def density(self, length: float) -> float:
        """Area of all pieces in the strip they take."""
        area = sum(shape.copies * shape.outline.area_mm2 for shape in self.task.shapes)
        return area / (self.nominal_width * length)


def instances(folder: Path) -> list[Instance]:
    """All instances of a folder, in order of name."""
    return [instance(path) for path in sorted(folder.glob("*.json"))]


def instance(path: Path) -> Instance:
    """One file; its strip runs along x, ours along y, so everything is turned by 90 degrees."""
    data = json.loads(path.read_text())
    shapes = tuple(_shape(item) for item in data["items"])
    gutter = float(data.get("gutter", 0.0))
    width = float(data.get("strip_width_relaxed", data["strip_width"]))
    apart = ((gutter,) * len(shapes),) * len(shapes)
    return Instance(
        name=data["name"],
        task=Task(shapes=shapes, width_mm=width, apart_mm=apart),
        nominal_width=float(data["strip_width"]),
        best_known=BEST_KNOWN.get(data["name"]),
    )


def marked(instance: Instance) -> Instance:
    """The same with eight discs of 6 mm, 3 mm clear of contours, along both edges of the strip.

    Two in each quarter of the length the area alone would take, 10 mm from an edge; whoever
    nests must lay pieces round them.
    """
    task = instance.task
    area = sum(shape.copies * shape.outline.area_mm2 for shape in task.shapes)
    least_mm = area / task.width_mm
    disc = shapely.Point(0.0, 0.0).buffer(MARK_MM / 2)
    marks = tuple(
        Obstacle(outline=outline_of(shapely.affinity.translate(disc, x, y)), apart_mm=MARK_CLEAR_MM)
        for y in (least_mm * (k + 0.5) / 4 for k in range(4))
        for x in (MARK_EDGE_MM, task.width_mm - MARK_EDGE_MM)
    )
    return replace(instance, name=f"{instance.name}+marks", task=replace(task, obstacles=marks))


def _shape(item: dict) -> Shape:
    region = shapely.Polygon(item["polygon"], item.get("holes") or [])
    turned = shapely.transform(region, lambda p: np.column_stack([-p[:, 1], p[:, 0]]))
    left, bottom, right, top = turned.bounds
    centre = np.array([(left + right) / 2, (bottom + top) / 2])
    return Shape(
        name=str(item["id"]),
        outline=outline_of(shapely.transform(turned, lambda p: p - centre)),
        copies=int(item["demand"]),
        angles_deg=tuple(sorted(float(a) % 360.0 for a in item["allowed_rotations_deg"])),
    )
