"""The marks of all frames of a run, settled: best placed, and no frame like another."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nestplan.artwork import Decal
from nestplan.job import Job
from nestplan.marks.apart import greatest_mistaken
from nestplan.marks.candidates import field_of
from nestplan.marks.choose import Frameful, chosen_marks, worth
from nestplan.marks.contour_points import copy_points
from nestplan.marks.error_model import ErrorModel, error_model
from nestplan.marks.field import INSIDE, Field
from nestplan.marks.mark_plan import Frame, Mark, Placement, Worth
from nestplan.marks.named import named
from nestplan.marks.safe_zone import Web
from nestplan.marks.tell_apart import Settled, told_apart
from nestplan.nest import Nest

Array = NDArray[np.float64]
Key = tuple[bytes, bytes]


def settled(
    job: Job,
    web: Web,
    decals: tuple[Decal, ...],
    nest: Nest,
    frames: Sequence[Frame],
    gone: Sequence[BaseGeometry],
) -> tuple[list[Frame], Placement]:
    """The frames with the marks they are to have. gone: film that each lacks, run
    coordinates."""
    model = error_model(job)
    made: list[Array] = []
    settled_frames: list[Frame] = []
    worths: list[Worth | None] = []
    alike: dict[bytes, tuple[Frameful, tuple[int, ...]]] = {}
    known: dict[Key, Settled] = {}
    used: dict[Key, set[tuple[int, ...]]] = {}
    priced: dict[tuple[Key, tuple[int, ...]], Worth] = {}
    for frame, lacking in zip(frames, gone, strict=True):
        if model.corrects == "none":
            made.append(_relative(frame))
            settled_frames.append(frame)
            worths.append(None)
            continue
        strip = nest.strips[frame.index - 1].placements.key if lacking.is_empty else b""
        if strip not in alike:
            alike[strip] = _frameful(job, web, decals, nest, frame, lacking, model)
        about, start = alike[strip]
        key = about.field.places_mm.round(6).tobytes(), about.points_mm.round(6).tobytes()
        if key not in known:
            best = chosen_marks(model.corrects, model, about, start)
            known[key] = Settled(about=about, start=start, best=best)
        one, taken = known[key], used.setdefault(key, set())
        rows = told_apart(model, one, taken, made, len(frames))
        taken.add(rows)
        if (key, rows) not in priced:
            priced[key, rows] = worth(model.corrects, model, one.about, rows, one.best, one.start)
        worths.append(priced[key, rows])
        made.append(one.about.field.places_mm[list(rows)])
        settled_frames.append(replace(frame, marks=_marks(job, one.about.field, rows, frame)))
    said = Placement(
        worth=tuple(worths),
        named=tuple(named(model.corrects, each) for each in made),
        mistaken=greatest_mistaken(model, made),
    )
    return settled_frames, said


def _frameful(
    job: Job,
    web: Web,
    decals: tuple[Decal, ...],
    nest: Nest,
    frame: Frame,
    gone: BaseGeometry,
    model: ErrorModel,
) -> tuple[Frameful, tuple[int, ...]]:
    """Candidates and contour points seen from the frame's own begin; rows of its marks as yet."""
    field = field_of(job, web, frame, gone)
    shift = (0.0, frame.y0_mm)
    points = np.concatenate(copy_points(decals, nest, frame, model.distortion_length_mm)) - shift
    field = replace(field, places_mm=field.places_mm - shift)
    rows = tuple(int(np.hypot(*(field.places_mm - place).T).argmin()) for place in _relative(frame))
    return Frameful(field=field, points_mm=points), rows


def _relative(frame: Frame) -> Array:
    return np.array([(mark.x_mm, mark.y_mm - frame.y0_mm) for mark in frame.marks])


def _marks(job: Job, field: Field, rows: Sequence[int], frame: Frame) -> tuple[Mark, ...]:
    """Numbered marks in run coordinates."""
    return numbered(
        job,
        [(*field.places_mm[row].tolist(), bool(field.edge[row] == INSIDE)) for row in rows],
        frame.y0_mm,
    )


def numbered(
    job: Job, places: Sequence[tuple[float, float, bool]], y0_mm: float = 0.0
) -> tuple[Mark, ...]:
    """Numbers in reading order: from the edge that enters the cutter first, row by row.

    Entering with its trailing edge the sheet lies turned round, so right comes before left.
    places: x, y from y0, and whether it stands inside.
    """
    way = -1 if job.setup.enters == "trailing" else 1
    order = sorted(places, key=lambda place: (way * place[1], way * place[0]))
    return tuple(
        Mark(number=k, x_mm=x, y_mm=y + y0_mm, inside=inside)
        for k, (x, y, inside) in enumerate(order, start=1)
    )
