"""The distances between marks that a person checks with a tape measure."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import dist
from typing import Literal

from nestplan.marks import Mark

Way = Literal["across", "along", "diagonal", "corner"]
EDGE_SHARE = 1 / 3  # a mark belongs to an edge when it stands in the outer third of all marks


@dataclass(frozen=True, slots=True, kw_only=True)
class Distance:
    """From one mark's centre to another's; the lower number first."""

    start: int
    end: int
    way: Way
    length_mm: float


def edges(marks: Sequence[Mark]) -> tuple[list[Mark], list[Mark], list[Mark]]:
    """Marks along the left edge, along the right edge, and those of neither; each by y."""
    low, high = min(m.x_mm for m in marks), max(m.x_mm for m in marks)
    band = EDGE_SHARE * (high - low)
    by_y = sorted(marks, key=lambda mark: (mark.y_mm, mark.x_mm))
    left = [mark for mark in by_y if mark.x_mm <= low + band]
    right = [mark for mark in by_y if mark.x_mm >= high - band and mark not in left]
    return left, right, [mark for mark in by_y if mark not in left and mark not in right]


def tape_distances(marks: Sequence[Mark]) -> list[Distance]:
    """Across, along each edge, both diagonals, and two distances for each mark of no edge.

    Together they fix every mark, and the diagonals tell a skewed frame, which distances
    along the edges alone do not.
    """
    found: dict[tuple[int, int], Distance] = {}
    for way, a, b in _pairs(marks):
        start, end = sorted((a, b), key=lambda mark: mark.number)
        if start.number == end.number or (start.number, end.number) in found:
            continue
        found[start.number, end.number] = Distance(
            start=start.number,
            end=end.number,
            way=way,
            length_mm=dist((a.x_mm, a.y_mm), (b.x_mm, b.y_mm)),
        )
    order: tuple[Way, ...] = ("across", "along", "diagonal", "corner")
    return sorted(found.values(), key=lambda d: (order.index(d.way), d.start, d.end))


def _pairs(marks: Sequence[Mark]) -> Iterator[tuple[Way, Mark, Mark]]:
    left, right, others = edges(marks)
    if right:
        rows = list(zip(left, right, strict=False))
        if len(left) != len(right):
            rows = [rows[0], (left[-1], right[-1])]
        for a, b in rows:
            yield "across", a, b
    for edge in (left, right):
        for a, b in pairwise(edge):
            yield "along", a, b
        if len(edge) > 2:
            yield "along", edge[0], edge[-1]
    if right:
        yield "diagonal", left[0], right[-1]
        yield "diagonal", right[0], left[-1]
        for other in others:
            near = (left[0], right[0]) if _is_far(other, left) else (left[-1], right[-1])
            for corner in near:
                yield "corner", corner, other


def _is_far(mark: Mark, edge: Sequence[Mark]) -> bool:
    """Nearer the far end than the near one: then the near corners give the better triangle."""
    return abs(mark.y_mm - edge[-1].y_mm) < abs(mark.y_mm - edge[0].y_mm)
