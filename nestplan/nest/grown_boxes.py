"""A task as boxes that may touch: bounding boxes grown by half their gutter, in whole units.

Tenths of a nanometre: rounding moves a box by less than the verifier can see, and sizes
that fit exactly fit exactly. All boxes lie in a strip of the film; one that needs less of
a gutter, or more of an edge, than others is kept from the strip's ends by the difference.
"""

from dataclasses import dataclass
from functools import cached_property
from math import ceil, floor, gcd

import numpy as np
from numpy.typing import NDArray

from nestplan.geometry.same import SAME_MM
from nestplan.nest.placements import Layout, Placements, settled
from nestplan.nest.skyline import ACROSS, ALONG, FLOOR, LIES, TURNS, X, Y
from nestplan.nest.task import Shape, Task

PER_MM = 10_000_000

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Packed:
    """Where every copy's grown box went, and how far the contours reach along the feed.

    places: (n, 3) left edge, foot, whether it lies on its side; units.
    """

    places: Ints
    length: int


@dataclass(frozen=True, kw_only=True, eq=False)
class GrownBoxes:
    """All boxes of a task: a row a copy, equal rows of one kind.

    kinds: (k, 5) size across and along, whether it may lie, kept from the sides and ends.
    kind:  (n,) of each copy. upright_deg, lying_deg: an angle for each shape.
    wide:  of the strip of grown boxes, which begins aside_mm from the film's edge.
    half_most: the widest half gutter; the strip is longer than the contours by two of it.
    """

    task: Task
    kinds: Ints
    kind: Ints
    upright_deg: tuple[float, ...]
    lying_deg: tuple[float, ...]
    wide: int
    aside_mm: float
    half_most: int

    @cached_property
    def shape(self) -> NDArray[np.intp]:
        """The shape of each copy."""
        return _rows(self.task)

    @cached_property
    def area(self) -> int:
        """Of all boxes, square units."""
        kinds = self.kinds.tolist()
        return sum(kinds[k][ACROSS] * kinds[k][ALONG] for k in self.kind.tolist())

    @cached_property
    def grain(self) -> int:
        """Every filling from below is a whole number of these long."""
        sizes = [size for kind in self.kinds.tolist() for size in _along(kind)]
        return gcd(*sizes, *self.kinds[:, FLOOR].tolist())

    @cached_property
    def least(self) -> int:
        """No layout of the grown boxes gives contours a shorter extent."""
        long = -(-self.area // self.wide)
        return -(-long // self.grain) * self.grain - 2 * self.half_most

    @property
    def endless(self) -> int:
        """A strip so long that every filling ends in it."""
        return int(self.kinds[self.kind, :2].max(axis=1).sum()) + 2 * self.half_most

    def packed(self, places: Ints) -> Packed:
        """Places with the extent of their contours."""
        kinds = self.kinds[self.kind]
        half = self.half_most - kinds[:, FLOOR]
        along = np.where(places[:, LIES] == 1, kinds[:, ACROSS], kinds[:, ALONG])
        low, high = places[:, Y] + half, places[:, Y] + along - half
        return Packed(places=places, length=int(high.max() - low.min()))

    def layout(self, packed: Packed, engine: str) -> Layout:
        """The copies as they lie on the film."""
        places, kinds = packed.places, self.kinds[self.kind]
        lies = places[:, LIES] == 1
        size = np.where(lies[:, np.newaxis], kinds[:, [ALONG, ACROSS]], kinds[:, [ACROSS, ALONG]])
        middle_mm = (places[:, [X, Y]] + size / 2) / PER_MM + (self.aside_mm, 0.0)
        angles_deg = np.array([self.upright_deg, self.lying_deg])
        centres_mm = np.array(
            [
                [_box_centre_mm(s, angle) for s, angle in zip(self.task.shapes, row, strict=True)]
                for row in angles_deg.tolist()
            ]
        )
        which = lies.astype(np.intp)
        placements = Placements(
            shape=self.shape.copy(),
            centre_mm=middle_mm - centres_mm[which, self.shape],
            angle_deg=angles_deg[which, self.shape],
        )
        return settled(self.task, placements, engine)


def grown_boxes(task: Task) -> GrownBoxes:
    """The boxes of a task without obstacles."""
    half_mm = half_gaps_mm(task)
    asides_mm = [s.edge_mm - half for s, half in zip(task.shapes, half_mm, strict=True)]
    aside_mm, half_most_mm = min(asides_mm), max(half_mm)
    kinds, upright, lying = [], [], []
    for shape, half, aside in zip(task.shapes, half_mm, asides_mm, strict=True):
        sizes_mm, angle_deg, turned_deg = _least_box(shape)
        across, along = (round((size + 2 * half) * PER_MM) for size in sizes_mm)
        side, low = round((aside - aside_mm) * PER_MM), round((half_most_mm - half) * PER_MM)
        turns = int(turned_deg is not None and across != along)
        kinds.append((across, along, turns, side, low))
        upright.append(angle_deg)
        lying.append(angle_deg if turned_deg is None else turned_deg)
    distinct = list(dict.fromkeys(kinds))
    return GrownBoxes(
        task=task,
        kinds=np.array(distinct, dtype=np.int64),
        kind=np.array([distinct.index(kind) for kind in kinds], dtype=np.int64)[_rows(task)],
        upright_deg=tuple(upright),
        lying_deg=tuple(lying),
        wide=floor((task.width_mm - 2 * aside_mm + SAME_MM / 2) * PER_MM),
        aside_mm=aside_mm,
        half_most=ceil(round(half_most_mm * PER_MM, 3)),
    )


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


def _rows(task: Task) -> NDArray[np.intp]:
    return np.repeat(
        np.arange(len(task.shapes), dtype=np.intp), [shape.copies for shape in task.shapes]
    )


def _along(kind: list[int]) -> list[int]:
    return [kind[ALONG], kind[ACROSS]] if kind[TURNS] else [kind[ALONG]]


def _least_box(shape: Shape) -> tuple[tuple[float, float], float, float | None]:
    """The smallest bounding box (mm), its angle, and the angle of it lying, if allowed."""
    turned = [shape.outline.turned(angle_deg) for angle_deg in shape.angles_deg]
    sizes = [(outline.width_mm, outline.height_mm) for outline in turned]
    first = min(range(len(sizes)), key=lambda i: round(sizes[i][0] * sizes[i][1], 6))
    angle_deg = shape.angles_deg[first]
    on_its_side = [(angle_deg + turn) % 360 for turn in (90.0, 270.0)]
    allowed = [angle for angle in on_its_side if angle in shape.angles_deg]
    return sizes[first], angle_deg, allowed[0] if allowed else None


def _box_centre_mm(shape: Shape, angle_deg: float) -> tuple[float, float]:
    """Where the centre of a turned shape's bounding box lies (at the origin for angle 0)."""
    left, bottom, right, top = shape.outline.turned(angle_deg).bounds_mm
    return (left + right) / 2, (bottom + top) / 2
