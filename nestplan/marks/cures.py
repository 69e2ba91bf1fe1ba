"""What would bring a chance of a white edge down, each worked out anew, and what it costs."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely

from nestplan.artwork import Decal
from nestplan.faults import Note
from nestplan.figures import chance, count, duration, fixed, length
from nestplan.job import Job
from nestplan.marks.corrects import edge_marks
from nestplan.marks.error_notes import WHERE
from nestplan.marks.mark_plan import Frame, Mark
from nestplan.marks.predict import RunErrors, predict
from nestplan.marks.shapes import blank_round_mm
from nestplan.marks.words import slug_rooms
from nestplan.nest import Nest, Strip

BESIDE_MM = 60.0  # a mark may stand so far from the straight line between its neighbours


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cure:
    """A change, the chance of a white edge with it, and its price in words."""

    change: str
    chance: float
    costs: str


def cure_notes(
    job: Job, decals: tuple[Decal, ...], nest: Nest, frames: Sequence[Frame], errors: RunErrors
) -> list[Note]:
    """A note for every cure, the most effective first; none where the chance is small enough."""
    if errors.chance is None or errors.chance <= errors.limit:
        return []

    def with_frames(strips: Sequence[Strip], changed: Sequence[Frame]) -> float:
        other = replace(nest, strips=tuple(strips))
        found = predict(errors.model, decals, other, changed, errors.limit).chance
        assert found is not None, "the same decals have a bleed"
        return found

    cures = [
        _fresh_calibration(decals, nest, frames, errors),
        _offset_set(decals, nest, frames, errors),
        _more_bleed(job, decals, nest, errors),
    ]
    more = _one_pair_more(job, frames)
    if more is not None:
        sensor = job.cutter.sensor
        assert sensor is not None
        marks = sum(len(b.marks) - len(a.marks) for a, b in zip(frames, more, strict=True))
        cures.append(
            _Cure(
                change=f"one more pair of marks in every frame, {count(marks, 'mark')} in all,",
                chance=with_frames(nest.strips, more),
                costs=f"no film, {duration(marks * sensor.read_s)} of reading",
            )
        )
    halves = _halves(job, nest, frames)
    if halves is not None:
        strips, shorter, film_mm = halves
        cures.append(
            _Cure(
                change=f"frames half as long, {len(shorter)} instead of {len(frames)},",
                chance=with_frames(strips, shorter),
                costs=f"about {length(film_mm, 0)} of film for their ends and marks",
            )
        )
    found = [cure for cure in cures if cure is not None]
    found.sort(key=lambda cure: cure.chance)
    return [
        Note(
            level="know",
            where=WHERE,
            text=f"{cure.change} would {_brings(cure.chance, errors)}; it costs {cure.costs}",
        )
        for cure in found
    ]


def _brings(found: float, errors: RunErrors) -> str:
    assert errors.chance is not None
    if found >= 0.9 * errors.chance:
        return f"hardly help: the chance would be {chance(found)}"
    return f"bring the chance to {chance(found)}"


def _fresh_calibration(
    decals: tuple[Decal, ...], nest: Nest, frames: Sequence[Frame], errors: RunErrors
) -> _Cure | None:
    model = errors.model
    if model.offset_sd_mm <= model.calibration_sd_mm:
        return None
    fresh = replace(model, offset_sd_mm=model.calibration_sd_mm, calibration_age_days=0.0)
    found = predict(fresh, decals, nest, frames, errors.limit).chance
    assert found is not None
    days = count(round(model.calibration_age_days), "day")
    return _Cure(
        change=f"a calibration made today, not {days} ago,",
        chance=found,
        costs="a target print and its readings",
    )


def _offset_set(
    decals: tuple[Decal, ...], nest: Nest, frames: Sequence[Frame], errors: RunErrors
) -> _Cure | None:
    model = errors.model
    if not model.offset_mm.any():
        return None
    fresh = replace(model, offset_x_mm=0.0, offset_y_mm=0.0)
    found = predict(fresh, decals, nest, frames, errors.limit).chance
    assert found is not None
    x, y = fixed(model.offset_x_mm, 2), fixed(model.offset_y_mm, 2)
    return _Cure(
        change=f"the measured offset of {x} across and {y} mm along, set on the cutter,",
        chance=found,
        costs="a few minutes",
    )


def _more_bleed(job: Job, decals: tuple[Decal, ...], nest: Nest, errors: RunErrors) -> _Cure | None:
    """The least bleed everywhere; contours that are too near for it must move apart."""
    bleed = errors.bleed_least_mm
    perimeter, short_of = 0.0, 0.0
    for strip in nest.strips:
        for shape in strip.placements.shape.tolist():
            decal = decals[shape]
            apart = max(job.order.gutter_mm, 2 * decal.bleed_mm)
            perimeter += decal.contour.length_mm * max(0.0, 2 * bleed - apart) / 2
            short_of = max(short_of, 2 * bleed - apart)
    film_mm = perimeter / nest.task.width_mm
    costs = f"about {length(film_mm, 0)} of film" if short_of > 0 else "no film but at the edges"
    return _Cure(
        change=f"a bleed of {fixed(bleed, 2)} mm on every decal", chance=errors.limit, costs=costs
    )


def _one_pair_more(job: Job, frames: Sequence[Frame]) -> list[Frame] | None:
    """Every frame with a mark more in the widest gap of either edge, off marks, words and bars as
    they stand; None where none may.
    """
    sensor = job.cutter.sensor
    assert sensor is not None
    blank = blank_round_mm(sensor)
    apart = blank + sensor.size_mm / 2
    changed = []
    for frame in frames:
        taken = shapely.union_all(
            [
                *(shapely.Point(mark.x_mm, mark.y_mm).buffer(apart) for mark in frame.marks),
                *(room.buffer(blank) for room in slug_rooms(frame.slug)),
            ]
        )
        free = shapely.difference(frame.safe, taken)
        marks = np.array([(mark.x_mm, mark.y_mm) for mark in frame.marks])
        added = [_in_widest_gap(marks[rows], free) for rows in edge_marks(marks)]
        if None in added:
            return None
        number = max(mark.number for mark in frame.marks)
        new = tuple(
            Mark(number=number + k, x_mm=place[0], y_mm=place[1])
            for k, place in enumerate(added, start=1)
            if place is not None
        )
        changed.append(replace(frame, marks=(*frame.marks, *new)))
    return changed


def _in_widest_gap(edge_mm: np.ndarray, free: shapely.Geometry) -> tuple[float, float] | None:
    """The free place nearest the middle of the widest gap along an edge."""
    along = edge_mm[np.argsort(edge_mm[:, 1])]
    below, above = max(pairwise(along.tolist()), key=lambda pair: pair[1][1] - pair[0][1])
    x, y = (below[0] + above[0]) / 2, (below[1] + above[1]) / 2
    third = (above[1] - below[1]) / 3
    near = shapely.intersection(
        free, shapely.box(x - BESIDE_MM, y - third / 2, x + BESIDE_MM, y + third / 2)
    )
    if near.is_empty:
        return None
    line = shapely.shortest_line(near, shapely.Point(x, y))
    place = shapely.get_coordinates(line)[0]
    return float(place[0]), float(place[1])


def _halves(
    job: Job, nest: Nest, frames: Sequence[Frame]
) -> tuple[list[Strip], list[Frame], float] | None:
    """Every frame parted in the middle, copies by their centres, corner marks at the parting.

    The nest is not made again: an estimate. None where the cutter takes no frames so short.
    """
    sensor = job.cutter.sensor
    assert sensor is not None
    blank = blank_round_mm(sensor)
    strips: list[Strip] = []
    halves: list[Frame] = []
    for frame in frames:
        strip = nest.strips[frame.index - 1]
        if frame.length_mm / 2 < job.cutter.frame_least_mm:
            return None
        middle = frame.y0_mm + frame.length_mm / 2
        y = strip.placements.centre_mm[:, 1] + frame.strip_y0_mm
        marks = np.array([(mark.x_mm, mark.y_mm) for mark in frame.marks])
        left, right = (marks[rows, 0].mean() for rows in edge_marks(marks))
        for side in (-1, 1):
            here = (y - middle) * side > 0 if side > 0 else y <= middle
            if not here.any():
                continue
            kept = [tuple(mark) for mark in marks.tolist() if (mark[1] - middle) * side > blank]
            kept += [(float(x), middle + side * blank / 2) for x in (left, right)]
            halves.append(
                replace(
                    frame,
                    index=len(halves) + 1,
                    marks=tuple(
                        Mark(number=k, x_mm=x, y_mm=at) for k, (x, at) in enumerate(kept, start=1)
                    ),
                )
            )
            strips.append(_only(strip, here))
    film_mm = (len(halves) - len(frames)) * (job.cutter.frame_gap_mm + 4 * blank)
    return strips, halves, film_mm


def _only(strip: Strip, here: np.ndarray) -> Strip:
    return Strip(
        placements=strip.placements.some(here),
        copy=tuple(copy for copy, kept in zip(strip.copy, here.tolist(), strict=True) if kept),
        length_mm=strip.length_mm,
    )
