"""White fields below marks, words and bars, on film on which black alone cannot be seen.

A field reaches as far as the clear zone of its mark and not a hair less: the polygon lies round
the circle. On the four sides it touches it, so that a mark at its outermost place still has its
field inside the printable width.

Where white is printed after the other inks it would hide black: then it lies round the marks
only, and keeps off them, so that an edge stays that of the black.
"""

from math import cos, pi

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.faults import Note
from nestplan.geometry.offset import grown
from nestplan.geometry.outline import Outline, polygons_of
from nestplan.job import Job, Roll, White, white_of, white_order
from nestplan.marks.mark_plan import SCALE_BAR_MM, Frame, MarkPlan
from nestplan.marks.words import AROUND_MM, BAR_MM, code_room

SIDES = 96  # a multiple of four
BESIDE_MM = 0.5  # of a bar's room lies beyond its line
AROUND_BLACK_MM = 0.2  # white that is printed last keeps so far off a mark, whatever its register


def needs_white(roll: Roll) -> bool:
    """Whether black shows on this film only where white lies below it."""
    return roll.base != "white"


def white_disc(x_mm: float, y_mm: float, radius_mm: float) -> shapely.Polygon:
    """The polygon round a circle: never inside it, and as wide and tall as it."""
    angles = (np.arange(SIDES) + 0.5) * (2 * pi / SIDES)
    corners = np.column_stack([np.cos(angles), np.sin(angles)]) * radius_mm / cos(pi / SIDES)
    return shapely.Polygon(corners + (x_mm, y_mm))


def clear_radius_mm(outline: Outline, clear_mm: float) -> float:
    """How far round a mark's centre the film stays blank. outline: the mark's own."""
    points = np.concatenate(outline.rings)
    return float(np.hypot(points[:, 0], points[:, 1]).max()) + clear_mm


def white_fields(
    marks: MarkPlan, frame: Frame, order: White = "none"
) -> tuple[shapely.Polygon, ...]:
    """The fields of a frame in run coordinates: one a mark, then words, both bars and the code.

    order: of the run's white among its inks. White that comes last lies round marks alone.
    """
    radius = clear_radius_mm(marks.outline, marks.clear_mm)
    if order == "over":
        kept = grown(marks.outline.region, AROUND_BLACK_MM)
        ring = shapely.difference(white_disc(0.0, 0.0, radius), kept)
        middles = [np.array([mark.x_mm, mark.y_mm]) for mark in frame.marks]
        return tuple(part for middle in middles for part in polygons_of(_moved(ring, middle)))
    slug, far = frame.slug, SCALE_BAR_MM + AROUND_MM
    (x, y), (along_x, along_y) = slug.across_mm, slug.along_mm
    rooms = (
        slug.text_mm,
        (x - AROUND_MM, y - BESIDE_MM, x + far, y + BAR_MM + BESIDE_MM),
        (along_x - BESIDE_MM, along_y - AROUND_MM, along_x + BAR_MM + BESIDE_MM, along_y + far),
    )
    codes = () if slug.code_mm is None else (code_room(slug.code_mm),)
    return (
        *(white_disc(mark.x_mm, mark.y_mm, radius) for mark in frame.marks),
        *(shapely.box(*room) for room in rooms),
        *codes,
    )


def _moved(shape: shapely.Geometry, by_mm: NDArray[np.float64]) -> shapely.Geometry:
    return shapely.transform(shape, lambda points: points + by_mm)


def white_notes(job: Job) -> list[Note]:
    """What a person should know of a run that has white."""
    order, roll = white_order(job.order), job.roll
    bare = job.mode.white_passes == 0
    untimed = "; the print time counts no passes of white: the mode has no white_passes"
    notes = []
    if needs_white(roll):
        how = "white is printed below every mark with its clear zone, words and bars, black over it"
        if order == "over":
            how = (
                "white is printed round every mark, in its clear zone, and keeps "
                f"{AROUND_BLACK_MM:g} mm off the black, for it is printed last; words, bars and "
                "code have none"
            )
        text = f"black alone is not seen on {roll.base} film: {how}{untimed if bare else ''}"
        notes.append(Note(level="know", where=f'roll "{roll.name}", base', text=text))
    if order != "none":
        notes.append(
            Note(level="know", where="white", text=TOLD[order] + (untimed if bare else ""))
        )
        notes += _odd_sides(job, order)
    return notes


TOLD: dict[White, str] = {
    "under": "order of inks: white first, then the art. Separation White is the white ink; set the "
    "printer so",
    "over": "order of inks: the art first, then white. Separation White is the white ink; set the "
    "printer so",
    "between": "order of inks: the art, white, the art again; every decal of the run is printed "
    "so. Separation White is the white ink; set the printer so. From the other side the art is "
    "seen as in a mirror: words read right from one side only",
}


def _odd_sides(job: Job, order: White) -> list[Note]:
    """White on the side from which the art is seen."""
    notes = []
    if order == "under" and not needs_white(job.roll):
        text = f"{job.roll.name} is white film: white under the art changes little on it"
        notes.append(Note(level="look", where="white", text=text))
    for row in job.order.decal:
        mirrored = job.order.mirrored if row.mirrored is None else row.mirrored
        has = white_of(job.order, row)[0] != "none"
        if has and order == "over" and not mirrored:
            text = (
                "white over the art: it is seen through the film, and reads wrong unless mirrored"
            )
            notes.append(Note(level="look", where=f'[[decal]] "{row.name}", white', text=text))
        if has and order == "under" and mirrored:
            text = "white under mirrored art hides it from the other side of the film"
            notes.append(Note(level="look", where=f'[[decal]] "{row.name}", white', text=text))
    return notes
