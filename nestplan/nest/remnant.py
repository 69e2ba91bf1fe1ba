"""A run that starts on film which is not whole: what is missing is kept clear in the first frame.

The first frame is nested round the missing film and holds as much as the cutter takes; the
frames after it are like any others.
"""

from collections.abc import Sequence
from dataclasses import replace

import shapely

from nestplan.geometry.offset import grown
from nestplan.geometry.outline import outline_of, polygons_of
from nestplan.geometry.same import SAME_MM
from nestplan.nest.divide import TRIAL_MARGIN, TRIAL_SHARE, Divided, nest_in_frames
from nestplan.nest.engine import Budget, Watch, unwatched
from nestplan.nest.missing import Missing
from nestplan.nest.nested import Strip, Tried, numbered
from nestplan.nest.parts import Counts, in_whole, part_of
from nestplan.nest.placements import Layout, Placements, extent_mm
from nestplan.nest.race import Race, race
from nestplan.nest.task import Obstacle, Task

SMOOTHED_MM = 0.1  # torn film is kept clear by this much more, and its outline simplified so
PARTS = 16  # the first frame is filled to a whole number of so many parts of the run


def nest_on_remnant(
    task: Task,
    missing: Missing,
    *,
    x0_mm: float,
    length_most_mm: float,
    budget: Budget,
    watch: Watch = unwatched,
) -> Divided:
    """The frames; start_mm: where the first one's first contour lies in run coordinates.

    x0_mm: where the strip's x = 0 lies in run coordinates.
    """
    first = replace(task, obstacles=obstacles_of(missing, task.width_mm, x0_mm))
    if not first.obstacles:
        divided = nest_in_frames(task, length_most_mm=length_most_mm, budget=budget, watch=watch)
        return replace(divided, start_mm=missing.start_mm)
    filled = _filled(first, length_most_mm, budget, watch)
    if filled is None:
        divided = nest_in_frames(task, length_most_mm=length_most_mm, budget=budget, watch=watch)
        beyond_mm = float(shapely.bounds(missing.area)[3]) + missing.apart_mm
        return replace(divided, start_mm=max(missing.start_mm, beyond_mm))
    wanted, raced = filled
    laid = in_whole(wanted, raced.best.placements)
    _, bottom_mm, _, _ = extent_mm(task, laid)
    frames, names, refused = [laid], [raced.best.engine], list(raced.refused)
    rest = tuple(s.copies - n for s, n in zip(task.shapes, wanted, strict=True))
    if any(rest):
        left = replace(budget, steps=max(1, budget.steps * sum(rest) // task.copies))
        further = nest_in_frames(
            part_of(task, rest, None), length_most_mm=length_most_mm, budget=left, watch=watch
        )
        frames += [in_whole(rest, strip.placements) for strip in further.strips]
        names.append(further.engine)
        refused += further.refused
    strips = _numbered(task, frames)
    engine = " + ".join(dict.fromkeys(names))
    return Divided(
        strips=strips,
        engine=engine,
        tried=(Tried(engine=engine, length_mm=sum(strip.length_mm for strip in strips)),),
        refused=tuple(dict.fromkeys(refused)),
        start_mm=missing.start_mm + bottom_mm,
    )


def obstacles_of(missing: Missing, width_mm: float, x0_mm: float) -> tuple[Obstacle, ...]:
    """Missing film that the first strip comes near to, in strip coordinates."""
    reach_mm = missing.apart_mm + SMOOTHED_MM
    top_mm = float(shapely.bounds(missing.area)[3]) + reach_mm - missing.start_mm
    if shapely.is_empty(missing.area) or top_mm <= 0:
        return ()
    moved = shapely.transform(missing.area, lambda points: points - (x0_mm, missing.start_mm))
    near = shapely.box(-reach_mm, -reach_mm, width_mm + reach_mm, top_mm)
    # what a chord takes off a smoothed edge lies within the breadth it was grown by before
    smooth = shapely.simplify(grown(shapely.intersection(moved, near), SMOOTHED_MM), SMOOTHED_MM)
    strip = shapely.box(-missing.apart_mm, -missing.apart_mm, width_mm + missing.apart_mm, top_mm)
    return tuple(
        Obstacle(outline=outline_of(part), apart_mm=missing.apart_mm)
        for part in polygons_of(smooth)
        if shapely.area(shapely.intersection(part, strip)) > SAME_MM
    )


def _filled(
    first: Task, length_most_mm: float, budget: Budget, watch: Watch
) -> tuple[Counts, Race] | None:
    """All copies where they fit a frame, or as many parts of them as do; None: not even one."""
    quick = replace(budget, steps=max(1, budget.steps // TRIAL_SHARE))
    whole = _counts(first, PARTS)
    trial = race(part_of(first, whole, None), quick)
    if _length_mm(first, whole, trial.best) <= TRIAL_MARGIN * length_most_mm:
        raced = race(part_of(first, whole, None), budget, watch)
        if _length_mm(first, whole, raced.best) <= length_most_mm + SAME_MM:
            return whole, raced
    low, high = 0, PARTS  # parts that fit, parts that do not
    while high - low > 1:
        middle = (low + high) // 2
        wanted = _counts(first, middle)
        fits = not any(wanted)
        if not fits:
            trial = race(part_of(first, wanted, None), quick)
            fits = _length_mm(first, wanted, trial.best) <= length_most_mm + SAME_MM
        low, high = (middle, high) if fits else (low, middle)
    wanted = _counts(first, low)
    if not any(wanted):
        return None
    share = replace(budget, steps=max(1, budget.steps * sum(wanted) // first.copies))
    raced = race(part_of(first, wanted, None), share, watch)
    if _length_mm(first, wanted, raced.best) > length_most_mm + SAME_MM:
        raced = race(part_of(first, wanted, None), quick)  # it fitted
    return wanted, raced


def _counts(task: Task, parts: int) -> Counts:
    return tuple(shape.copies * parts // PARTS for shape in task.shapes)


def _length_mm(task: Task, wanted: Counts, layout: Layout) -> float:
    """From the first contour to the last: film before the first belongs to no frame."""
    _, bottom_mm, _, top_mm = extent_mm(task, in_whole(wanted, layout.placements))
    return top_mm - bottom_mm


def _numbered(task: Task, frames: Sequence[Placements]) -> tuple[Strip, ...]:
    """Each frame from its first contour on."""
    used = [0] * len(task.shapes)
    strips = []
    for laid in frames:
        _, bottom_mm, _, top_mm = extent_mm(task, laid)
        strips.append(numbered(laid.moved(0.0, -bottom_mm), top_mm - bottom_mm, used))
    return tuple(strips)
