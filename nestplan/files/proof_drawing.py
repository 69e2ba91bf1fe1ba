"""Film, frames, decals and marks as the proof draws them, to scale, on any page."""

from math import dist, hypot

import numpy as np
import shapely
from reportlab.lib.colors import HexColor

from nestplan.files.proof_art import art_name, backing_name, line_name
from nestplan.files.proof_bands import band_edges_mm
from nestplan.files.proof_scale import View
from nestplan.files.proof_sheet import Box, Sheet
from nestplan.files.proof_style import (
    ACCENT,
    ANEW,
    BAND,
    CAP,
    CASING,
    CLEAR,
    CUT,
    FILM,
    FILM_BREAK,
    FILM_EDGE,
    FRAME,
    GONE,
    INK,
    KISS,
    PAPER,
    PRINTABLE,
    PT_PER_MM,
    SAFE,
    SLUG,
    SMALL_PT,
    SPOILED,
    TAB,
    THROUGH,
    WEED,
    WHITE,
    Stroke,
)
from nestplan.files.proof_text import width_mm
from nestplan.files.run import Run
from nestplan.files.slug import END_TICK_MM
from nestplan.geometry.outline import Outline, outline_of, polygons_of
from nestplan.job import white_order
from nestplan.marks import (
    SCALE_BAR_MM,
    Frame,
    Mark,
    clear_radius_mm,
    needs_white,
    white_fields,
)

CASED_MM = 12.0  # a copy at least this large on paper gets a light casing under its cut line
FULL_LINE_MM = 8.0  # the cut line of a smaller copy is finer, or it would cover the copy
FINEST = 0.2  # of a full line: what a laser printer still shows
FINE_MM = 0.05  # what is drawn may be simplified by this much on paper: a twentieth of a line
EDGE_MM = 0.05  # the drawn edge of a remnant may be so far from the roll's own
START_MM = 3.0  # length of the arrow along the first cut
TAB_BAR_MM = 1.5  # of the bar that stands for a tab: the tab itself is too small to be seen
TAG_MM = 1.2  # half height of a decal's number
TAG_SHARE = 1.8  # a decal holds a tag when it could hold one so many times as large
MARK_FINE_MM = 0.003  # an outline may be simplified by this much on paper
MARK_LEAST_MM = 0.35  # a smaller mark would vanish on paper: it gets a dot of this radius


def draw_film(sheet: Sheet, view: View, run: Run, y_from_mm: float, y_to_mm: float) -> None:
    """A length of film: its ends where they are its own, dashed where it goes on."""
    width, end = run.job.roll.width_mm, run.marks.length_used_mm
    left, bottom, right, top = view.box((0.0, y_from_mm, width, y_to_mm))
    sheet.box((left, bottom, right, top), FILM)
    draw_missing(sheet, view, run, (0.0, y_from_mm, width, y_to_mm))
    for start_m, end_m in run.job.roll.avoid_m:
        low, high = max(y_from_mm, start_m * 1000), min(y_to_mm, end_m * 1000)
        if low < high:
            hatch(sheet, view.box((0.0, low, width, high)))
    for x in (run.page_x0_mm, run.page_x0_mm + run.page_width_mm):
        sheet.line([(view.x(x), bottom), (view.x(x), top)], PRINTABLE)
    for x in (left, right):
        sheet.line([(x, bottom), (x, top)], FILM_EDGE)
    for y_mm, y, own in ((y_from_mm, bottom, 0.0), (y_to_mm, top, end)):
        stroke = FILM_EDGE if abs(y_mm - own) < 1e-6 else FILM_BREAK
        sheet.line([(left, y), (right, y)], stroke)


def draw_missing(sheet: Sheet, view: View, run: Run, box_mm: Box) -> None:
    """Film that is not there within a box of the run, dark, the edges of what is there firm."""
    if run.artwork.remnant is None:
        return
    missing = run.artwork.remnant.missing(run.job.roll.width_mm)
    here = shapely.simplify(missing.intersection(shapely.box(*box_mm)), FINE_MM * view.denominator)
    for part in polygons_of(here):
        rings = [part.exterior, *part.interiors]
        sheet.area([view.ring(np.asarray(ring.coords)[:-1, :2]) for ring in rings], GONE)
    torn = run.artwork.remnant.outline.region.boundary.intersection(shapely.box(*box_mm))
    roll = shapely.box(0.0, 0.0, run.job.roll.width_mm, run.artwork.remnant.end_mm)
    edges = shapely.line_merge(torn.difference(roll.boundary.buffer(EDGE_MM)))
    for line in shapely.get_parts(edges):
        if shapely.get_dimensions(line) == 1:
            sheet.line(view.ring(np.asarray(line.coords)[:, :2]), FILM_EDGE)


def draw_frame(sheet: Sheet, view: View, run: Run, frame: Frame, *, zones: bool) -> None:
    """A frame with all it holds; zones: also where marks may stand."""
    page = run.page_x0_mm, run.page_x0_mm + run.page_width_mm
    box = view.box((page[0], frame.y0_mm, page[1], frame.y0_mm + frame.length_mm))
    sheet.box(box, PAPER, FRAME)
    end = frame.y0_mm + frame.length_mm
    draw_missing(sheet, view, run, (page[0], frame.y0_mm, page[1], end))
    if zones:
        _draw_zone(sheet, view, frame.safe)
    _draw_white(sheet, view, run, frame)
    _draw_slug(sheet, view, frame)
    _draw_copies(sheet, view, run, frame)
    _draw_extras(sheet, view, run, frame)
    outline = outline_of(
        shapely.simplify(run.marks.outline.region, MARK_FINE_MM * view.denominator)
    )
    for mark in frame.marks:
        _draw_mark(sheet, view, run, mark, outline, zones)
    for y_mm in band_edges_mm(run, frame):
        sheet.line([view.at(x, y_mm) for x in page], BAND)
    sheet.box(box, None, FRAME)


def draw_thumb(sheet: Sheet, run: Run, decal: int, box: Box) -> None:
    """One decal, upright, as large as the box allows."""
    left, bottom, right, top = box
    outline = run.artwork.decals[decal].footprint
    denominator = max(outline.width_mm / (right - left), outline.height_mm / (top - bottom))
    view = View(
        x0_mm=0.0,
        y0_mm=0.0,
        page_x_mm=(left + right) / 2,
        page_y_mm=(bottom + top) / 2,
        denominator=denominator,
    )
    matrix = view.matrix(0.0, 0.0, 0.0)
    sheet.form(art_name(run.artwork.decals[decal], decal), matrix)
    sheet.form(line_name(decal), matrix, cut_stroke(run, decal))
    if run.artwork.decals[decal].backing is not None:
        sheet.form(backing_name(decal), matrix, THROUGH)


def cut_kinds(run: Run) -> list[str]:
    """The kinds of cut that the run has, and its tabs."""
    backed = any(decal.backing is not None for decal in run.artwork.decals)
    kinds = {*(decal.cut for decal in run.artwork.decals), *(["through"] if backed else [])}
    weed, tabs = run.cut.extras.weed_lines, run.cut.extras.tabs
    return [*sorted(kinds), *(["weed"] if weed else []), *(["tab"] if tabs else [])]


def cut_stroke(run: Run, decal: int) -> Stroke:
    """How a decal's contour is drawn: kiss and through differ by their dash."""
    return KISS if run.artwork.decals[decal].cut == "kiss" else THROUGH


def clear_mm(run: Run) -> float:
    """How far round a mark's centre the film stays blank."""
    return clear_radius_mm(run.marks.outline, run.marks.clear_mm)


def hatch(sheet: Sheet, box: Box) -> None:
    """Slanting lines, 1.5 mm apart."""
    left, bottom, right, top = box
    tall, x = top - bottom, left - (top - bottom)
    while x < right:
        low, high = max(x, left), min(x + tall, right)
        if low < high:
            sheet.line([(low, bottom + low - x), (high, bottom + high - x)], SPOILED)
        x += 1.5


def _draw_zone(sheet: Sheet, view: View, zone: shapely.Geometry) -> None:
    simple = shapely.simplify(zone, FINE_MM * view.denominator, preserve_topology=False)
    for part in polygons_of(simple):
        rings = [part.exterior, *part.interiors]
        sheet.area([view.ring(np.asarray(ring.coords)[:-1, :2]) for ring in rings], SAFE)


def _draw_white(sheet: Sheet, view: View, run: Run, frame: Frame) -> None:
    """White fields, where the film needs them."""
    if not needs_white(run.job.roll):
        return
    for field in white_fields(run.marks, frame, white_order(run.job.order)):
        rings = [field.exterior, *field.interiors]
        shown = [view.ring(np.asarray(ring.coords)[:-1, :2]) for ring in rings]
        sheet.area(shown, PAPER, WHITE)


def _draw_slug(sheet: Sheet, view: View, frame: Frame) -> None:
    """The two printed bars with their ticks, and the outline of the printed line of words."""
    x, y = frame.slug.across_mm
    bar = [(x, y), (x + SCALE_BAR_MM, y)]
    sheet.line([view.at(*point) for point in bar], SLUG)
    for x, y in bar:
        sheet.line([view.at(x, y), view.at(x, y + END_TICK_MM)], SLUG)
    x, y = frame.slug.along_mm
    bar = [(x, y), (x, y + SCALE_BAR_MM)]
    sheet.line([view.at(*point) for point in bar], SLUG)
    for x, y in bar:
        sheet.line([view.at(x, y), view.at(x + END_TICK_MM, y)], SLUG)
    sheet.box(view.box(frame.slug.text_mm), None, SLUG)


def _draw_copies(sheet: Sheet, view: View, run: Run, frame: Frame) -> None:
    """Pictures first, then cut lines, so that no neighbour's bleed covers a line."""
    strip = run.nest.strips[frame.index - 1]
    places = strip.placements.moved(run.nest.x0_mm, frame.strip_y0_mm)
    for (decal, (x, y), angle), copy in zip(places.each(), strip.copy, strict=True):
        sheet.form(art_name(run.artwork.decals[decal], decal, copy), view.matrix(x, y, angle))
    anew = strip.anew
    for row, (decal, (x, y), angle) in enumerate(places.each()):
        outline = run.artwork.decals[decal].contour
        matrix = view.matrix(x, y, angle)
        size = min(outline.width_mm, outline.height_mm) / view.denominator
        if row in anew:
            sheet.form(line_name(decal), matrix, ANEW)
        if size >= CASED_MM:
            sheet.form(line_name(decal), matrix, CASING)
        fine = min(max(size / FULL_LINE_MM, FINEST), 1.0)
        sheet.form(line_name(decal), matrix, cut_stroke(run, decal).times(fine))
        if run.artwork.decals[decal].backing is not None:
            sheet.form(backing_name(decal), matrix, THROUGH.times(fine))


def _draw_extras(sheet: Sheet, view: View, run: Run, frame: Frame) -> None:
    """Weed lines, and a bar across the cut at every tab."""
    cut = run.cut.frames[frame.index - 1]
    for stroke in cut.strokes:
        if stroke.kind == "weed":
            sheet.line([view.at(*point) for point in stroke.path_mm.tolist()], WEED)
    for (x0, y0), (x1, y1) in cut.tabs_mm.tolist():
        x, y = view.at((x0 + x1) / 2, (y0 + y1) / 2)
        long = max(hypot(x1 - x0, y1 - y0), 1e-9)
        dx, dy = (y0 - y1) / long * TAB_BAR_MM / 2, (x1 - x0) / long * TAB_BAR_MM / 2
        sheet.line([(x - dx, y - dy), (x + dx, y + dy)], TAB)


def _draw_mark(
    sheet: Sheet, view: View, run: Run, mark: Mark, outline: Outline, ring: bool
) -> None:
    x, y = view.at(mark.x_mm, mark.y_mm)
    placed = outline.moved(mark.x_mm, mark.y_mm)
    sheet.area([view.ring(points) for points in placed.rings], INK)
    if run.marks.size_mm / 2 / view.denominator < MARK_LEAST_MM and not ring:
        sheet.disc(x, y, MARK_LEAST_MM, INK)
    if ring:
        sheet.disc(x, y, clear_mm(run) / view.denominator, None, CLEAR)


def number_marks(sheet: Sheet, view: View, run: Run, frame: Frame) -> None:
    """Each mark's number beside its ring, toward the middle of the frame; the first stands out."""
    middle = view.at(run.page_x0_mm + run.page_width_mm / 2, frame.y0_mm + frame.length_mm / 2)
    ring = clear_mm(run) / view.denominator
    for mark in frame.marks:
        x, y = view.at(mark.x_mm, mark.y_mm)
        first = mark.number == 1
        if first:
            sheet.disc(x, y, ring + 0.7, None, Stroke(colour=ACCENT, width_pt=0.9))
        words = str(mark.number)
        half = width_mm(words, SMALL_PT, bold=True) / 2 + 0.55
        tall = 1.25
        inward = 1.0 if middle[0] > x else -1.0
        ahead = 1.0 if middle[1] > y else -1.0
        reach = ring + 0.7 + half
        for dx, dy in (
            (inward * reach, 0.0),
            (inward * 0.75 * reach, ahead * (0.75 * ring + 1.6)),
            (0.0, ahead * (ring + 0.7 + tall)),
            (-inward * reach, 0.0),
        ):
            box = (x + dx - half, y + dy - tall, x + dx + half, y + dy + tall)
            if sheet.take(box):
                _pill(sheet, box, words, ACCENT if first else INK)
                break


def tag_copies(sheet: Sheet, view: View, run: Run, frame: Frame) -> None:
    """A decal's number in the lower left of every copy with room for it; filled where it is new."""
    places = run.nest.strips[frame.index - 1].placements.moved(run.nest.x0_mm, frame.strip_y0_mm)
    rooms: dict[tuple[int, float], tuple[float, float] | None] = {}
    anew = run.nest.strips[frame.index - 1].anew
    for row, (decal, (x, y), angle) in enumerate(places.each()):
        words = str(decal + 1)
        half = width_mm(words, SMALL_PT, bold=True) / 2 + 0.5
        if (decal, angle) not in rooms:
            reach = (hypot(half, TAG_MM) + 0.5) * view.denominator
            rooms[decal, angle] = _lower_left(run.artwork.decals[decal].contour, angle, reach)
        room = rooms[decal, angle]
        if room is None:
            continue
        page_x, page_y = view.at(x + room[0], y + room[1])
        box = (page_x - half, page_y - TAG_MM, page_x + half, page_y + TAG_MM)
        if sheet.take(box):
            _pill(sheet, box, words, *((ACCENT, PAPER) if row in anew else (PAPER, INK)))


def _lower_left(outline: Outline, angle_deg: float, reach_mm: float) -> tuple[float, float] | None:
    """The place farthest to the lower left that lies the reach inside the turned outline.

    None where a tag there would cover much of the decal.
    """
    region = outline.turned(angle_deg).region
    if not shapely.buffer(region, -TAG_SHARE * reach_mm, quad_segs=2):
        return None
    inside = shapely.buffer(region, -reach_mm, quad_segs=4)
    if inside.is_empty:
        return None
    points = shapely.get_coordinates(inside)
    x, y = points[np.argmin(points @ (1.0, 1.0))].tolist()
    return x, y


def _pill(sheet: Sheet, box: Box, words: str, fill: str, colour: str = PAPER) -> None:
    left, bottom, right, top = box
    canvas, radius = sheet.canvas, min(right - left, top - bottom) / 2
    canvas.setFillColor(HexColor(fill))
    canvas.setStrokeColor(HexColor(INK if fill == PAPER else fill))
    canvas.setLineWidth(0.35)
    canvas.setDash()
    canvas.roundRect(
        left * PT_PER_MM,
        bottom * PT_PER_MM,
        (right - left) * PT_PER_MM,
        (top - bottom) * PT_PER_MM,
        radius * PT_PER_MM,
        stroke=1,
        fill=1,
    )
    base = (bottom + top) / 2 - CAP * SMALL_PT / PT_PER_MM / 2
    sheet.text(
        (left + right) / 2,
        base,
        words,
        size_pt=SMALL_PT,
        bold=True,
        colour=colour,
        align="centre",
    )


def draw_cut_start(sheet: Sheet, view: View, run: Run, frame: Frame) -> None:
    """Where the knife first goes down in a frame, and which way it leaves."""
    rings = run.cut.frames[frame.index - 1].strokes
    if not rings:
        return
    points = view.ring(rings[0].points_mm)
    x0, y0 = points[0]
    x1, y1 = next((p for p in points[1:] if dist(p, points[0]) > START_MM), points[1])
    sheet.disc(x0, y0, 0.75, PAPER, Stroke(colour=CUT, width_pt=0.7))
    sheet.disc(x0, y0, 0.3, CUT)
    reach = hypot(x1 - x0, y1 - y0)
    if reach > 0:
        ux, uy = (x1 - x0) / reach, (y1 - y0) / reach
        sheet.arrow(
            (x0 + 0.75 * ux, y0 + 0.75 * uy),
            (x0 + START_MM * ux, y0 + START_MM * uy),
            Stroke(colour=CUT, width_pt=0.7),
        )
