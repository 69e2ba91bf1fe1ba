"""A packing slip a recipient: what is theirs, how many, and where on the film it lies."""

from dataclasses import dataclass

import numpy as np

from nestplan import figures
from nestplan.files.proof_art import art_name, backing_name, line_name
from nestplan.files.proof_block import HEAD_MM
from nestplan.files.proof_dimension import drawing_heading
from nestplan.files.proof_drawing import cut_stroke, draw_film
from nestplan.files.proof_fields import Fields
from nestplan.files.proof_lengths import lengths_of
from nestplan.files.proof_page import Divided, Info, divided, draw_words
from nestplan.files.proof_pieces import PiecesFit, pieces_fit, views_of
from nestplan.files.proof_scale import View
from nestplan.files.proof_sheet import Sheet
from nestplan.files.proof_style import FRAME, PAPER, RULE, SMALL_PT, THROUGH, Stroke
from nestplan.files.proof_table import Cell, Column, Table
from nestplan.files.proof_tables import thumb
from nestplan.files.run import Run
from nestplan.marks import Frame

PICTURE_ROW_MM, PICTURE_MM = 17.0, 24.0
SIDE_MM, ENDS_MM = 7.0, 3.0  # frame numbers at the left; film ends
OTHERS = Stroke(colour=RULE, width_pt=0.3)
VALUES_MOST = 2  # columns of a row that a narrow table shows


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Slip:
    """One recipient's page. decals: indexes from 0."""

    recipient: str
    decals: tuple[int, ...]
    page: Divided[PiecesFit]


def slips(run: Run) -> list[Slip]:
    """A slip a recipient, in the order of the job; nothing where the job names none."""
    named: dict[str, list[int]] = {}
    for index, decal in enumerate(run.artwork.decals):
        if decal.recipient is not None:
            named.setdefault(decal.recipient, []).append(index)
    return [_slip(run, recipient, tuple(each)) for recipient, each in named.items()]


def slip_words(run: Run, slip: Slip) -> str:
    """What is under the slip's title."""
    decals = [run.artwork.decals[k] for k in slip.decals]
    ordered, planned = (
        sum(d.quantity for d in decals),
        sum(run.nest.planned[k] for k in slip.decals),
    )
    overs = f", {figures.count(planned - ordered, 'over')}" if planned > ordered else ""
    return (
        f"{run.job.order.name}: {figures.count(ordered, 'copy', 'copies')} of "
        f"{figures.count(len(decals), 'decal')}{overs}"
    )


def draw_slip(sheet: Sheet, run: Run, slip: Slip) -> None:
    """Draw the page's body."""
    page = slip.page
    left, bottom, right, top = page.drawing
    drawing_heading(sheet, "Where they lie", page.fit.denominator, page.drawing)
    room = left, bottom, right, top - HEAD_MM
    views = views_of(run, page.fit, room, sides_mm=(SIDE_MM, 0.0))
    for view, piece in zip(views, page.fit.pieces, strict=True):
        draw_film(sheet, view, run, piece.y_from_mm, piece.y_to_mm)
        for frame in piece.frames:
            _draw_frame(sheet, view, run, frame, slip.decals)
    draw_words(sheet, page.info, page.words, page.columns)


def _draw_frame(sheet: Sheet, view: View, run: Run, frame: Frame, decals: tuple[int, ...]) -> None:
    """A frame, the recipient's copies as they look, all others as mere outlines."""
    page = run.page_x0_mm, run.page_x0_mm + run.page_width_mm
    box = (page[0], frame.y0_mm, page[1], frame.y0_mm + frame.length_mm)
    sheet.box(view.box(box), PAPER, FRAME)
    strip = run.nest.strips[frame.index - 1]
    places = strip.placements.moved(run.nest.x0_mm, frame.strip_y0_mm)
    for (decal, (x, y), angle), copy in zip(places.each(), strip.copy, strict=True):
        onto = view.matrix(x, y, angle)
        if decal in decals:
            sheet.form(art_name(run.artwork.decals[decal], decal, copy), onto)
            sheet.form(line_name(decal), onto, cut_stroke(run, decal).times(0.6))
            if run.artwork.decals[decal].backing is not None:
                sheet.form(backing_name(decal), onto, THROUGH.times(0.6))
        else:
            sheet.form(line_name(decal), onto, OTHERS)
    middle = view.y(frame.y0_mm + frame.length_mm / 2)
    sheet.label(
        view.x(0.0) - 1.6,
        middle - 0.7,
        str(frame.index),
        size_pt=SMALL_PT,
        bold=True,
        align="right",
    )


def _slip(run: Run, recipient: str, decals: tuple[int, ...]) -> Slip:
    contents, places, rows = _contents(run, decals), _places(run, decals), _rows(run, decals)
    done = Fields(
        title="Packed",
        rows=((("packed by", 0.34), ("date", 0.2), ("parcels", 0.16), ("copies spoiled", 0.3)),),
    )
    fits = pieces_fit(run, side_mm=SIDE_MM, taken_mm=lambda _, __: HEAD_MM + 2 * ENDS_MM)
    page = divided(
        [
            Info(wide=(contents,), narrow=(places, *rows), foot=done),
            Info(wide=(contents,), narrow=(places,), foot=done, moved_narrow=rows, weight=0.6),
            Info(wide=(contents,), foot=done, moved_narrow=(places, *rows), weight=0.5),
            Info(foot=done, moved_wide=(contents,), moved_narrow=(places, *rows), weight=0.4),
        ],
        fits,
    )
    return Slip(recipient=recipient, decals=decals, page=page)


def _contents(run: Run, decals: tuple[int, ...]) -> Table:
    """A picture a decal, and how many."""
    say = lengths_of(run)
    rows: list[tuple[Cell, ...]] = []
    inches = []
    for index in decals:
        decal, planned = run.artwork.decals[index], run.nest.planned[index]
        sides = decal.contour.width_mm, decal.contour.height_mm
        inches.append(f"decal {index + 1}, {' × '.join(say.inch(side) for side in sides)}″")
        rows.append(
            (
                str(index + 1),
                thumb(run, index),
                decal.name,
                " × ".join(figures.short(side, 1) for side in sides),
                str(decal.quantity),
                str(planned),
                str(planned - decal.quantity),
                "",
            )
        )
    return Table(
        title="What is theirs, sizes in mm",
        columns=(
            Column(align="right"),
            Column(width_mm=PICTURE_MM),
            Column(name="decal", stretch=True),
            Column(name="size"),
            Column(name="ordered", align="right"),
            Column(name="planned", align="right"),
            Column(name="overs", align="right"),
            Column(name="packed", width_mm=12.0),
        ),
        rows=tuple(rows),
        row_mm=PICTURE_ROW_MM,
        after=f"In inches: {'; '.join(inches)}." if say.inches else "",
    )


def _places(run: Run, decals: tuple[int, ...]) -> Table:
    """Frame by frame which copies there are, and between which heights of the frame."""
    rows: list[tuple[Cell, ...]] = []
    for frame, strip in zip(run.marks.frames, run.nest.strips, strict=True):
        shapes, copies = strip.placements.shape, np.array(strip.copy)
        y = strip.placements.centre_mm[:, 1] + frame.strip_y0_mm - frame.y0_mm
        for index in decals:
            own = shapes == index
            if own.any():
                rows.append(
                    (
                        str(frame.index),
                        str(index + 1),
                        str(int(own.sum())),
                        figures.ranges(copies[own].tolist()),
                        f"{figures.fixed(y[own].min(), 0)} to {figures.fixed(y[own].max(), 0)}",
                    )
                )
    return Table(
        title="Frames",
        columns=(
            Column(name="frame", align="right"),
            Column(name="decal", align="right"),
            Column(name="copies", align="right"),
            Column(name="numbers", stretch=True),
            Column(name="mm", align="right"),
        ),
        rows=tuple(rows),
        after="mm: how far behind the frame's leading end the middles of the copies lie.",
    )


def _rows(run: Run, decals: tuple[int, ...]) -> tuple[Table, ...]:
    """Rows of numbered decals in the order in which they come along the film."""
    tables = []
    for index in decals:
        decal = run.artwork.decals[index]
        if not decal.rows:
            continue
        at = {
            copy: frame.index
            for frame, strip in zip(run.marks.frames, run.nest.strips, strict=True)
            for shape, copy in zip(strip.placements.shape.tolist(), strip.copy, strict=True)
            if shape == index
        }
        names = [name for name, _ in decal.rows[0].values][:VALUES_MOST]
        tables.append(
            Table(
                title=f"Rows of {decal.name}",
                columns=(
                    Column(name="row", align="right"),
                    *(Column(name=name) for name in names[:-1]),
                    Column(name=names[-1], stretch=True),
                    Column(name="frame", align="right"),
                ),
                rows=tuple(
                    (
                        str(copy),
                        *(value for _, value in row.values[:VALUES_MOST]),
                        str(at[copy]) if copy in at else "none",
                    )
                    for copy, row in decal.printed_rows
                ),
                after="Along the film from its leading edge, from left to right where they lie "
                "side by side.",
            )
        )
    return tuple(tables)
