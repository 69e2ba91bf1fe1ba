"""The nest of a former plan, changed as little as possible.

Copies keep frame, place and angle where the new task lets them. Copies too many leave from
the end of the run. Copies too few come into free places of the frames first, then into a
longer last frame, then into frames of their own.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.faults import Note
from nestplan.geometry.outline import Outline, outline_of, turn
from nestplan.geometry.same import SAME_MM
from nestplan.job import Former
from nestplan.nest.divide import Divided, nest_in_frames
from nestplan.nest.engine import Budget, Watch, unwatched
from nestplan.nest.legal import legal_rows
from nestplan.nest.nested import Carried, Strip, Tried
from nestplan.nest.parts import Counts, in_whole, joined, part_of
from nestplan.nest.placements import Placements, boxes_mm, extent_mm, lying
from nestplan.nest.race import race
from nestplan.nest.task import Obstacle, Task
from nestplan.nest.vacant import vacant_places
from nestplan.nest.verify import verify

ENGINE, PATTERN, ANEW = "former plan", "its pattern", "nested anew"
STEPS_OF_ONE = 10
SEARCH_SHARE = 4  # what comes is searched for with so many times its share of the steps
SHORT_SHARE = 20  # of the steps, to find out what keeping places costs
WORTH_MM = 1.0  # of film; less is not worth a note
SAME_CONTOUR_MM = 1e-5  # a summary has six decimals
SAME_DEG = 1e-6  # and nine of degrees


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Frame:
    """Copies of one frame in strip coordinates; row i of all is copy i.

    number: of each copy within its decal, 0 where it has none yet.
    stayed: whether it lies where the former plan has it.
    marks:  where the former plan's marks stand, kept clear of what comes.
    """

    placements: Placements
    number: NDArray[np.intp]
    stayed: NDArray[np.bool_]
    marks: tuple[Obstacle, ...] = ()

    def rows(self, kept: NDArray[np.bool_]) -> "_Frame":
        """The same frame with some of its copies."""
        return replace(
            self,
            placements=self.placements.some(kept),
            number=self.number[kept],
            stayed=self.stayed[kept],
        )

    def with_more(self, more: Placements) -> "_Frame":
        """The same frame with copies that came."""
        n = len(more)
        return replace(
            self,
            placements=joined([self.placements, more]),
            number=np.concatenate([self.number, np.zeros(n, dtype=np.intp)]),
            stayed=np.concatenate([self.stayed, np.zeros(n, dtype=np.bool_)]),
        )


def carry_over(
    task: Task,
    former: Former,
    *,
    x0_mm: float,
    length_most_mm: float,
    budget: Budget,
    watch: Watch = unwatched,
) -> Divided | None:
    """The former plan's nest for this task; None where nothing of it can be kept.

    x0_mm: where the strip's x = 0 lies in run coordinates, in which the former plan speaks.
    """
    frames = [_former_frame(task, former, number, x0_mm) for number in range(len(former.frames))]
    frames = [_legal(task, frame, length_most_mm) for frame in frames]
    frames = _within_quantities(task, frames)
    stayed = sum(len(frame.placements) for frame in frames)
    if not stayed:
        return None
    missing = np.array([shape.copies for shape in task.shapes]) - _counts(task, frames)
    fraction = min(1.0, SEARCH_SHARE * float(missing.sum()) / task.copies)
    share = replace(budget, steps=max(1, int(budget.steps * fraction / len(frames))))
    engines: list[str] = []
    for index, frame in enumerate(frames):
        if not missing.any():
            break
        last = index == len(frames) - 1
        room_mm = length_most_mm if last else extent_mm(task, frame.placements)[3]
        frames[index] = _filled(task, frame, missing, room_mm, share, watch, engines)
        missing = np.array([shape.copies for shape in task.shapes]) - _counts(task, frames)
    if missing.any():
        rest = replace(budget, steps=max(1, int(budget.steps * missing.sum() / task.copies)))
        frames += _further(task, missing, length_most_mm, rest, watch, engines)
    strips = _strips(task, frames)
    for strip in strips:
        copies = np.bincount(strip.placements.shape, minlength=len(task.shapes)).tolist()
        if verify(task, strip.placements, copies=copies, length_most_mm=length_most_mm):
            return None
    engine = " + ".join(dict.fromkeys((ENGINE, *engines)))
    length_mm = sum(strip.length_mm for strip in strips)
    return Divided(
        strips=strips,
        engine=engine,
        tried=(Tried(engine=engine, length_mm=length_mm),),
        refused=(),
        carried=_carried(task, former, stayed),
    )


def beside_anew(task: Task, divided: Divided, *, length_most_mm: float, budget: Budget) -> Divided:
    """The same, and where anything has changed what a short search reaches from nothing."""
    carried = divided.carried
    assert carried is not None, "the nest is handed in from a former plan"
    if carried.before == carried.stayed == task.copies:
        return divided
    short = replace(budget, steps=max(1, budget.steps // SHORT_SHARE))
    anew = nest_in_frames(task, length_most_mm=length_most_mm, budget=short)
    tried = Tried(engine=ANEW, length_mm=anew.length_mm)
    return replace(divided, tried=(*divided.tried, tried))


def carried_notes(
    former: Former, job: str, carried: Carried | None, tried: Sequence[Tried]
) -> list[Note]:
    """What became of the former plan's copies, and what keeping them costs.

    job: the name of the job that is planned. tried: of the nest.
    """
    where = f'from_plan "{former.folder}"'
    notes = []
    if former.job != job:
        text = f'the former plan was made for another job, "{former.job}"'
        notes.append(Note(level="look", where=where, text=text))
    if carried is None:
        text = (
            "no copy could keep its place: contours, turns, distances or film are others; all are "
            "nested anew"
        )
        return [*notes, Note(level="look", where=where, text=text)]
    why = " because their contours, turns, distances or film are others" if carried.moved else ""
    text = (
        f"{carried.stayed} of {carried.before} copies stayed in their places, {carried.moved} "
        f"moved{why}, {carried.came} came, {carried.went} went"
    )
    notes.append(Note(level="know", where=where, text=text))
    reached = {each.engine: each.length_mm for each in tried}
    kept_mm = max(length for length in reached.values() if length is not None)
    anew_mm = reached.get(ANEW)
    if anew_mm is not None and kept_mm > anew_mm + WORTH_MM:
        text = (
            f"to keep their places costs {kept_mm - anew_mm:.1f} mm of film: nested anew by a "
            f"short search all copies take {anew_mm:.1f} mm"
        )
        notes.append(Note(level="know", where=where, text=text))
    return notes


def _former_frame(task: Task, former: Former, index: int, x0_mm: float) -> _Frame:
    """A former frame's copies whose decal is still the same, from its first contour on."""
    frame = former.frames[index]
    now = _same_decals(task, former)
    bottom_mm = _bottom_mm(former, index)
    rows = [copy for copy in frame.placements if copy.decal - 1 in now]
    shape = np.array([now[copy.decal - 1] for copy in rows], dtype=np.intp)
    angle = [
        _allowed_deg(task, int(index), copy.angle_deg % 360.0)
        for index, copy in zip(shape, rows, strict=True)
    ]
    half = former.marks.size_mm / 2
    edge_mm = max(shape.edge_mm for shape in task.shapes)
    marks = tuple(
        Obstacle(
            outline=outline_of(shapely.box(-half, -half, half, half)).moved(
                mark.x_mm - x0_mm, mark.y_mm - bottom_mm
            ),
            apart_mm=former.marks.clear_mm + edge_mm,
        )
        for mark in frame.marks
        if half > 0
    )
    centre = np.array([(copy.x_mm - x0_mm, copy.y_mm - bottom_mm) for copy in rows])
    return _Frame(
        placements=Placements(
            shape=shape, centre_mm=centre.reshape(-1, 2), angle_deg=np.array(angle, dtype=float)
        ),
        number=np.array([copy.copy_ for copy in rows], dtype=np.intp),
        stayed=np.ones(len(rows), dtype=np.bool_),
        marks=marks,
    )


def _same_decals(task: Task, former: Former) -> dict[int, int]:
    """Former decals (from 0) whose name and contour a shape of the task still has."""
    now = {shape.name: index for index, shape in enumerate(task.shapes)}
    return {
        number: now[decal.name]
        for number, decal in enumerate(former.decals)
        if decal.name in now and _same(task.shapes[now[decal.name]].outline, decal.rings)
    }


def _same(outline: Outline, rings: Sequence[NDArray[np.float64]]) -> bool:
    return len(outline.rings) == len(rings) and all(
        one.shape == other.shape and float(np.abs(one - other).max()) <= SAME_CONTOUR_MM
        for one, other in zip(outline.rings, rings, strict=True)
    )


def _bottom_mm(former: Former, index: int) -> float:
    """Where the first contour of a former frame begins, in run coordinates."""
    points = [np.concatenate(decal.rings) for decal in former.decals]
    lows: dict[tuple[int, float], float] = {}
    bottoms = []
    for copy in former.frames[index].placements:
        key = copy.decal - 1, copy.angle_deg
        if key not in lows:
            lows[key] = float(turn(points[key[0]], key[1])[:, 1].min())
        bottoms.append(copy.y_mm + lows[key])
    return min(bottoms, default=former.frames[index].y0_mm)


def _allowed_deg(task: Task, shape: int, angle_deg: float) -> float:
    """The angle as the task has it, where it has it."""
    for allowed in task.shapes[shape].angles_deg:
        if abs((angle_deg - allowed + 180.0) % 360.0 - 180.0) <= SAME_DEG:
            return allowed
    return angle_deg


def _legal(task: Task, frame: _Frame, length_most_mm: float) -> _Frame:
    """The frame with those copies that may lie where they lie."""
    laid, kept = legal_rows(task, frame.placements, length_most_mm=length_most_mm)
    return replace(frame, placements=laid).rows(kept)


def _within_quantities(task: Task, frames: list[_Frame]) -> list[_Frame]:
    """No more copies than ordered, the last of each decal left out; empty frames go."""
    left = [shape.copies for shape in task.shapes]
    within = []
    for frame in frames:
        laid = frame.placements
        tops = boxes_mm(task, laid)[:, 3]
        kept = np.zeros(len(laid), dtype=np.bool_)
        for row in np.lexsort((laid.centre_mm[:, 0], tops)).tolist():
            shape = int(laid.shape[row])
            kept[row] = left[shape] > 0
            left[shape] -= 1
        within.append(frame.rows(kept))
    return [frame for frame in within if len(frame.placements)]


def _counts(task: Task, frames: Sequence[_Frame]) -> NDArray[np.intp]:
    shapes = np.concatenate([frame.placements.shape for frame in frames])
    return np.bincount(shapes, minlength=len(task.shapes))


def _filled(
    task: Task,
    frame: _Frame,
    missing: NDArray[np.intp],
    room_mm: float,
    budget: Budget,
    watch: Watch,
    engines: list[str],
) -> _Frame:
    """The frame with what is missing beside its copies, as far as it ends before room_mm."""
    more = vacant_places(replace(task, obstacles=frame.marks), frame.placements, missing, room_mm)
    patterned = frame.with_more(more)
    laid, legal = legal_rows(task, patterned.placements, length_most_mm=room_mm)
    if len(more) and legal.all():
        frame = replace(patterned, placements=laid)
        engines.append(PATTERN)
        missing = missing - np.bincount(more.shape, minlength=len(missing))
    if not missing.any():
        return frame
    wanted: Counts = tuple(missing.tolist())
    kept = [index for index, count in enumerate(wanted) if count]
    fixed = tuple(
        Obstacle(outline=outline, apart_mm=max(task.apart_mm[shape][index] for index in kept))
        for shape, outline in zip(
            frame.placements.shape.tolist(), lying(task, frame.placements), strict=True
        )
    )
    asked = replace(part_of(task, wanted, None), obstacles=(*fixed, *frame.marks))
    few = STEPS_OF_ONE * int(missing.sum()) ** 2  # a handful is soon laid as well as it can be
    best = race(asked, replace(budget, steps=min(budget.steps, few)), watch).best
    fits = boxes_mm(asked, best.placements)[:, 3] <= room_mm + SAME_MM
    if not fits.any():
        return frame
    engines.append(best.engine)
    return frame.with_more(in_whole(wanted, best.placements).some(fits))


def _further(
    task: Task,
    missing: NDArray[np.intp],
    length_most_mm: float,
    budget: Budget,
    watch: Watch,
    engines: list[str],
) -> list[_Frame]:
    """Frames of their own for what found no room."""
    wanted: Counts = tuple(missing.tolist())
    divided = nest_in_frames(
        part_of(task, wanted, None), length_most_mm=length_most_mm, budget=budget, watch=watch
    )
    engines.append(divided.engine)
    return [
        _Frame(
            placements=in_whole(wanted, strip.placements),
            number=np.zeros(len(strip.placements), dtype=np.intp),
            stayed=np.zeros(len(strip.placements), dtype=np.bool_),
        )
        for strip in divided.strips
    ]


def _strips(task: Task, frames: Sequence[_Frame]) -> tuple[Strip, ...]:
    """Each frame from its first contour on, by y then x, copies numbered as they were."""
    taken: list[set[int]] = [set() for _ in task.shapes]
    ordered = []
    for frame in frames:
        _, bottom_mm, _, top_mm = extent_mm(task, frame.placements)
        centre = frame.placements.centre_mm
        order = np.lexsort((centre[:, 0], centre[:, 1]))
        laid = frame.placements.some(order).moved(0.0, -bottom_mm)
        shapes, numbers = laid.shape.tolist(), frame.number[order].tolist()
        for row, (shape, number) in enumerate(zip(shapes, numbers, strict=True)):
            if not 0 < number <= task.shapes[shape].copies or number in taken[shape]:
                numbers[row] = 0
            taken[shape].add(numbers[row])
        anew = frozenset(np.flatnonzero(~frame.stayed[order]).tolist())
        ordered.append((laid, numbers, anew, top_mm - bottom_mm))
    free = [
        iter(sorted(set(range(1, shape.copies + 1)) - used))
        for shape, used in zip(task.shapes, taken, strict=True)
    ]
    return tuple(
        Strip(
            placements=laid,
            copy=tuple(
                number or next(free[shape])
                for shape, number in zip(laid.shape.tolist(), numbers, strict=True)
            ),
            length_mm=length_mm,
            anew=anew,
        )
        for laid, numbers, anew, length_mm in ordered
    )


def _carried(task: Task, former: Former, stayed: int) -> Carried:
    before = Counter(
        former.decals[copy.decal - 1].name for frame in former.frames for copy in frame.placements
    )
    now = {shape.name: shape.copies for shape in task.shapes}
    both = sum(min(before[name], copies) for name, copies in now.items())
    return Carried(
        before=before.total(),
        stayed=stayed,
        moved=both - stayed,
        came=task.copies - both,
        went=before.total() - both,
    )
