"""Frames and their marks, in run coordinates."""

from dataclasses import dataclass

from shapely.geometry.base import BaseGeometry

from nestplan.faults import Note
from nestplan.geometry.outline import Outline


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One printed registration mark; `number` counts from 1 within its frame."""

    number: int
    x_mm: float
    y_mm: float


SCALE_BAR_MM = 100.0  # long enough for a tape measure, short enough for the smallest frame


@dataclass(frozen=True, slots=True, kw_only=True)
class Slug:
    """Where the printed words and scale bars of a frame go, in run coordinates.

    across_mm: start (x, y) of the bar that runs 100 mm in +x; blank room of 5 mm above
               its line (y to y + 5) and 2 mm beyond its ends is kept for ticks and label.
    along_mm:  start (x, y) of the bar that runs 100 mm in +y; room x to x + 5.
    text_mm:   box (left, bottom, right, top) for one line of text, upright; the line is
               set as small as needed to stay inside.
    """

    across_mm: tuple[float, float]
    along_mm: tuple[float, float]
    text_mm: tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frame:
    """A length of the run with its own marks, cut in one go.

    y0_mm:    leading end of the frame in run coordinates.
    strip_y0_mm: where the nest strip's y = 0 lies in run coordinates.
    safe:     where the centre of a mark could stand (run coordinates), shown on the proof.
    """

    index: int  # from 1
    y0_mm: float
    length_mm: float
    strip_y0_mm: float
    marks: tuple[Mark, ...]
    slug: Slug
    safe: BaseGeometry


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MarkPlan:
    """All frames of a run.

    outline: one mark about its own centre, as printed (plain geometry from the shop file).
    """

    frames: tuple[Frame, ...]
    shape: str
    size_mm: float
    clear_mm: float
    spacing_mm: float
    outline: Outline
    length_used_mm: float  # film from the leading edge to the end of the tail
    notes: tuple[Note, ...]
