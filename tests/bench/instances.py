"""Benchmark files as nesting tasks, and what is known of them."""

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely

from nestplan.geometry.outline import outline_of
from nestplan.nest import Shape, Task

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
