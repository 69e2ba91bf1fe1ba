"""Decals of the demo jobs as nesting tasks, for the pictures that explain."""

from dataclasses import dataclass
from pathlib import Path

from nestplan.artwork import load_artwork
from nestplan.job import read_job
from nestplan.nest import Placements, Shape, Task
from nestplan.nest.convex_parts import Area
from nestplan.nest.placements import lying

GUTTER_MM = 4.0
WIDTH_MM = 1370.0
AROUND_MM = 26.0  # blank paper round a picture


@dataclass(frozen=True, kw_only=True, eq=False)
class Demo:
    """Shapes by name: all of the regatta, and the plate of the berths."""

    regatta: dict[str, Shape]
    plate: Shape


def demo_of(folder: Path) -> Demo:
    """The demo jobs' shapes. raises: Fault, Faults."""
    return Demo(
        regatta=shapes_of(folder / "regatta" / "regatta.toml"),
        plate=shapes_of(folder / "berths" / "berths.toml")["berth plate"],
    )


def shapes_of(job_file: Path) -> dict[str, Shape]:
    """The decals of a job as shapes that may be turned by quarters, by name."""
    decals = load_artwork(read_job(job_file)).decals
    return {
        decal.name: Shape(
            name=decal.name,
            outline=decal.contour,
            copies=decal.quantity,
            angles_deg=(0.0, 90.0, 180.0, 270.0),
            edge_mm=2.0,
        )
        for decal in decals
    }


def task_of(shapes: tuple[Shape, ...], width_mm: float = WIDTH_MM) -> Task:
    """These shapes on the film, one gutter for all."""
    apart = ((GUTTER_MM,) * len(shapes),) * len(shapes)
    return Task(shapes=shapes, width_mm=width_mm, apart_mm=apart)


def regions(
    task: Task, placements: Placements, x0_mm: float = AROUND_MM, y0_mm: float = AROUND_MM
) -> list[Area]:
    """Every copy as it lies, the strip's corner at (x0, y0) of the picture."""
    return [outline.region for outline in lying(task, placements.moved(x0_mm, y0_mm))]
