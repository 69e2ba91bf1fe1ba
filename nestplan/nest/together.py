"""Decals kept together: all copies of each lie in one band, straight across the film.

The task falls into parts: each kept decal, and all that may lie anywhere. Every part is raced by
itself, and their strips are stacked, the least distance apart, so that the film may be cut
between them. Bands fill the frames in the order that takes fewest frames and breaks fewest
bands; what may lie anywhere goes where the bands leave room.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise, permutations
from math import floor

import numpy as np

from nestplan.nest.bound import lower_bound
from nestplan.nest.columns import Columns
from nestplan.nest.divide import Divided, least_frames, of_races
from nestplan.nest.engine import Budget, Watch, unwatched
from nestplan.nest.nested import Strip, numbered
from nestplan.nest.parts import Counts, in_whole, joined, part_of
from nestplan.nest.race import Race, race
from nestplan.nest.task import Shape, Task

TRIAL_STEPS = 400  # at most, of a part, to learn how long it is about
HOPED = 1.08  # a whole search may shorten a trial so much, and save a frame
TRIES = 3  # short races for the length of a band that fits
ORDERED = 5  # bands that are tried in every order
LIKELY = 1.2  # times its bound: how long decals that may lie anywhere are likely to be

Fits = Callable[[int, int, float], tuple[int, float]]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """A band, a length of one, or a share of what may lie anywhere.

    begun, goes_on: a band that lies in the frame before, or in the next one, too.
    """

    mix: Counts
    length_mm: float
    begun: bool = False
    goes_on: bool = False


Frames = list[list[_Part]]


def nest_in_bands(
    task: Task,
    together: tuple[bool, ...],
    *,
    length_most_mm: float,
    budget: Budget,
    watch: Watch = unwatched,
) -> Divided:
    """Nest the task in frames, the copies of each shape kept together in a band.

    together: for each shape of the task. Every piece fits a frame; no obstacles. A band that
    does not fit in what is left of a frame goes on at the start of the next one.
    """
    assert not task.obstacles, "bands are stacked, and obstacles do not move with them"
    sketched = _Known(task=task, budget=replace(budget, steps=0))
    frames = _planned(sketched, together, length_most_mm)
    if len(frames) == least_frames(task, length_most_mm) and not _broken(frames):
        return _divided(task, frames, _race_all(sketched, frames, budget, watch))
    short = replace(budget, steps=min(budget.steps, TRIAL_STEPS))
    known = _Known(task=task, budget=short)
    frames = _planned(known, together, length_most_mm)
    fewer = _planned(known, together, HOPED * length_most_mm)
    if len(fewer) < len(frames):
        raced = _race_all(known, fewer, budget, watch)
        longest_mm = max(_length_mm(task, _lying(frame, raced)) for frame in fewer)
        if longest_mm <= length_most_mm + 1e-6:
            return _divided(task, fewer, raced)
    return _divided(task, frames, _race_all(known, frames, budget, watch))


def _broken(frames: Frames) -> int:
    """How often a band goes on in another frame."""
    return sum(part.goes_on for frame in frames for part in frame)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Known:
    """Parts laid for a first idea of their lengths, each mix once.

    budget: for a short race of each; without steps they are laid in columns only.
    """

    task: Task
    budget: Budget

    @cached_property
    def _raced(self) -> dict[Counts, Race]:
        return {}

    def race(self, mix: Counts) -> Race:
        """A layout of a part."""
        if mix not in self._raced:
            part = part_of(self.task, mix, None)
            self._raced[mix] = race(part, self.budget) if self.budget.steps else _sketch(part)
        return self._raced[mix]

    def length_mm(self, mix: Counts) -> float:
        """How long a part is, or a little less after a whole search."""
        return self.race(mix).best.length_mm

    def only(self, shape: int, copies: int) -> Counts:
        """The mix of one shape."""
        return tuple(copies if k == shape else 0 for k in range(len(self.task.shapes)))

    def fits(self, shape: int, copies: int, room_mm: float) -> tuple[int, float]:
        """About the most copies of a shape, at most as asked, that fit a length, and how long."""
        low, high = 0, copies + 1  # so many fit; so many do not
        guess, tries = copies, 0
        while high - low > 1 and (low == 0 or tries < TRIES or not self.budget.steps):
            tries += 1
            length_mm = self.length_mm(self.only(shape, guess))
            low, high = (guess, high) if length_mm <= room_mm else (low, guess)
            guess = min(max(floor(guess * room_mm / length_mm), low + 1), high - 1)
        return low, self.length_mm(self.only(shape, low)) if low else 0.0

    def likely(self, shape: int, copies: int, room_mm: float) -> tuple[int, float]:
        """The same in proportion to the whole band, without a race."""
        whole = self.task.shapes[shape].copies
        each_mm = self.length_mm(self.only(shape, whole)) / whole
        fit = copies if copies * each_mm <= room_mm else max(0, floor(room_mm / each_mm))
        return fit, fit * each_mm


def _sketch(part: Task) -> Race:
    layout = Columns()(part, Budget(steps=0, seed=0))
    assert layout is not None, "columns answer every task that passed the refusals"
    return Race(best=layout, reached_mm={layout.engine: layout.length_mm}, refused=())


# ---------------------------------------------------------------- which part lies where


def _planned(known: _Known, together: tuple[bool, ...], most_mm: float) -> Frames:
    """The parts of each frame from its leading end on."""
    task = known.task
    bands = [k for k, kept in enumerate(together) if kept]
    loose = tuple(0 if kept else s.copies for s, kept in zip(task.shapes, together, strict=True))
    likely_mm = 0.0
    if any(loose):
        likely_mm = LIKELY * lower_bound(part_of(task, loose, None)).length_mm

    def worth(way: tuple[tuple[int, ...], bool]) -> tuple[int, int, float]:
        frames = _filled(task, *way, most_mm, known.likely)
        free_mm = sum(_rooms_mm(task, frames, loose, most_mm))
        more = max(0.0, likely_mm - free_mm) / most_mm
        gaps_mm = sum(_gap_mm(task, a.mix, b.mix) for f in frames for a, b in pairwise(f))
        return len(frames) + int(np.ceil(more)), _broken(frames), gaps_mm

    best = min(_ways(known, bands), key=worth)
    frames = _filled(task, *best, most_mm, known.fits)
    return _with_loose(known, frames, loose, most_mm) if any(loose) else frames


def _ways(known: _Known, bands: list[int]) -> Iterator[tuple[tuple[int, ...], bool]]:
    """Orders of the bands, and whether a band is broken rather than begun in the next frame."""
    if len(bands) <= ORDERED:
        orders = list(permutations(bands))
    else:
        lengths = {k: known.length_mm(known.only(k, known.task.shapes[k].copies)) for k in bands}
        falling = tuple(sorted(bands, key=lambda k: -lengths[k]))
        orders = [falling, falling[::-1], tuple(bands)]
    for order in orders:
        yield order, False
        yield order, True


def _filled(task: Task, order: tuple[int, ...], breaks: bool, most_mm: float, fits: Fits) -> Frames:
    """Bands one behind the other, frame by frame."""
    frames: Frames = [[]]
    for shape in order:
        left, begun = task.shapes[shape].copies, False
        while left:
            mix = tuple(left if k == shape else 0 for k in range(len(task.shapes)))
            used_mm = _length_mm(task, frames[-1])
            gap_mm = _gap_mm(task, frames[-1][-1].mix, mix) if frames[-1] else 0.0
            copies, length_mm = fits(shape, left, most_mm - used_mm - gap_mm)
            whole_next = not breaks and copies < left and fits(shape, left, most_mm)[0] == left
            if frames[-1] and (copies == 0 or whole_next):
                frames.append([])
                continue
            copies = max(copies, 1)  # by estimate alone not even one may fit a frame
            left -= copies
            mix = tuple(copies if k == shape else 0 for k in range(len(task.shapes)))
            part = _Part(mix=mix, length_mm=length_mm, begun=begun, goes_on=left > 0)
            frames[-1].append(part)
            if left:
                frames.append([])
                begun = True
    return frames


def _with_loose(known: _Known, frames: Frames, loose: Counts, most_mm: float) -> Frames:
    """The same frames and as many more as are needed, what may lie anywhere shared among them."""
    task = known.task
    while True:
        rooms_mm = _rooms_mm(task, frames, loose, most_mm)
        if lower_bound(part_of(task, loose, None)).length_mm <= sum(rooms_mm):
            shares = shared(task, loose, rooms_mm)
            if all(
                known.length_mm(share) <= room_mm
                for share, room_mm in zip(shares, rooms_mm, strict=True)
                if any(share)
            ):
                break
        frames = [*frames, []]
        assert len(frames) <= 2 * task.copies, "one copy a frame fits, or was refused"
    filled = [
        _inserted(task, frame, _Part(mix=share, length_mm=known.length_mm(share)))
        if any(share)
        else frame
        for frame, share in zip(frames, shares, strict=True)
    ]
    return [frame for frame in filled if frame]


def shared(task: Task, mix: Counts, rooms_mm: list[float]) -> list[Counts]:
    """A mix in shares as large as the rooms, each shape in proportion."""
    rooms = np.array(rooms_mm)
    areas = np.array([shape.outline.area_mm2 for shape in task.shapes])
    counts = np.floor(np.outer(rooms / rooms.sum(), mix) + 1e-9).astype(np.intp)
    for index in np.argsort(-areas, kind="stable"):
        for _ in range(int(mix[index] - counts[:, index].sum())):
            with np.errstate(divide="ignore", invalid="ignore"):
                full = np.where(rooms > 0, (counts @ areas + areas[index]) / rooms, np.inf)
            counts[int(np.argmin(full)), index] += 1
    return [tuple(int(c) for c in row) for row in counts]


def _rooms_mm(task: Task, frames: Frames, loose: Counts, most_mm: float) -> list[float]:
    """What the bands leave of each frame; nothing where the largest decal would not fit."""
    if not any(loose):
        return [0.0] * len(frames)
    least_mm = max(_least_mm(task, shape) for shape, n in zip(task.shapes, loose, strict=True) if n)
    rooms = []
    for frame in frames:
        gaps_mm = 0.0
        if frame:
            with_it = _inserted(task, frame, _Part(mix=loose, length_mm=0.0))
            gaps_mm = _length_mm(task, with_it)
        through = len(frame) == 1 and frame[0].begun and frame[0].goes_on
        room_mm = most_mm - gaps_mm
        rooms.append(0.0 if through or room_mm < least_mm else room_mm)
    return rooms


def _least_mm(task: Task, shape: Shape) -> float:
    """How short a copy lies along the feed at an angle at which it fits the film."""
    turned = [shape.outline.turned(angle_deg) for angle_deg in shape.angles_deg]
    room_mm = task.width_mm - 2 * shape.edge_mm
    return min(each.height_mm for each in turned if each.width_mm <= room_mm + 1e-6)


def _inserted(task: Task, frame: list[_Part], part: _Part) -> list[_Part]:
    """The part where it needs the smallest gaps, never where a band goes on to another frame."""
    first = 1 if frame and frame[0].begun else 0
    last = len(frame) - 1 if frame and frame[-1].goes_on else len(frame)
    ways = [[*frame[:k], part, *frame[k:]] for k in range(first, max(first, last) + 1)]
    return min(ways, key=lambda way: _length_mm(task, way))


# ---------------------------------------------------------------- the whole budget, and the strips


def _race_all(known: _Known, frames: Frames, budget: Budget, watch: Watch) -> dict[Counts, Race]:
    """Race every part with its share of the budget; none comes out longer than it was known."""
    task = known.task
    mixes = list(dict.fromkeys(part.mix for frame in frames for part in frame))
    areas = [
        sum(n * s.outline.area_mm2 for n, s in zip(mix, task.shapes, strict=True)) for mix in mixes
    ]
    raced = {}
    for mix, area in zip(mixes, areas, strict=True):
        raced[mix] = known.race(mix)
        steps = max(1, int(budget.steps * area / sum(areas)))
        if steps > known.budget.steps:
            found = race(part_of(task, mix, None), replace(budget, steps=steps), watch)
            if found.best.length_mm <= raced[mix].best.length_mm:
                raced[mix] = found
    return raced


def _lying(frame: list[_Part], raced: dict[Counts, Race]) -> list[_Part]:
    """The parts of a frame at the length they have been raced to."""
    return [replace(part, length_mm=raced[part.mix].best.length_mm) for part in frame]


def _length_mm(task: Task, frame: list[_Part]) -> float:
    gaps_mm = sum(_gap_mm(task, a.mix, b.mix) for a, b in pairwise(frame))
    return sum(part.length_mm for part in frame) + gaps_mm


def _gap_mm(task: Task, one: Counts, other: Counts) -> float:
    """The least distance that keeps any copy of one part off any copy of the other."""
    first = [k for k, n in enumerate(one) if n]
    second = [k for k, n in enumerate(other) if n]
    return max(task.apart_mm[a][b] for a in first for b in second)


def _divided(task: Task, frames: Frames, raced: dict[Counts, Race]) -> Divided:
    used = [0] * len(task.shapes)
    strips = [_strip(task, _lying(frame, raced), raced, used) for frame in frames]
    return of_races(strips, [raced[part.mix] for frame in frames for part in frame])


def _strip(task: Task, frame: list[_Part], raced: dict[Counts, Race], used: list[int]) -> Strip:
    """The parts of a frame stacked."""
    parts = []
    for k, part in enumerate(frame):
        start_mm = _length_mm(task, frame[: k + 1]) - part.length_mm
        laid = raced[part.mix].best.placements.moved(0.0, start_mm)
        parts.append(in_whole(part.mix, laid))
    return numbered(joined(parts), _length_mm(task, frame), used)
