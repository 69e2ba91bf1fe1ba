"""Equal boxes in lanes and rows: the instant answer, exact where decals are boxes.

A *block* is a length of film divided into lanes along the feed; each lane holds as many
copies of one turn as fit its length. One row across is a block, a full mix of columns is
a block; blocks stacked along the feed hold all copies. The best stack is found, not
guessed: only the number of copies couples the blocks, so dynamic programming solves it.

Every outline lies inside its bounding box, so this answers any task. It is exact for the
family above; the search over outlines begins where boxes waste film.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from nestplan.geometry.same import SAME_MM
from nestplan.nest.engine import Budget, Tell, silent
from nestplan.nest.placements import Layout, Placements
from nestplan.nest.task import Shape, Task

FIT_MM = SAME_MM / 10  # three boxes of 100.1 mm fit 300.3 mm, whatever float64 says
TURNS_MOST = 3  # turns of one shape that are mixed; a box has two
LENGTHS_MOST = 400  # block lengths tried, shortest first, and the length that takes all copies
TIE_MM = 5e-11  # of stacks as long as each other, the one with fewer copies out of line

Integers = NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """One turn of a shape: its bounding box, and where the centre of that box then lies."""

    angle_deg: float
    width_mm: float
    height_mm: float
    centre_mm: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Lanes side by side: lanes[t] of turn t with deep[t] copies each."""

    length_mm: float
    lanes: tuple[int, ...]
    deep: tuple[int, ...]

    @property
    def copies(self) -> int:
        """How many the block holds."""
        return sum(c * k for c, k in zip(self.lanes, self.deep, strict=True))

    @property
    def untidy(self) -> int:
        """Copies that are turned, or share the block with copies at another turn."""
        turned = self.copies - self.lanes[0] * self.deep[0]
        kinds = sum(c * k > 0 for c, k in zip(self.lanes, self.deep, strict=True))
        return turned + (self.copies if kinds > 1 else 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """The engine of lanes and rows. It needs no search and no budget."""

    name: str = "columns"

    def __call__(self, task: Task, budget: Budget, tell: Tell = silent) -> Layout | None:
        """One stack of blocks a shape, shapes one after the other along the feed.

        Obstacles are respected by beginning beyond the last of them: poor, but legal.
        returns: None where a shape fits the width at none of its angles.
        """
        beyond = (o.outline.bounds_mm[3] + o.apart_mm for o in task.obstacles)
        start_mm = max(0.0, *beyond) if task.obstacles else 0.0
        parts: list[Placements] = []
        tops_mm: list[float] = []
        for index, shape in enumerate(task.shapes):
            after = zip(tops_mm, task.apart_mm[index], strict=False)  # all shapes before this
            bottom_mm = max((top + apart for top, apart in after), default=start_mm)
            laid = _laid(task, index, shape, bottom_mm)
            if laid is None:
                return None
            parts.append(laid[0])
            tops_mm.append(laid[1])
        placements = Placements(
            shape=np.concatenate([part.shape for part in parts]),
            centre_mm=np.concatenate([part.centre_mm for part in parts]),
            angle_deg=np.concatenate([part.angle_deg for part in parts]),
        )
        return Layout(placements=placements, length_mm=max(tops_mm), engine=self.name)


def _laid(
    task: Task, index: int, shape: Shape, bottom_mm: float
) -> tuple[Placements, float] | None:
    """All copies of one shape from bottom_mm on, and where they end."""
    room_mm, apart_mm = task.width_mm - 2 * shape.edge_mm, task.apart_mm[index][index]
    turns = turns_of(shape, room_mm, apart_mm)
    if not turns:
        return None
    stack = shortest_stack(turns, shape.copies, room_mm, apart_mm)
    cells = [cell for block in _cells(turns, stack, apart_mm) for cell in block]
    cells = cells[: shape.copies]
    corners = np.array([(x, y) for x, y, _ in cells]) + (shape.edge_mm, bottom_mm)
    turn = np.array([t for _, _, t in cells], dtype=np.intp)
    sizes = np.array([(t.width_mm, t.height_mm) for t in turns])[turn]
    centres = np.array([t.centre_mm for t in turns])[turn]
    placements = Placements(
        shape=np.full(len(cells), index, dtype=np.intp),
        centre_mm=corners + sizes / 2 - centres,
        angle_deg=np.array([t.angle_deg for t in turns])[turn],
    )
    return placements, float((corners + sizes)[:, 1].max())


def turns_of(shape: Shape, room_mm: float, apart_mm: float) -> list[Turn]:
    """The turns worth mixing: they fit the width, and no other is as narrow and as short."""
    turns: list[Turn] = []
    for angle_deg in shape.angles_deg:
        left, bottom, right, top = shape.outline.turned(angle_deg).bounds_mm
        turn = Turn(
            angle_deg=angle_deg,
            width_mm=right - left,
            height_mm=top - bottom,
            centre_mm=((left + right) / 2, (bottom + top) / 2),
        )
        if turn.width_mm > room_mm + FIT_MM or any(_no_larger(known, turn) for known in turns):
            continue
        turns = [known for known in turns if not _no_larger(turn, known)] + [turn]
    best = sorted(turns, key=lambda t: (t.width_mm + apart_mm) * (t.height_mm + apart_mm))
    return [turn for turn in turns if turn in best[:TURNS_MOST]]


def _no_larger(one: Turn, other: Turn) -> bool:
    narrow = one.width_mm <= other.width_mm + FIT_MM
    return narrow and one.height_mm <= other.height_mm + FIT_MM


def shortest_stack(turns: list[Turn], copies: int, room_mm: float, apart_mm: float) -> list[Block]:
    """The blocks of the shortest stack that holds all copies, the fullest block first."""
    blocks = _blocks(turns, copies, room_mm, apart_mm)
    holds = np.array([block.copies for block in blocks])
    costs = np.array([b.length_mm + apart_mm + TIE_MM * b.untidy for b in blocks])
    cost = np.zeros(copies + 1)  # of the shortest stack that holds so many
    last = np.zeros(copies + 1, dtype=np.intp)
    for held in range(1, copies + 1):
        costs_with = cost[np.maximum(held - holds, 0)] + costs
        last[held] = costs_with.argmin()
        cost[held] = costs_with[last[held]]
    stack, left = [], copies
    while left > 0:
        stack.append(blocks[last[left]])
        left -= stack[-1].copies
    return sorted(stack, key=lambda block: (-block.copies, block.length_mm))


def _blocks(turns: list[Turn], copies: int, room_mm: float, apart_mm: float) -> list[Block]:
    """For each length worth trying the fullest block; each holds more than any shorter one."""
    widths = [turn.width_mm + apart_mm for turn in turns]
    pitches = np.array([turn.height_mm + apart_mm for turn in turns])
    mixes = _mixes(widths, room_mm + apart_mm + FIT_MM)
    steps = np.arange(1, copies + 1)
    lengths = np.unique(steps[:, np.newaxis] * pitches) - apart_mm

    def fullest(length_mm: float) -> Block:
        deep = np.floor((length_mm + apart_mm + FIT_MM) / pitches).astype(np.intp)
        held = mixes @ deep
        turned = held - mixes[:, 0] * deep[0]
        kinds = (mixes * deep > 0).sum(axis=1)
        most = np.lexsort((turned, kinds, -held))[0]
        return Block(
            length_mm=length_mm, lanes=tuple(mixes[most].tolist()), deep=tuple(deep.tolist())
        )

    low, high = 0, len(lengths) - 1  # the longest holds all copies in one lane
    while low < high:
        middle = (low + high) // 2
        low, high = (
            (low, middle) if fullest(lengths[middle]).copies >= copies else (middle + 1, high)
        )
    blocks: list[Block] = []
    for length in (*lengths[:low][:LENGTHS_MOST].tolist(), float(lengths[low])):
        block = fullest(length)
        if not blocks or block.copies > blocks[-1].copies:
            blocks.append(block)
    return [block for block in blocks if block.copies > 0]


def _mixes(widths: list[float], room: float) -> Integers:
    """Rows of how many lanes of each turn fit side by side; of the last turn, all that fit."""
    most = [range(int(room // width) + 1) for width in widths[:-1]]
    mixes = []
    for mix in product(*most):
        left = room - sum(count * width for count, width in zip(mix, widths, strict=False))
        if left >= 0:
            mixes.append((*mix, int(left // widths[-1])))
    return np.array(mixes, dtype=np.intp)


def _cells(
    turns: list[Turn], stack: list[Block], apart_mm: float
) -> Iterator[list[tuple[float, float, int]]]:
    """Lower left corners (x, y) and turns of each block's copies, row by row."""
    bottom_mm = 0.0
    for block in stack:
        cells, left_mm = [], 0.0
        for t, (turn, lanes, deep) in enumerate(zip(turns, block.lanes, block.deep, strict=True)):
            for lane in range(lanes):
                x_mm = left_mm + lane * (turn.width_mm + apart_mm)
                pitch_mm = turn.height_mm + apart_mm
                cells += [(x_mm, bottom_mm + row * pitch_mm, t) for row in range(deep)]
            left_mm += lanes * (turn.width_mm + apart_mm)
        cells.sort(key=lambda cell: (cell[1] + turns[cell[2]].height_mm, cell[0]))
        yield cells
        bottom_mm += block.length_mm + apart_mm
