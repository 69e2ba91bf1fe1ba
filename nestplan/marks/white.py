"""White fields below marks, words and bars, on film on which black alone cannot be seen.

A field reaches as far as the clear zone of its mark and not a hair less: the polygon lies round
the circle. On the four sides it touches it, so that a mark at its outermost place still has its
field inside the printable width.
"""

from math import cos, pi

import numpy as np
import shapely

from nestplan.faults import Note
from nestplan.geometry.outline import Outline
from nestplan.job import Job, Roll
from nestplan.marks.mark_plan import SCALE_BAR_MM, Frame, MarkPlan
from nestplan.marks.words import AROUND_MM, BAR_MM, code_room

SIDES = 96  # a multiple of four
BESIDE_MM = 0.5  # of a bar's room lies beyond its line


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


def white_fields(marks: MarkPlan, frame: Frame) -> tuple[shapely.Polygon, ...]:
    """The fields of a frame in run coordinates: one a mark, then words and both bars."""
    radius = clear_radius_mm(marks.outline, marks.clear_mm)
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


def white_notes(job: Job) -> list[Note]:
    """What a person should know of a run that needs white."""
    if not needs_white(job.roll):
        return []
    text = (
        f"black alone is not seen on {job.roll.base} film: white is printed below every mark with "
        "its clear zone, words and bars, first, and black over it; the decals' own white is not "
        "made here, and the print time counts no passes of white"
    )
    return [Note(level="know", where=f'roll "{job.roll.name}", base', text=text)]
