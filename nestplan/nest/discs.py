"""Equal discs in straight lines, across the film or along it, by closed forms.

Two discs' centres keep a distance D. Full lines hold m discs at a pitch p of D or more, short
ones m - 1. Full lines side by side may be staggered by what a line leaves free; a short line
lies in the gaps of its neighbours, half a pitch over. What lines one behind the other take is
sqrt(D^2 - stagger^2), which is concave in the stagger: so the shortest of all pitches is at an
end, at the tightest pitch or one stretched to the whole width. Square and hexagonal rows, the
zig-zag of two rows, and mixtures of full and short lines are all of this family.

Outlines are polygons; their exits take the place of the root, so that none is held farther
off than it must be.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import ceil, pi

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.nest.engine import Budget, Tell, silent
from nestplan.nest.exits import Exits
from nestplan.nest.pieces import Pieces, Places, pieces_of
from nestplan.nest.placements import Layout, settled
from nestplan.nest.task import Task

Floats = NDArray[np.float64]

ROUND = 0.97  # of the circle round it: what an outline covers to count as a disc
SLACK_MM = 1e-9  # so that what fits exactly fits


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """Lines of discs: `full` lines of `holds` discs, `short` ones of one disc fewer.

    pitch_mm:   along a line. stagger_mm: of a full line beside a full one.
    beside_mm:  from a full line to the next full one. nested_mm: from or to a short one.
    along:      lines run along the film, not across it.
    """

    along: bool
    full: int
    short: int
    holds: int
    pitch_mm: float
    stagger_mm: float
    beside_mm: float
    nested_mm: float

    @property
    def beside(self) -> int:
        """How many full lines follow a full one: first they alternate with the short ones."""
        return max(0, self.full - self.short - 1)

    @property
    def deep_mm(self) -> float:
        """From the first line to the last."""
        nested = self.full + self.short - 1 - self.beside
        return self.beside * self.beside_mm + nested * self.nested_mm

    @property
    def long_mm(self) -> float:
        """From the first disc's centre to the last one's, along the lines."""
        return (self.holds - 1) * self.pitch_mm + (self.stagger_mm if self.beside else 0.0)

    @property
    def length_mm(self) -> float:
        """From centre to centre along the film."""
        return self.long_mm if self.along else self.deep_mm

    def centres(self) -> Floats:
        """(discs, 2) along the lines and across them, line by line."""
        pairs = min(self.full, self.short)
        kinds = [True, False] * pairs + [self.full > self.short] * abs(self.full - self.short)
        rows, up_mm, start_mm, over = [], 0.0, 0.0, False
        for number, is_full in enumerate(kinds):
            if number and is_full and kinds[number - 1]:
                up_mm += self.beside_mm
                start_mm = self.stagger_mm - start_mm
            elif number:
                up_mm += self.nested_mm
                over = not over
            first_mm = start_mm + (self.pitch_mm / 2 if over else 0.0)
            places = first_mm + self.pitch_mm * np.arange(self.holds - (not is_full))
            rows.append(np.column_stack([places, np.full(len(places), up_mm)]))
        return np.concatenate(rows)


class Discs:
    """The shortest straight lines of equal discs."""

    name = "discs"

    def __call__(self, task: Task, budget: Budget, tell: Tell = silent) -> Layout | None:
        """The shortest lines; None for what is not one round shape, or has obstacles."""
        if len(task.shapes) != 1 or task.obstacles or not is_round(task):
            return None
        pieces = pieces_of(task)
        if pieces is None:
            return None
        shape = task.shapes[0]
        layouts = []
        for variant in pieces.variants:
            turned = replace(shape, angles_deg=(variant.angle_deg,))
            only = pieces_of(replace(task, shapes=(turned,)))
            if only is not None:
                layouts.append(_shortest(task, only))
        return min(layouts, key=lambda layout: layout.length_mm)


def is_round(task: Task) -> bool:
    """Whether the first shape fills the circle through its farthest corner, holes aside."""
    region = shapely.Polygon(max(task.shapes[0].outline.rings, key=_area_mm2))
    centre = shapely.centroid(region)
    corners = shapely.get_coordinates(region) - (centre.x, centre.y)
    radius_mm = float(np.hypot(corners[:, 0], corners[:, 1]).max())
    return bool(region.area >= ROUND * pi * radius_mm**2)


def _area_mm2(ring: Floats) -> float:
    return float(shapely.Polygon(ring).area)


def _shortest(task: Task, pieces: Pieces) -> Layout:
    """The shortest lines at the one angle of these pieces."""
    low_mm, high_mm = pieces.rooms_mm[0].tolist()
    room_mm = high_mm - low_mm
    near = Nearness(pieces)
    found = min(all_lines(near, pieces.movable, room_mm), key=lambda lines: lines.length_mm)
    centres = found.centres()[: pieces.movable]
    x, y = centres.T if not found.along else centres.T[::-1]
    places = Places(
        x_mm=np.minimum(low_mm + x, high_mm),
        y_mm=np.array(y),
        variant=np.zeros(pieces.movable, dtype=np.int64),
    )
    return settled(task, pieces.placements(places), Discs.name)


class Nearness:
    """How near two discs of one outline may come, along the film and across it.

    Both are even in the offset: the greater of the two sides counts.
    """

    def __init__(self, pieces: Pieces) -> None:
        apart_mm = float(pieces.apart_mm[0, 0])
        self._up = Exits(pieces, apart_mm, swapped=False)
        self._aside = Exits(pieces, apart_mm, swapped=True)

    def up_mm(self, aside_mm: float) -> float:
        """How far up, so far aside; 0 where they cannot meet."""
        return float(self._up.at(0, 0, np.array([aside_mm, -aside_mm])).max(initial=0.0))

    def aside_mm(self, up_mm: float) -> float:
        """How far aside, so far up; 0 where they cannot meet."""
        return float(self._aside.at(0, 0, np.array([up_mm, -up_mm])).max(initial=0.0))


def all_lines(near: Nearness, copies: int, room_mm: float) -> Iterator[Lines]:
    """Every line pattern worth comparing for so many discs; room_mm: for their centres."""
    wide_mm = near.aside_mm(0.0)
    most = min(copies, int((room_mm + SLACK_MM) / wide_mm) + 1)
    for holds in range(max(1, most // 2), most + 1):  # rows looser than that are lines along
        yield from _across(near, copies, room_mm, holds)
    for lines in range(1, min(copies, int(2 * (room_mm + SLACK_MM) / wide_mm) + 1) + 1):
        yield from _along(near, copies, room_mm, lines)


def _across(near: Nearness, copies: int, room_mm: float, holds: int) -> Iterator[Lines]:
    """Rows of so many discs: tight, stretched to the width, or all full and in zig-zag."""
    tight_mm, whole_mm = near.aside_mm(0.0), near.up_mm(0.0)
    spreads = [(room_mm / (holds - 0.5), room_mm / (2 * holds - 1))]  # pitch, stagger
    if holds > 1:
        if spreads[0][0] < tight_mm:
            spreads = []
        spreads.append((tight_mm, min(max(room_mm - (holds - 1) * tight_mm, 0.0), tight_mm / 2)))
        spreads.append((max(room_mm / (holds - 1), tight_mm), 0.0))
    for pitch_mm, stagger_mm in spreads:
        beside_mm = max(near.up_mm(stagger_mm), near.up_mm(pitch_mm - stagger_mm), whole_mm / 2)
        nested_mm = max(near.up_mm(pitch_mm / 2), whole_mm / 2)
        most_short = copies // (2 * holds - 1) + 1 if holds > 1 else 0
        for short in range(most_short + 1):
            full = max(0, ceil((copies - short * (holds - 1)) / holds))
            yield Lines(
                along=False,
                full=full,
                short=short,
                holds=holds,
                pitch_mm=pitch_mm,
                stagger_mm=stagger_mm,
                beside_mm=beside_mm,
                nested_mm=nested_mm,
            )


def _along(near: Nearness, copies: int, room_mm: float, lines: int) -> Iterator[Lines]:
    """So many lines along the film: evenly spread, or full ones in one way, short ones in another.

    Lines two apart stand at the same height or are too far apart to meet.
    """
    holds = ceil(copies / lines)
    short = lines * holds - copies
    if holds == 1 and short:
        return
    full = lines - short
    beside = max(0, full - short - 1)
    nested = lines - 1 - beside
    wide_mm, tight_mm = near.aside_mm(0.0), near.up_mm(0.0)
    spreads = []  # beside, nested
    if lines > 1:
        spreads.append((room_mm / (lines - 1),) * 2)
    else:
        spreads.append((wide_mm, wide_mm))
    if beside and nested:
        hexagonal_mm = near.aside_mm(tight_mm / 2)
        spreads.append(((room_mm - nested * hexagonal_mm) / beside, hexagonal_mm))
        spreads.append((wide_mm, (room_mm - beside * wide_mm) / nested))
    for beside_mm, nested_mm in spreads:
        if min(beside_mm, nested_mm) * 2 < wide_mm - SLACK_MM:
            continue
        stagger_mm = near.up_mm(beside_mm) if beside else 0.0
        over_mm = near.up_mm(nested_mm) if nested else 0.0
        yield Lines(
            along=True,
            full=full,
            short=short,
            holds=holds,
            pitch_mm=max(tight_mm, 2 * stagger_mm, 2 * over_mm),
            stagger_mm=stagger_mm,
            beside_mm=beside_mm,
            nested_mm=nested_mm,
        )
