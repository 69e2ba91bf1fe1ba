"""A run of many copies on a grid, from the decals of the small hand-made run.

Its places follow from row and column, so that a test can still say them without asking:
copy (row, column) stands at (80 + 120 column, y0 + 90 + 110 row), turned by 90 degrees
a row; plates in even columns, burgees in odd ones.
"""

from dataclasses import replace

import numpy as np

from nestplan.cut import CutPlan, CutStroke, FrameCut
from nestplan.files.run import Run
from nestplan.marks import Frame, Mark, Slug
from nestplan.nest import Placements, Strip, placed
from tests.files.handmade import CONTOURS, PAGE_X0_MM, a_run, predicted

PITCH_MM = (120.0, 110.0)
FIRST_MM = (80.0, 90.0)


def grid_run(columns: int, rows: int, frames: int = 1) -> Run:
    """A run of columns x rows copies a frame."""
    run = a_run()
    width = FIRST_MM[0] + PITCH_MM[0] * columns + 30.0
    length = FIRST_MM[1] + PITCH_MM[1] * rows + 20.0
    layouts = [_places(columns, rows, 50.0 + (length + 30.0) * k) for k in range(frames)]
    counts = [0, 0]
    strips, cuts, bounds = [], [], []
    for k, (places, y0) in enumerate(zip(layouts, _starts(length, frames), strict=True)):
        strip, cut, span = _frame(places, counts, y0)
        strips.append(strip)
        cuts.append(replace(cut, index=k + 1))
        bounds.append(span)
    marks = tuple(
        _marked(k + 1, y0, length, width, low)
        for k, (y0, (low, _)) in enumerate(zip(_starts(length, frames), bounds, strict=True))
    )
    roll = run.job.roll.model_copy(update={"width_mm": width + 22.0})
    order = run.job.order.model_copy(
        update={
            "decal": [
                decal.model_copy(update={"quantity": n})
                for decal, n in zip(run.job.order.decal, counts, strict=True)
            ]
        }
    )
    decals = tuple(
        replace(decal, quantity=n) for decal, n in zip(run.artwork.decals, counts, strict=True)
    )
    per_decal = round(run.estimate.total / sum(counts), 4)
    by_name = tuple((decal.name, per_decal) for decal in decals)
    return predicted(
        replace(
            run,
            job=replace(run.job, roll=roll, order=order),
            artwork=replace(run.artwork, decals=decals),
            nest=replace(
                run.nest, strips=tuple(strips), task=replace(run.nest.task, width_mm=width)
            ),
            marks=replace(
                run.marks,
                frames=marks,
                spacing_mm=length,
                length_used_mm=marks[-1].y0_mm + length + 100.0,
            ),
            cut=CutPlan(
                frames=tuple(cuts),
                contours=sum(counts),
                length_mm=sum(CONTOURS[d].length_mm * n for d, n in enumerate(counts)),
                travel_mm=1.0,
            ),
            estimate=replace(run.estimate, per_decal=per_decal, per_decal_by_name=by_name),
            page_width_mm=width,
        )
    )


def _starts(length: float, frames: int) -> list[float]:
    return [50.0 + (length + 30.0) * k for k in range(frames)]


def _places(columns: int, rows: int, y0: float) -> list[tuple[int, tuple[float, float], float]]:
    return [
        (
            column % 2,
            (FIRST_MM[0] + PITCH_MM[0] * column, y0 + FIRST_MM[1] + PITCH_MM[1] * row),
            90.0 * (row % 4),
        )
        for row in range(rows)
        for column in range(columns)
    ]


def _frame(
    places: list[tuple[int, tuple[float, float], float]], counts: list[int], y0: float
) -> tuple[Strip, FrameCut, tuple[float, float]]:
    outlines = [placed(CONTOURS[d], np.array(centre), angle) for d, centre, angle in places]
    low = min(outline.bounds_mm[1] for outline in outlines)
    high = max(outline.bounds_mm[3] for outline in outlines)
    copies = []
    rings = []
    for (decal, _, _), outline in zip(places, outlines, strict=True):
        counts[decal] += 1
        copies.append(counts[decal])
        rings += [
            CutStroke(
                kind="kiss" if decal == 0 else "through",
                decal=decal,
                copy=counts[decal],
                ring=ring,
                points_mm=outline.rings[ring],
            )
            for ring in reversed(range(len(outline.rings)))
        ]
    strip = Strip(
        placements=Placements(
            shape=np.array([d for d, _, _ in places], dtype=np.intp),
            centre_mm=np.array([centre for _, centre, _ in places]) - (PAGE_X0_MM, low),
            angle_deg=np.array([angle for _, _, angle in places]),
        ),
        copy=tuple(copies),
        length_mm=high - low,
    )
    ordered = tuple(sorted(rings, key=lambda ring: ring.kind))
    return strip, FrameCut(index=1, strokes=ordered), (low, high)


def _marked(index: int, y0: float, length: float, width: float, low: float) -> Frame:
    left, right = PAGE_X0_MM + 12.0, PAGE_X0_MM + width - 12.0
    corners = [
        (left, y0 + 12),
        (right, y0 + 12),
        (left, y0 + length - 12),
        (right, y0 + length - 12),
    ]
    frame = a_run().marks.frames[0]
    return replace(
        frame,
        index=index,
        y0_mm=y0,
        length_mm=length,
        strip_y0_mm=low,
        marks=tuple(Mark(number=k, x_mm=x, y_mm=y) for k, (x, y) in enumerate(corners, 1)),
        slug=Slug(
            across_mm=(170.0, y0 + 8.0),
            along_mm=(PAGE_X0_MM + 2.0, y0 + 60.0),
            text_mm=(40.0, y0 + 4.0, 160.0, y0 + 12.0),
        ),
    )
