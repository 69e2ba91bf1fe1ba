"""Divide a run into frames no longer than the cutter takes, and nest each frame.

Frames are equal mixes wherever quantities allow: equal frames are nested once, cut alike
and read alike. For one shape the alternative, full frames and a rest, is tried as well.
"""

from dataclasses import dataclass, replace
from math import ceil

import numpy as np

from nestplan.nest.bound import lower_bound
from nestplan.nest.engine import Budget, Watch, unwatched
from nestplan.nest.nested import Strip, Tried
from nestplan.nest.parts import Counts, part_of
from nestplan.nest.placements import Layout
from nestplan.nest.race import Race, race
from nestplan.nest.task import Task

TRIAL_SHARE = 20  # a frame count is first tried with this fraction of the budget
TRIAL_MARGIN = 1.10  # a full search has never shortened a trial by more than this


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Divided:
    """Strips of all frames in order, and what each engine reached over the whole run."""

    strips: tuple[Strip, ...]
    engine: str
    tried: tuple[Tried, ...]
    refused: tuple[str, ...]


def nest_in_frames(
    task: Task, *, length_most_mm: float, budget: Budget, watch: Watch = unwatched
) -> Divided:
    """Nest the task in as few frames as fit, each strip at most length_most_mm long.

    Every single piece fits a frame: the caller has refused what does not.
    """
    frames = max(1, _least_frames(task, length_most_mm))
    while True:
        mixes = balanced(task, frames)
        raced = _race_each(task, mixes, length_most_mm, budget, watch)
        if raced is not None:
            break
        frames += 1
        assert frames <= task.copies, "one copy a frame fits, or was refused"
    if frames > 1 and len(task.shapes) == 1:
        mixes, raced = _full_frames(task, mixes, raced, length_most_mm, budget, watch)
    return _divided(task, [(mix, raced[mix]) for mix in mixes])


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


def _least_frames(task: Task, length_most_mm: float) -> int:
    frames = 1
    while lower_bound(task, frames=frames).length_mm > frames * length_most_mm:
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
        if first.best.length_mm > TRIAL_MARGIN * length_most_mm and len(mixes) > 0:
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
    most = ceil(copies / frames)
    quick = replace(budget, steps=max(1, budget.steps // TRIAL_SHARE))
    while most < copies:
        trial = race(part_of(task, (most + 1,), length_most_mm), quick)
        if trial.best.length_mm > length_most_mm + 1e-6:
            break
        most += 1
    full: list[Counts] = [(most,) for _ in range(copies // most)]
    if copies % most:
        full.append((copies % most,))
    others = _race_each(task, full, length_most_mm, budget, watch)
    if others is None or len(full) > frames or _total(full, others) >= _total(mixes, raced):
        return mixes, raced
    return full, others


def _total(mixes: list[Counts], raced: dict[Counts, Race]) -> float:
    return sum(raced[mix].best.length_mm for mix in mixes)


def _divided(task: Task, frames: list[tuple[Counts, Race]]) -> Divided:
    used = [0] * len(task.shapes)
    strips = [_strip(task, mix, raced.best, used) for mix, raced in frames]
    names = list(dict.fromkeys(raced.best.engine for _, raced in frames))
    engines = dict.fromkeys(name for _, raced in frames for name in raced.reached_mm)
    tried = []
    for engine in engines:
        lengths = [raced.reached_mm.get(engine) for _, raced in frames]
        known = [length for length in lengths if length is not None]
        whole = sum(known) if len(known) == len(lengths) else None
        tried.append(Tried(engine=engine, length_mm=whole))
    refused = dict.fromkeys(name for _, raced in frames for name in raced.refused)
    return Divided(
        strips=tuple(strips),
        engine=" + ".join(names),
        tried=tuple(tried),
        refused=tuple(refused),
    )


def _strip(task: Task, mix: Counts, layout: Layout, used: list[int]) -> Strip:
    """A frame's strip with the task's own shape numbers and copies counted on, by y then x."""
    kept = np.array([index for index, count in enumerate(mix) if count > 0], dtype=np.intp)
    placements = layout.placements
    order = np.lexsort((placements.centre_mm[:, 0], placements.centre_mm[:, 1]))
    shape = kept[placements.shape[order]]
    copy = []
    for index in shape.tolist():
        used[index] += 1
        copy.append(used[index])
    return Strip(
        placements=replace(
            placements,
            shape=shape,
            centre_mm=placements.centre_mm[order],
            angle_deg=placements.angle_deg[order],
        ),
        copy=tuple(copy),
        length_mm=layout.length_mm,
    )
