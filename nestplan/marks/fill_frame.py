"""Extra copies in the last frame, beside its marks, words and bars as they stand."""

from dataclasses import replace

import numpy as np
import shapely

from nestplan.artwork import Decal
from nestplan.faults import Note
from nestplan.figures import count
from nestplan.geometry.offset import SAGITTA_MM, grown
from nestplan.geometry.outline import Outline, outline_of
from nestplan.job import Job, Sensor
from nestplan.marks.mark_plan import Frame, MarkPlan
from nestplan.marks.shapes import blank_round_mm
from nestplan.marks.words import slug_rooms
from nestplan.nest import Budget, Nest, Obstacle, Strip, placed
from nestplan.nest.fill import filled


def fill_last_frame(
    job: Job,
    decals: tuple[Decal, ...],
    nest: Nest,
    marks: MarkPlan,
    gone: tuple[Obstacle, ...],
    budget: Budget,
) -> tuple[Nest, MarkPlan, list[Note]]:
    """The nest with as many more copies of `fill_with` as the last frame was found to hold.

    Nothing else is moved, no frame becomes longer, and every mark stays clear. A decal that is
    kept together is added to its own band only, and never to another's.
    gone: film that the last frame lacks, in strip coordinates.
    """
    names = [decal.name for decal in decals]
    if job.order.fill_with not in names:
        return nest, marks, []
    index = names.index(job.order.fill_with)
    frame, strip = marks.frames[-1], nest.strips[-1]
    spans = _bands_mm(nest, strip, decals)
    within = spans.get(index) if decals[index].keep_together else (0.0, strip.length_mm)
    fuller = strip
    if within is not None:
        others = {k: span for k, span in spans.items() if k != index}
        obstacles = (
            *gone,
            *_kept_clear(job, nest, frame, decals[index].beyond_mm),
            *(_across(nest, span, nest.task.apart_mm[k][index]) for k, span in others.items()),
        )
        task = replace(nest.task, obstacles=obstacles)
        fuller = filled(task, strip, index, within_mm=within, budget=budget)
    extra = len(fuller.copy) - len(strip.copy)
    return (
        _with_extra(nest, fuller, extra) if extra else nest,
        _with_ink(job, decals[index], nest, marks, fuller, extra),
        [_note(names[index], extra)],
    )


def _with_extra(nest: Nest, strip: Strip, extra: int) -> Nest:
    """The nest with its last strip filled; of a former plan's nest the extra copies came anew."""
    if nest.carried is not None:
        rows = range(len(strip.copy) - extra, len(strip.copy))
        strip = replace(strip, anew=strip.anew | set(rows))
        nest = replace(nest, carried=replace(nest.carried, came=nest.carried.came + extra))
    return replace(nest, strips=(*nest.strips[:-1], strip))


def _note(name: str, extra: int) -> Note:
    text = f"no further copy of {name} fits the last frame"
    if extra:
        text = (
            f"{count(extra, 'extra copy', 'extra copies')} of {name} in the last frame; the run "
            "is no longer for it"
        )
    return Note(level="know", where="fill_with", text=text)


def _bands_mm(
    nest: Nest, strip: Strip, decals: tuple[Decal, ...]
) -> dict[int, tuple[float, float]]:
    """From where to where along the strip the copies of each decal lie that is kept together."""
    laid, spans = strip.placements, {}
    for index in np.unique(laid.shape).tolist():
        if not decals[index].keep_together:
            continue
        rows = np.flatnonzero(laid.shape == index)
        outline = nest.task.shapes[index].outline
        boxes = [
            placed(outline, laid.centre_mm[row], float(laid.angle_deg[row])).bounds_mm
            for row in rows
        ]
        spans[index] = (min(box[1] for box in boxes), max(box[3] for box in boxes))
    return spans


def _across(nest: Nest, span_mm: tuple[float, float], apart_mm: float) -> Obstacle:
    low, high = span_mm
    box = shapely.box(0.0, low, nest.task.width_mm, high)
    return Obstacle(outline=outline_of(box), apart_mm=apart_mm)


def _kept_clear(job: Job, nest: Nest, frame: Frame, bleed_mm: float) -> list[Obstacle]:
    """Marks with their clear zones, words and bars, in strip coordinates; bleed stays off them."""
    sensor = job.cutter.sensor
    assert sensor is not None, "the job room refuses a cutter without a sensor"
    outlines = [_blank_round(sensor).moved(mark.x_mm, mark.y_mm) for mark in frame.marks]
    outlines += [outline_of(room) for room in slug_rooms(frame.slug)]
    shift = (-nest.x0_mm, -frame.strip_y0_mm)
    return [Obstacle(outline=each.moved(*shift), apart_mm=bleed_mm) for each in outlines]


def _blank_round(sensor: Sensor) -> Outline:
    """The blank disc of a mark, as much larger as its chords may be short."""
    radius_mm = blank_round_mm(sensor) + 2 * SAGITTA_MM
    return outline_of(grown(shapely.Point(0.0, 0.0), radius_mm))


def _with_ink(
    job: Job, decal: Decal, nest: Nest, marks: MarkPlan, strip: Strip, extra: int
) -> MarkPlan:
    """The same marks; less room for others in the last frame."""
    if not extra:
        return marks
    sensor, frame = job.cutter.sensor, marks.frames[-1]
    assert sensor is not None
    came = strip.placements.moved(nest.x0_mm, frame.strip_y0_mm)
    rows = range(len(came) - extra, len(came))
    off = grown(decal.taken, blank_round_mm(sensor) + 2 * SAGITTA_MM)
    taken = [
        placed(outline_of(off), came.centre_mm[row], float(came.angle_deg[row])).region
        for row in rows
    ]
    safe = shapely.difference(frame.safe, shapely.union_all(taken))
    return replace(marks, frames=(*marks.frames[:-1], replace(frame, safe=safe)))
