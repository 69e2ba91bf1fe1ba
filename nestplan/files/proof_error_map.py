"""How far off a cut may be at every place of every frame: tints between lines of equal error."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, log10, sqrt

import numpy as np
from contourpy import FillType, contour_generator
from numpy.typing import NDArray

from nestplan import figures
from nestplan.files.proof_art import line_name
from nestplan.files.proof_key import Key, Sign
from nestplan.files.proof_scale import View
from nestplan.files.proof_sheet import Box, Sheet
from nestplan.files.proof_style import (
    ACCENT,
    CAP,
    FRAME,
    INK,
    PAPER,
    PT_PER_MM,
    SMALL_PT,
    Stroke,
)
from nestplan.files.proof_text import width_mm
from nestplan.files.run import Run
from nestplan.marks import Frame, error_field

Array = NDArray[np.float64]

TINTS = ("#FBF3EA", "#F6E2CC", "#EFCBA6", "#E5B07F", "#D8915B", "#C66F3D", "#A9502A", "#86391F")
STEPS_MOST = len(TINTS)
POINTS_MOST = 6_000  # of all frames together
MARK_MM = 0.55  # radius of a mark's dot on paper
OUTLINE = Stroke(colour=INK, width_pt=0.25)
LINE = Stroke(colour="#8A4A2A", width_pt=0.2)
WORST = Stroke(colour=ACCENT, width_pt=1.2)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ErrorMap:
    """Fields of all frames, and the errors at which the tint changes.

    fields: for each frame x (n,), y (m,) in run coordinates and the 95 % radius (m, n).
    """

    fields: tuple[tuple[Array, Array, Array], ...]
    levels_mm: tuple[float, ...]


def error_map(run: Run) -> ErrorMap:
    """Work the fields out, as fine as their number lets them be."""
    x0, width = run.page_x0_mm, run.page_width_mm
    area = sum(width * frame.length_mm for frame in run.marks.frames)
    pitch = max(sqrt(area / POINTS_MOST), 5.0)
    fields = []
    for frame in run.marks.frames:
        x = np.linspace(x0, x0 + width, max(4, ceil(width / pitch)))
        y = np.linspace(0.0, frame.length_mm, max(4, ceil(frame.length_mm / pitch))) + frame.y0_mm
        fields.append((x, y, error_field(run.errors.model, frame, x, y)))
    low = min(float(z.min()) for _, _, z in fields)
    high = max(float(z.max()) for _, _, z in fields)
    return ErrorMap(fields=tuple(fields), levels_mm=tuple(_levels(low, high)))


def _levels(low: float, high: float) -> list[float]:
    """Round errors from below the least to above the greatest, no more steps than tints."""
    span = max(high - low, 0.005)
    for power in range(floor(log10(span)) - 2, 4):
        for part in (1, 2, 5):
            step = part * 10.0**power
            first, last = floor(low / step + 1e-9), ceil(high / step - 1e-9)
            if max(last - first, 1) <= STEPS_MOST:
                return [step * k for k in range(first, max(last, first + 1) + 1)]
    raise AssertionError("an error of a kilometre was refused")


def map_key(levels_mm: Sequence[float]) -> Key:
    """Which tint means which error."""
    decimals = max(1, ceil(-log10(levels_mm[1] - levels_mm[0]) - 1e-9))
    signs: list[tuple[Sign, str]] = [
        (
            _tint(_tint_of(k, len(levels_mm) - 1)),
            f"{figures.fixed(a, decimals)} to {figures.fixed(b, decimals)} mm",
        )
        for k, (a, b) in enumerate(itertools.pairwise(levels_mm))
    ]
    signs += [(_dot, "mark"), (_worst, "worst decal")]
    return Key(each=tuple(signs))


def draw_error_map(sheet: Sheet, view: View, run: Run, frame: Frame, made: ErrorMap) -> None:
    """One frame: tints, contours, marks, and the worst decal if it lies here."""
    x, y, z = made.fields[frame.index - 1]
    page = run.page_x0_mm, run.page_x0_mm + run.page_width_mm
    box = view.box((page[0], frame.y0_mm, page[1], frame.y0_mm + frame.length_mm))
    drawn = contour_generator(x=x, y=y, z=z, fill_type=FillType.OuterOffset)
    steps = len(made.levels_mm) - 1
    for k in range(steps):
        tint = _tint_of(k, steps)
        for points, offsets in zip(*drawn.filled(*made.levels_mm[k : k + 2]), strict=True):
            rings = [view.ring(points[a : b - 1]) for a, b in itertools.pairwise(offsets)]
            sheet.area(rings, tint)
    for level in made.levels_mm[1:-1]:
        for line in drawn.lines(level):
            sheet.line(view.ring(np.asarray(line)), LINE)
    places = run.nest.strips[frame.index - 1].placements.moved(run.nest.x0_mm, frame.strip_y0_mm)
    rows = list(places.each())
    for decal, (across, along), angle in rows:
        sheet.form(line_name(decal), view.matrix(across, along, angle), OUTLINE)
    for mark in frame.marks:
        sheet.disc(*view.at(mark.x_mm, mark.y_mm), MARK_MM, INK, Stroke(colour=PAPER, width_pt=0.4))
    sheet.box(box, None, FRAME)
    worst_frame, row = run.errors.worst
    if worst_frame == frame.index - 1:
        decal, (across, along), angle = rows[row]
        sheet.form(line_name(decal), view.matrix(across, along, angle), WORST)
        _point_out(sheet, view, run, *run.errors.frames[worst_frame].worst_mm[row].tolist())


def _point_out(sheet: Sheet, view: View, run: Run, x_mm: float, y_mm: float) -> None:
    """The worst point of the worst decal, its error in figures beside it."""
    x, y = view.at(x_mm, y_mm)
    sheet.disc(x, y, 0.8, ACCENT, Stroke(colour=PAPER, width_pt=0.4))
    words = str(figures.length(run.errors.worst_mm, 2))
    half = width_mm(words, SMALL_PT, bold=True) / 2 + 0.8
    left, right = view.x(run.page_x0_mm), view.x(run.page_x0_mm + run.page_width_mm)
    inward = 1.0 if x < (left + right) / 2 else -1.0
    middle = x + inward * (half + 1.6)
    sheet.box((middle - half, y - 1.5, middle + half, y + 1.5), ACCENT)
    base = y - CAP * SMALL_PT / PT_PER_MM / 2
    sheet.text(middle, base, words, size_pt=SMALL_PT, bold=True, colour=PAPER, align="centre")


def _tint_of(step: int, steps: int) -> str:
    """Tints spread over the steps there are."""
    return TINTS[round(step * (len(TINTS) - 1) / max(steps - 1, 1))] if steps > 1 else TINTS[2]


def _tint(fill: str) -> Sign:
    def draw(sheet: Sheet, box: Box) -> None:
        sheet.box(box, fill, LINE)

    return draw


def _dot(sheet: Sheet, box: Box) -> None:
    sheet.disc((box[0] + box[2]) / 2, (box[1] + box[3]) / 2, MARK_MM, INK)


def _worst(sheet: Sheet, box: Box) -> None:
    sheet.box((box[0] + 0.6, box[1] + 0.2, box[2] - 0.6, box[3] - 0.2), None, WORST)
