"""The nest of a whole run: one strip a frame, the bound, and what each engine reached."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from nestplan.faults import Note
from nestplan.nest.placements import Placements
from nestplan.nest.task import Task


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """What one engine reached over the whole run; None: it had no answer."""

    engine: str
    length_mm: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strip:
    """The contours of one frame, in strip coordinates, from y = 0 to length_mm.

    copy: (n,) number of each copy within its decal, from 1, all frames counted on.
    anew: rows that do not lie where a former plan has them.
    """

    placements: Placements
    copy: tuple[int, ...]
    length_mm: float
    anew: frozenset[int] = frozenset()


def numbered(placements: Placements, length_mm: float, used: list[int]) -> Strip:
    """A frame's strip, copies by y, then x, numbered on from those used of each shape.

    used: counted on. What differs by less than a micron is one y: rows of copies read from
    left to right.
    """
    across, along = placements.centre_mm.T
    laid = placements.some(np.lexsort((across, np.round(along, 3))))
    copy = []
    for shape in laid.shape.tolist():
        used[shape] += 1
        copy.append(used[shape])
    return Strip(placements=laid, copy=tuple(copy), length_mm=length_mm)


def with_numbers(nest: "Nest", numbers: Sequence[tuple[int, ...]]) -> "Nest":
    """The same nest with its copies numbered otherwise, shape by shape; empty: from 1, as ever."""
    if not any(numbers):
        return nest
    strips = tuple(
        replace(
            strip,
            copy=tuple(
                numbers[shape][copy - 1] if numbers[shape] else copy
                for shape, copy in zip(strip.placements.shape.tolist(), strip.copy, strict=True)
            ),
        )
        for strip in nest.strips
    )
    return replace(nest, strips=strips)


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """What became of a former plan's copies; `before` is how many it had."""

    before: int
    stayed: int
    moved: int
    came: int
    went: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Nest:
    """A verified nest and how far from the best possible it is.

    x0_mm: where the strip's x = 0 lies in run coordinates.
    carried: for a nest that was handed in from a former plan.
    start_mm: where the first strip's y = 0 must lie in run coordinates, for film lacks there.
    """

    task: Task
    strips: tuple[Strip, ...]
    x0_mm: float
    bound_mm: float
    bound_reason: str
    engine: str
    tried: tuple[Tried, ...]
    notes: tuple[Note, ...] = ()
    carried: Carried | None = None
    start_mm: float | None = None

    @property
    def length_mm(self) -> float:
        """Extent of all contours along the feed, frame by frame added up."""
        return sum(strip.length_mm for strip in self.strips)

    @property
    def planned(self) -> tuple[int, ...]:
        """Copies of each shape, those that nobody ordered counted in."""
        shapes = np.concatenate([strip.placements.shape for strip in self.strips])
        return tuple(np.bincount(shapes, minlength=len(self.task.shapes)).tolist())

    @property
    def gap_percent(self) -> float:
        """How much longer than the bound, in percent of the bound."""
        return 100.0 * (self.length_mm - self.bound_mm) / self.bound_mm
