"""Divide a run into frames no longer than the cutter takes, and nest each frame.

Frames are equal mixes wherever quantities allow: equal frames are nested once, cut alike
and read alike. Two other ways are tried as well: for one shape full frames and a rest, for
large quantities of several shapes one long nest cut where no contour is crossed. Fewer
frames come first, each needs marks and film at both ends; then the shorter nest.

A larger budget never needs more frames, nor longer ones. Nesting a mix never gets longer,
so what fits still fits; and which mixes and which long nest are looked at is found with
steps of their own, the same for every budget.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil

import numpy as np

from nestplan.nest.bound import lower_bound
from nestplan.nest.cuts import cut
from nestplan.nest.engine import Budget, Watch, unwatched
from nestplan.nest.nested import Carried, Strip, Tried, numbered
from nestplan.nest.parts import Counts, in_whole, part_of
from nestplan.nest.placements import boxes_mm
from nestplan.nest.race import Race, race
from nestplan.nest.task import Task

TRIAL_SHARE = 20  # a frame count is first tried with this fraction of the budget
FULL_STEPS = 1_000  # to find out how many copies a full frame holds
LONG_STEPS = 4_000  # for the long nest that is cut
LONG_LEAST = 600  # copies; frames of fewer are searched well, and their equal mixes win
TRIAL_MARGIN = 1.10  # a full search has never shortened a trial by more than this
TRIAL_MARGIN_IN_HASTE = 1.19  # after a trial that is shorter itself


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Divided:
    """Strips of all frames in order, and what each engine reached over the whole run.

    carried, start_mm: as in `Nest`.
    """

    strips: tuple[Strip, ...]
    engine: str
    tried: tuple[Tried, ...]
    refused: tuple[str, ...]
    carried: Carried | None = None
    start_mm: float | None = None

    @property
    def length_mm(self) -> float:
        """Extents of all frames together."""
        return sum(strip.length_mm for strip in self.strips)


def of_races(strips: Sequence[Strip], races: Sequence[Race]) -> Divided:
    """Strips made of parts that were raced one by one; an engine counts that answered all."""
    tried = []
    for engine in dict.fromkeys(name for raced in races for name in raced.reached_mm):
        lengths = [raced.reached_mm.get(engine) for raced in races]
        known = [length for length in lengths if length is not None]
        whole = sum(known) if len(known) == len(lengths) else None
        tried.append(Tried(engine=engine, length_mm=whole))
    return Divided(
        strips=tuple(strips),
        engine=" + ".join(dict.fromkeys(raced.best.engine for raced in races)),
        tried=tuple(tried),
        refused=tuple(dict.fromkeys(name for raced in races for name in raced.refused)),
    )


def nest_in_frames(
    task: Task, *, length_most_mm: float, budget: Budget, watch: Watch = unwatched
) -> Divided:
    """Nest the task in as few frames as fit, each strip at most length_most_mm long.

    Every single piece fits a frame: the caller has refused what does not.
    """
    frames = max(1, least_frames(task, length_most_mm, quick=budget.haste))
    while True:
        mixes = balanced(task, frames)
        raced = _race_each(task, mixes, length_most_mm, budget, watch)
        if raced is not None:
            break
        frames += 1
        assert frames <= task.copies, "one copy a frame fits, or was refused"
    if frames > 1 and len(task.shapes) == 1:
        mixes, raced = _full_frames(task, mixes, raced, length_most_mm, budget, watch)
    divided = _divided(task, [(mix, raced[mix]) for mix in mixes])
    few = task.copies < LONG_LEAST or budget.haste
    if frames == 1 or len(task.shapes) == 1 or task.obstacles or few:
        return divided
    return _shorter(divided, _cut_from_one(task, length_most_mm, budget, watch))


def balanced(task: Task, frames: int) -> list[Counts]:
    """Copies of each shape for each frame: all alike, what is left over given to the least full."""
    counts = np.array([[shape.copies // frames for shape in task.shapes]] * frames)
    areas = np.array([shape.outline.area_mm2 for shape in task.shapes])
    for index in np.argsort(-areas, kind="stable"):
        for _ in range(task.shapes[index].copies % frames):
            least = int(
                np.argmin(counts @ areas + 1e12 * (counts[:, index] > counts[:, index].min()))
            )
            counts[least, index] += 1
    return sorted((tuple(int(c) for c in row) for row in counts), reverse=True)


def least_frames(task: Task, length_most_mm: float, *, quick: bool = False) -> int:
    """No fewer frames of this length can hold the task."""
    frames = 1
    while lower_bound(task, frames=frames, quick=quick).length_mm > frames * length_most_mm:
        frames += 1
    return frames


def _race_each(
    task: Task, mixes: list[Counts], length_most_mm: float, budget: Budget, watch: Watch
) -> dict[Counts, Race] | None:
    """Nest each distinct mix; None as soon as one does not fit its frame."""
    distinct = list(dict.fromkeys(mixes))
    if len(mixes) < task.copies:
        trial = replace(budget, steps=max(1, budget.steps // TRIAL_SHARE))
        first = race(part_of(task, distinct[0], length_most_mm), trial)
        margin = TRIAL_MARGIN_IN_HASTE if budget.haste else TRIAL_MARGIN
        if first.best.length_mm > margin * length_most_mm and len(mixes) > 0:
            return None
    share = replace(budget, steps=max(1, budget.steps // len(distinct)))
    raced: dict[Counts, Race] = {}
    for mix in distinct:
        raced[mix] = race(part_of(task, mix, length_most_mm), share, watch)
        if raced[mix].best.length_mm > length_most_mm + 1e-6:
            return None
    return raced


def _full_frames(
    task: Task,
    mixes: list[Counts],
    raced: dict[Counts, Race],
    length_most_mm: float,
    budget: Budget,
    watch: Watch,
) -> tuple[list[Counts], dict[Counts, Race]]:
    """For one shape: full frames and a rest in the last one, where that is shorter."""
    copies, frames = task.copies, len(mixes)
    most = _copies_a_frame(task, ceil(copies / frames), length_most_mm, budget)
    full: list[Counts] = [(most,) for _ in range(copies // most)]
    if copies % most:
        full.append((copies % most,))
    others = _race_each(task, full, length_most_mm, budget, watch)
    if others is None or len(full) > frames or _total(full, others) >= _total(mixes, raced):
        return mixes, raced
    return full, others


def _copies_a_frame(task: Task, holds: int, length_most_mm: float, budget: Budget) -> int:
    """Copies of one shape that a frame was found to hold, given that it holds so many."""
    quick = replace(budget, steps=FULL_STEPS)

    def fits(copies: int) -> bool:
        trial = race(part_of(task, (copies,), length_most_mm), quick)
        return trial.best.length_mm <= length_most_mm + 1e-6

    most, step = holds, 1
    if budget.haste:  # in steps twice as long each, then half as long
        while most + step <= task.copies and fits(most + step):
            most, step = most + step, 2 * step
        while step > 1:
            step //= 2
            if most + step <= task.copies and fits(most + step):
                most += step
        return most
    while most < task.copies and fits(most + 1):
        most += 1
    return most


def _total(mixes: list[Counts], raced: dict[Counts, Race]) -> float:
    return sum(raced[mix].best.length_mm for mix in mixes)


def _cut_from_one(task: Task, length_most_mm: float, budget: Budget, watch: Watch) -> Divided:
    """One long nest, cut into frames."""
    raced = race(task, replace(budget, steps=LONG_STEPS), watch)
    placements = raced.best.placements
    boxes = boxes_mm(task, placements)
    used = [0] * len(task.shapes)
    strips = []
    for rows in cut(boxes[:, 1], boxes[:, 3], length_most_mm):
        low, high = float(boxes[rows, 1].min()), float(boxes[rows, 3].max())
        part = placements.some(rows).moved(0.0, -low)
        strips.append(numbered(part, high - low, used))
    name = f"{raced.best.engine}, cut"
    length_mm = sum(strip.length_mm for strip in strips)
    return Divided(
        strips=tuple(strips),
        engine=name,
        tried=(Tried(engine=name, length_mm=length_mm),),
        refused=raced.refused,
    )


def _shorter(one: Divided, other: Divided) -> Divided:
    """The one with fewer frames, or as many and shorter; it tells what the other reached."""
    costs = [(len(each.strips), each.length_mm) for each in (one, other)]
    best = other if costs[1] < costs[0] else one
    refused = tuple(dict.fromkeys((*one.refused, *other.refused)))
    return replace(best, tried=(*one.tried, *other.tried), refused=refused)


def _divided(task: Task, frames: list[tuple[Counts, Race]]) -> Divided:
    used = [0] * len(task.shapes)
    strips = [
        numbered(in_whole(mix, raced.best.placements), raced.best.length_mm, used)
        for mix, raced in frames
    ]
    return of_races(strips, [raced for _, raced in frames])
