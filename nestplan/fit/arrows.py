"""Pictures of a fit: a frame to scale, its marks, and magnified arrows that say how far off."""

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil, floor, hypot, log10

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan import figures
from nestplan.files.proof_block import HEAD_MM, heading
from nestplan.files.proof_scale import View, round_scale
from nestplan.files.proof_sheet import Box, Sheet
from nestplan.files.proof_style import (
    CAP,
    CUT,
    DIMENSION,
    FRAME,
    GREY,
    INK,
    PAPER,
    PT_PER_MM,
    RULE,
    SMALL_PT,
    Stroke,
)
from nestplan.files.proof_text import width_mm
from nestplan.fit.plan_folder import PlannedFrame

Array = NDArray[np.float64]

LONGEST_MM, USUAL_MOST_MM = 11.0, 6.5  # of an arrow, and of a disc's radius, on paper
AROUND_MM = 6.0  # blank paper round a frame, for what points outward
TIMES = tuple(step * 10**power for power in range(5) for step in (1, 2, 5))
MARK_MM = 0.6
HEAD_LEAST_MM = 0.6  # a shorter arrow is a line without a head
FINE_MM = 0.05
GRID = 5  # arrows of the field along the longer side
COPY = Stroke(colour=RULE, width_pt=0.3)
FIELD = Stroke(colour="#8FB3CC", width_pt=0.5)
ARROW = Stroke(colour=INK, width_pt=0.9)
WORST = Stroke(colour=CUT, width_pt=1.3)
WORST_COPY = Stroke(colour=CUT, width_pt=0.7)
USUAL = "#DCE7EF"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Arrows:
    """One picture. at_mm (n, 2), by_mm (n, 2): where marks are and how far each is off.

    names: (n,) numbers of the marks; absent_mm: (m, 2) marks that were not measured. usual_mm:
    (n,) within which a sound print leaves 95 % of them. worst: row told apart, None for none.
    field: shifts (k, 2) at any places (k, 2). copy: row of the copy told apart.
    """

    title: str
    at_mm: Array
    by_mm: Array
    names: tuple[str, ...]
    absent_mm: Array
    usual_mm: Array | None = None
    worst: int | None = None
    field: Callable[[Array], Array] | None = None
    copy: int | None = None

    @property
    def times(self) -> int:
        """How many times life size the arrows are drawn: round, and the longest fits."""
        longest = float(np.hypot(*self.by_mm.T).max(initial=0.0))
        usual = 0.0 if self.usual_mm is None else float(self.usual_mm.max(initial=0.0))
        fit = [n for n in TIMES if n * longest <= LONGEST_MM and n * usual <= USUAL_MOST_MM]
        return fit[-1] if fit else 1


def drawing_scale(frame: PlannedFrame, width_mm: float, wide_mm: float, tall_mm: float) -> float:
    """Denominator at which the frame's film fits a picture of this size; inf: it does not."""
    tall, wide = tall_mm - HEAD_MM - 2 * AROUND_MM, wide_mm - 2 * AROUND_MM
    if wide < 25 or tall < 15:
        return float("inf")
    return round_scale(max(width_mm / wide, frame.length_mm / tall))


def draw_arrows(
    sheet: Sheet, frame: PlannedFrame, film_mm: float, arrows: Arrows, box: Box, denominator: float
) -> None:
    """Draw one picture into a box of the page."""
    left, bottom, right, top = box
    _heading(sheet, arrows, box)
    wide, tall = film_mm / denominator, frame.length_mm / denominator
    middle = (bottom + top - HEAD_MM) / 2
    view = View(
        x0_mm=0.0,
        y0_mm=frame.y0_mm,
        page_x_mm=(left + right - wide) / 2,
        page_y_mm=middle - tall / 2,
        denominator=denominator,
    )
    film = view.box((0.0, frame.y0_mm, film_mm, frame.y0_mm + frame.length_mm))
    sheet.box(film, PAPER, FRAME)
    _copies(sheet, view, frame, arrows)
    if arrows.usual_mm is not None:
        for place, usual in zip(arrows.at_mm.tolist(), arrows.usual_mm.tolist(), strict=True):
            sheet.disc(*view.at(*place), usual * arrows.times, USUAL)
    if arrows.field is not None:
        _field(sheet, view, frame, arrows, film_mm)
    for x, y in arrows.absent_mm.tolist():
        sheet.disc(*view.at(x, y), MARK_MM, PAPER, Stroke(colour=GREY, width_pt=0.5))
    order = sorted(range(len(arrows.names)), key=lambda row: row == arrows.worst)
    for row in order:
        _arrow(sheet, view, arrows, row)
    for row in order[::-1]:
        _name(sheet, view, arrows, row, film)


def _heading(sheet: Sheet, arrows: Arrows, box: Box) -> None:
    """What is drawn, how many times magnified, and an arrow of round length to measure by."""
    left, _, right, top = box
    title = f"{arrows.title}, arrows {arrows.times} times life size"
    heading(sheet, title if len(arrows.at_mm) else arrows.title, left, top, right - left)
    if not len(arrows.at_mm):
        return
    length = _round_mm(LONGEST_MM / arrows.times)
    words = f"{figures.short(length, 3)} mm"
    end = right - width_mm(words, SMALL_PT) - 1.2
    y = top - 1.9
    sheet.arrow((end - length * arrows.times, y), (end, y), ARROW)
    sheet.line(
        [(end - length * arrows.times, y - 0.8), (end - length * arrows.times, y + 0.8)], DIMENSION
    )
    sheet.text(right, top - 2.7, words, size_pt=SMALL_PT, colour=GREY, align="right")


def _round_mm(most: float) -> float:
    """The greatest 1, 2 or 5 of a power of ten that is not over the most."""
    power = 10.0 ** floor(log10(most) + 1e-9)
    return max(step * power for step in (1, 2, 5) if step * power <= most * (1 + 1e-9))


def _copies(sheet: Sheet, view: View, frame: PlannedFrame, arrows: Arrows) -> None:
    """Cut lines, pale; one told apart."""
    chosen = None if arrows.copy is None else frame.labels[arrows.copy]
    for path in frame.layer.paths:
        ring = shapely.simplify(shapely.LinearRing(path.ring), FINE_MM * view.denominator)
        points = view.ring(np.asarray(ring.coords)[:-1])
        if len(points) < 3:
            continue
        if path.label == chosen:
            sheet.area([points], "#F6E3DE", WORST_COPY)
        else:
            sheet.line(points, COPY, closed=True)
    for piece in frame.layer.pieces:
        line = shapely.simplify(shapely.LineString(piece.line), FINE_MM * view.denominator)
        sheet.line(view.ring(np.asarray(line.coords)), COPY)


def _field(sheet: Sheet, view: View, frame: PlannedFrame, arrows: Arrows, film_mm: float) -> None:
    """What the fit says all over the frame."""
    assert arrows.field is not None, "asked for with a field only"
    pitch = max(film_mm, frame.length_mm) / GRID
    across, along = max(2, ceil(film_mm / pitch)), max(2, ceil(frame.length_mm / pitch))
    x = (np.arange(across) + 0.5) * film_mm / across
    y = (np.arange(along) + 0.5) * frame.length_mm / along + frame.y0_mm
    places = np.array([(a, b) for b in y for a in x])
    for place, shift in zip(places.tolist(), arrows.field(places).tolist(), strict=True):
        _stroke(sheet, view.at(*place), shift, arrows.times, FIELD)
        sheet.disc(*view.at(*place), 0.3, FIELD.colour)


def _stroke(
    sheet: Sheet, start: tuple[float, float], by_mm: list[float], times: float, stroke: Stroke
) -> None:
    end = start[0] + by_mm[0] * times, start[1] + by_mm[1] * times
    if hypot(end[0] - start[0], end[1] - start[1]) >= HEAD_LEAST_MM:
        sheet.arrow(start, end, stroke)
    else:
        sheet.line([start, end], stroke)


def _arrow(sheet: Sheet, view: View, arrows: Arrows, row: int) -> None:
    stroke = WORST if row == arrows.worst else ARROW
    place = view.at(*arrows.at_mm[row].tolist())
    sheet.disc(*place, MARK_MM, stroke.colour, Stroke(colour=PAPER, width_pt=0.3))
    _stroke(sheet, place, arrows.by_mm[row].tolist(), arrows.times, stroke)


def _name(sheet: Sheet, view: View, arrows: Arrows, row: int, film: Box) -> None:
    """A mark's number, with how far it is off; the worst on a ground of its own."""
    worst = row == arrows.worst
    off = figures.fixed(float(np.hypot(*arrows.by_mm[row])), 2)
    words = f"mark {arrows.names[row]}: {off} mm" if worst else f"{arrows.names[row]}: {off}"
    x, y = view.at(*arrows.at_mm[row].tolist())
    dx, dy = (arrows.by_mm[row] * arrows.times).tolist()
    half = width_mm(words, SMALL_PT, bold=worst) / 2 + 0.7
    inward = 1.0 if x < (film[0] + film[2]) / 2 else -1.0
    up = 1.0 if y < (film[1] + film[3]) / 2 else -1.0
    across = half + 1.6
    for move_x, move_y in (
        (inward * across, -np.sign(dy) * 2.2 if dy else 2.2),
        (inward * across, np.sign(dy) * 2.2 if dy else -2.2),
        (inward * (max(inward * dx, 0.0) + across), dy),
        (inward * across, up * 4.6),
        (inward * across, up * 7.0),
        (inward * across, -up * 4.6),
    ):
        box = (x + move_x - half, y + move_y - 1.3, x + move_x + half, y + move_y + 1.3)
        inside = film[0] - 12 < box[0] and box[2] < film[2] + 12
        if inside and sheet.take(box):
            if worst:
                sheet.box(box, CUT)
            base = (box[1] + box[3]) / 2 - CAP * SMALL_PT / PT_PER_MM / 2
            colour = PAPER if worst else INK
            sheet.text(
                x + move_x, base, words, size_pt=SMALL_PT, bold=worst, colour=colour, align="centre"
            )
            return


# ---------------------------------------------------------------- signs of the key


def sign_arrow(sheet: Sheet, box: Box) -> None:
    """A mark with its arrow."""
    y = (box[1] + box[3]) / 2
    sheet.disc(box[0] + 0.8, y, MARK_MM, INK)
    sheet.arrow((box[0] + 0.8, y), (box[2], y), ARROW)


def sign_worst(sheet: Sheet, box: Box) -> None:
    """The worst mark."""
    y = (box[1] + box[3]) / 2
    sheet.disc(box[0] + 0.8, y, MARK_MM, CUT)
    sheet.arrow((box[0] + 0.8, y), (box[2], y), WORST)


def sign_field(sheet: Sheet, box: Box) -> None:
    """The fit between marks."""
    y = (box[1] + box[3]) / 2
    sheet.disc(box[0] + 0.8, y, 0.3, FIELD.colour)
    sheet.arrow((box[0] + 0.8, y), (box[2], y), FIELD)


def sign_usual(sheet: Sheet, box: Box) -> None:
    """What a sound print leaves."""
    sheet.disc((box[0] + box[2]) / 2, (box[1] + box[3]) / 2, 1.4, USUAL)


def sign_absent(sheet: Sheet, box: Box) -> None:
    """A mark that was not measured."""
    middle = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    sheet.disc(*middle, MARK_MM, PAPER, Stroke(colour=GREY, width_pt=0.5))


def sign_copy(sheet: Sheet, box: Box) -> None:
    """The worst decal."""
    sheet.box((box[0] + 1, box[1] + 0.2, box[2] - 1, box[3] - 0.2), "#F6E3DE", WORST_COPY)
