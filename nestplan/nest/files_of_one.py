"""Files of one shape: where their pieces stand, and how deep the next file lies in them.

Coordinates here are u along a file and v across the files. Files that run across the film
have u = x, v = y; files that run along it have u = y, v = x.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from nestplan.nest.exits import FAR, Exits
from nestplan.nest.fields import Variant
from nestplan.nest.pieces import Pieces

Floats = NDArray[np.float64]


CLOSE_MM = 1e-9  # so that what fits exactly fits


@dataclass(frozen=True, slots=True, kw_only=True)
class File:
    """One period of a file: pieces (variant, u, v), the first at (0, 0), repeated at a pitch."""

    pieces: tuple[tuple[int, float, float], ...]
    pitch_mm: float

    def piece(self, number: int) -> tuple[int, float, float]:
        """The piece of a number, from 0."""
        turn, place = divmod(number, len(self.pieces))
        variant, u, v = self.pieces[place]
        return variant, u + turn * self.pitch_mm, v

    def laid(self, count: int) -> list[tuple[int, float, float]]:
        """The first so many pieces."""
        return [self.piece(number) for number in range(count)]


class Files:
    """All files of one shape in one orientation."""

    def __init__(self, pieces: Pieces, *, upright: bool) -> None:
        self.pieces = pieces
        self.upright = upright
        self.apart_mm = float(pieces.apart_mm[0, 0])
        self.variants = range(len(pieces.variants))
        order = [1, 0, 3, 2] if upright else [0, 1, 2, 3]
        self._boxes = np.array([variant.box_mm for variant in pieces.variants])[:, order]
        self._over = Exits(pieces, self.apart_mm, swapped=upright)
        self._along = Exits(pieces, self.apart_mm, swapped=not upright)

    @cached_property
    def half(self) -> list[int | None]:
        """Of each variant the one half a turn from it, where that is allowed."""
        turned = [(variant.angle_deg + 180.0) % 360.0 for variant in self.pieces.variants]
        return [self.pieces.variant_at(0, angle_deg) for angle_deg in turned]

    def turned_by(self, turn_deg: float) -> "Files":
        """The same files with every piece turned, whether or not it still fits the film."""
        if turn_deg == 0.0:
            return self
        return Files(_turned_by(self.pieces, turn_deg), upright=self.upright)

    def reach_mm(self, number: int) -> float:
        """How far across the files two pieces can meet."""
        box = self._boxes[number]
        return float(box[3] - box[1]) + self.apart_mm

    @property
    def tallest_mm(self) -> float:
        """How far across the files any two pieces can meet."""
        return float(self._boxes[:, 3].max() - self._boxes[:, 1].min()) + self.apart_mm

    def level(self, one: int, other: int) -> tuple[float, float]:
        """Offsets of the other at which both have the same lower or the same upper end."""
        down, up = self._boxes[one, [1, 3]] - self._boxes[other, [1, 3]]
        return float(down), float(up)

    def tightest(self, one: int, other: int | None, offset_mm: float) -> File | None:
        """The file of least pitch; the second piece of its period stands that much higher."""
        at = np.array([0.0])
        alone = float(self._along.at(one, one, at)[0])
        if other is None:
            return File(pieces=((one, 0.0, 0.0),), pitch_mm=alone)
        there = float(self._along.at(one, other, at + offset_mm)[0])
        back = float(self._along.at(other, one, at - offset_mm)[0])
        if not there + back > 0.0:
            return None
        pitch = max(there + back, alone, float(self._along.at(other, other, at)[0]))
        place = there + (pitch - there - back) / 2
        return File(pieces=((one, 0.0, 0.0), (other, place, offset_mm)), pitch_mm=pitch)

    def stretched(self, file: File, pitch_mm: float) -> File:
        """The file at a greater pitch, every piece as far from its neighbours as before or more."""
        extra = (pitch_mm - file.pitch_mm) / 2
        pieces = tuple((v, u + (extra if k else 0.0), w) for k, (v, u, w) in enumerate(file.pieces))
        return File(pieces=pieces, pitch_mm=pitch_mm)

    def turned(self, file: File) -> File | None:
        """The file turned by half a turn; None where that is not allowed or changes nothing."""
        halves = [self.half[v] for v, _, _ in reversed(file.pieces)]
        if any(half is None for half in halves) or halves == [v for v, _, _ in file.pieces]:
            return None
        places = [(u, w) for _, u, w in file.pieces]
        pieces = tuple(
            (int(h), u, w) for h, (u, w) in zip(halves, places, strict=True) if h is not None
        )
        return File(pieces=pieces, pitch_mm=file.pitch_mm)

    def span_u(self, file: File, count: int) -> tuple[float, float]:
        """Lowest and highest u of the first so many pieces."""
        ends = {0, min(1, count - 1), max(0, count - 2), count - 1}
        laid = [file.piece(number) for number in ends]
        low = min(u + self._boxes[v, 0] for v, u, _ in laid)
        return float(low), float(max(u + self._boxes[v, 2] for v, u, _ in laid))

    def span_v(self, file: File) -> tuple[float, float]:
        """Lowest and highest v of a file."""
        lows = [w + self._boxes[v, 1] for v, _, w in file.pieces]
        highs = [w + self._boxes[v, 3] for v, _, w in file.pieces]
        return float(min(lows)), float(max(highs))

    def most(self, file: File, room_mm: float) -> int:
        """About how many pieces of a file a room holds, give or take one."""
        low, high = self.span_u(file, 1)
        return max(1, int((room_mm - (high - low)) / file.pitch_mm * len(file.pieces)) + 1)

    def held(self, file: File, phases_mm: Floats, room_mm: float) -> Floats:
        """How many pieces of an endless file, its first piece at a phase, lie in a room."""
        total = np.zeros(phases_mm.shape)
        for v, u, _ in file.pieces:
            low, high = self._boxes[v, 0], self._boxes[v, 2]
            first = np.ceil((-low - phases_mm - u - CLOSE_MM) / file.pitch_mm)
            last = np.floor((room_mm - high - phases_mm - u + CLOSE_MM) / file.pitch_mm)
            total += np.maximum(last - first + 1, 0)
        return total

    def tops(self, file: File, phases_mm: Floats, many: int) -> Floats:
        """(.., .., files * many) upper ends of the pieces of endless files that begin at 0."""
        parts = []
        each = ceil(many / len(file.pieces)) + 1
        for v, u, _ in file.pieces:
            low, high = self._boxes[v, 0], self._boxes[v, 2]
            first = np.ceil((-low - phases_mm - u - CLOSE_MM) / file.pitch_mm)
            turns = first[..., np.newaxis] + np.arange(each)
            tops = phases_mm[..., np.newaxis] + u + turns * file.pitch_mm + high
            parts.append(tops.reshape(*phases_mm.shape[:-1], -1))
        return np.concatenate(parts, axis=-1)

    def fill(self, file: File, phase_mm: float, room_mm: float) -> list[tuple[int, float, float]]:
        """The pieces of an endless file that lie in a room, from its low end."""
        laid = []
        for v, u, w in file.pieces:
            low, high = float(self._boxes[v, 0]), float(self._boxes[v, 2])
            first = ceil((-low - phase_mm - u - CLOSE_MM) / file.pitch_mm)
            last = floor((room_mm - high - phase_mm - u + CLOSE_MM) / file.pitch_mm)
            laid += [(v, phase_mm + u + k * file.pitch_mm, w) for k in range(first, last + 1)]
        return sorted(laid, key=lambda piece: piece[1])

    def slide(self, lower: File, upper: File, shifts_mm: Floats, *, exact: bool) -> Floats:
        """Least v of the upper file above the lower, both endless, at shifts along u."""
        return self._over.slide(
            np.array(lower.pieces), np.array(upper.pieces), lower.pitch_mm, shifts_mm, exact=exact
        )

    def slide_finite(
        self, lower: list[tuple[int, float, float]], upper: list[tuple[int, float, float]]
    ) -> float:
        """The same, exactly, for pieces as they stand."""
        least = -FAR
        for number in {v for v, _, _ in lower}:
            for other in {v for v, _, _ in upper}:
                ones = np.array([(u, w) for v, u, w in lower if v == number])
                others = np.array([(u, w) for v, u, w in upper if v == other])
                u = others[np.newaxis, :, 0] - ones[:, np.newaxis, 0]
                base = ones[:, np.newaxis, 1] - others[np.newaxis, :, 1]
                near = self._over.can_meet(number, other, u)
                exits = self._over.at(number, other, u[near]) + base[near]
                least = max(least, float(exits.max(initial=-FAR)))
        return least


def _turned_by(pieces: Pieces, turn_deg: float) -> Pieces:
    """The same pieces with every variant turned further."""
    form, first = pieces.forms[0], pieces.variants[0]
    edge_mm = pieces.rooms_mm[0, 0] + first.box_mm[0]
    angles_deg = [(variant.angle_deg + turn_deg) % 360.0 for variant in pieces.variants]
    variants = [Variant(form=0, angle_deg=a, box_mm=form.box(a)) for a in angles_deg]
    rooms = [
        (edge_mm - variant.box_mm[0], pieces.width_mm - edge_mm - variant.box_mm[2])
        for variant in variants
    ]
    return replace(pieces, variants=tuple(variants), rooms_mm=np.array(rooms))
