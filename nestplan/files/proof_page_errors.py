"""The page of predicted errors: where the cut may miss, by how much, and what it is made of."""

from collections.abc import Iterator
from dataclasses import dataclass

from nestplan import figures
from nestplan.files.proof_block import HEAD_MM
from nestplan.files.proof_dimension import drawing_heading
from nestplan.files.proof_drawing import draw_film
from nestplan.files.proof_error_map import ErrorMap, draw_error_map, error_map, map_key
from nestplan.files.proof_lengths import lengths_of
from nestplan.files.proof_page import Divided, Info, divided, draw_words
from nestplan.files.proof_pieces import PiecesFit, pieces_fit, views_of
from nestplan.files.proof_sheet import Box, Sheet
from nestplan.files.proof_style import SMALL_PT
from nestplan.files.proof_table import Column, Table
from nestplan.files.run import Run

SIDE_MM, ENDS_MM = 7.0, 3.0  # frame numbers at the left; film ends


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ErrorPage:
    """The divided page and the map on it."""

    made: ErrorMap
    page: Divided[PiecesFit]


def plan_error_page(run: Run) -> ErrorPage:
    """Work out the map and divide its page."""
    made = error_map(run)
    model = model_table(run)
    narrow, wide = (errors_table(run), model), (decal_errors_table(run),)
    slim = (narrow[0], decal_errors_table(run, slim=True), model)
    infos = [
        Info(wide=wide, narrow=narrow),
        Info(narrow=slim, weight=0.98),
        Info(narrow=narrow, moved_wide=wide, weight=0.7),
        Info(narrow=narrow[:1], moved_wide=wide, moved_narrow=narrow[1:], weight=0.6),
    ]
    key = map_key(made.levels_mm)

    def taken_mm(_: int, wide_mm: float) -> float:
        return HEAD_MM + 2 * ENDS_MM + key.height_mm(wide_mm)

    fits = pieces_fit(run, side_mm=SIDE_MM, taken_mm=taken_mm)
    return ErrorPage(made=made, page=divided(infos, fits))


def draw_error_page(sheet: Sheet, run: Run, plan: ErrorPage) -> None:
    """Draw the page's body."""
    page = plan.page
    left, bottom, right, top = page.drawing
    drawing_heading(sheet, "95 % of cuts within", page.fit.denominator, page.drawing)
    key = map_key(plan.made.levels_mm)
    key.draw(sheet, left, bottom, right - left)
    room = left, bottom + key.height_mm(right - left), right, top - HEAD_MM
    _draw_pieces(sheet, run, plan, room)
    draw_words(sheet, page.info, page.words, page.columns)


def _draw_pieces(sheet: Sheet, run: Run, plan: ErrorPage, room: Box) -> None:
    fit = plan.page.fit
    views = views_of(run, fit, room, sides_mm=(SIDE_MM, 0.0))
    for view, piece in zip(views, fit.pieces, strict=True):
        draw_film(sheet, view, run, piece.y_from_mm, piece.y_to_mm)
        for frame in piece.frames:
            draw_error_map(sheet, view, run, frame, plan.made)
            middle = view.y(frame.y0_mm + frame.length_mm / 2)
            sheet.label(
                view.x(0.0) - 1.6,
                middle - 0.7,
                str(frame.index),
                size_pt=SMALL_PT,
                bold=True,
                align="right",
            )


def errors_table(run: Run) -> Table:
    """What a checker asks first."""
    errors, say = run.errors, lengths_of(run)
    worst_frame, row = errors.worst
    strip = run.nest.strips[worst_frame]
    decal = run.artwork.decals[int(strip.placements.shape[row])].name
    most = "" if errors.chance_draws or errors.chance is None else ", at most"
    chance = "no bleed" if errors.chance is None else figures.chance(errors.chance)
    return Table(
        title="Predicted error",
        columns=(Column(stretch=True), Column(align="right")),
        rows=(
            ("95 % of cuts", say.full(errors.p95_mm, 2)),
            ("worst decal", say.full(errors.worst_mm, 2)),
            ("white edge", chance),
            (
                f"bleed for {figures.chance(errors.limit)}",
                say.full(errors.bleed_least_mm, 2),
            ),
        ),
        after=f"Worst: {decal}, copy {strip.copy[row]}, frame {worst_frame + 1}. "
        f"White edge: the chance that any decal is cut outside its bleed{most}. The last line is "
        "the bleed that would bring it there.",
    )


def decal_errors_table(run: Run, *, slim: bool = False) -> Table:
    """For each decal the copy that may be farthest off. slim: for a narrow column."""
    greatest: dict[int, tuple[float, int, int]] = {}
    for index, (strip, errors) in enumerate(zip(run.nest.strips, run.errors.frames, strict=True)):
        for shape, copy, error in zip(
            strip.placements.shape.tolist(), strip.copy, errors.p95_mm.tolist(), strict=True
        ):
            if error > greatest.get(shape, (-1.0, 0, 0))[0]:
                greatest[shape] = error, copy, index + 1
    rows = tuple(
        (
            str(shape + 1),
            run.artwork.decals[shape].name,
            *([] if slim else [figures.short(run.artwork.decals[shape].bleed_mm)]),
            figures.fixed(error, 2),
            str(copy),
            str(frame),
        )
        for shape, (error, copy, frame) in sorted(greatest.items())
    )
    return Table(
        title="Greatest error of each decal, mm",
        columns=(
            Column(align="right"),
            Column(name="name", stretch=True),
            *([] if slim else [Column(name="bleed", align="right")]),
            Column(name="95 %" if slim else "95 % within", align="right"),
            Column(name="copy", align="right"),
            Column(name="frame", align="right"),
        ),
        rows=rows,
    )


def model_table(run: Run) -> Table:
    """Every figure of the prediction that is not nothing."""
    rows = tuple((name, figures.short(value, 3), unit) for name, value, unit in _figures(run))
    return Table(
        title=f"Made of, cutter corrects: {run.errors.model.corrects}",
        columns=(Column(stretch=True), Column(align="right"), Column(width_mm=9.0, quiet=True)),
        rows=rows,
        after="Standard deviations on each axis, but for means and where the blade lands.",
    )


def _figures(run: Run) -> Iterator[tuple[str, float, str]]:
    model = run.errors.model
    for name, value, unit in (
        ("print, mark by mark", model.print_noise_mm, "mm"),
        ("reading a mark", model.sensor_noise_mm, "mm"),
        ("blade", model.cut_noise_mm, "mm"),
        ("smooth distortion", model.distortion_mm, "mm"),
        ("its length", model.distortion_length_mm if model.distortion_mm else 0.0, "mm"),
        ("film wanders sideways", model.tracking_mm_m, "mm/m"),
        ("mean stretch along", model.along_percent, "%"),
        ("mean stretch across", model.across_percent, "%"),
        ("stretch along", model.along_sd_percent, "%"),
        ("stretch across", model.across_sd_percent, "%"),
        ("stretch by warmth", model.both_sd_percent, "%"),
        ("mean skew", model.skew_mm_m, "mm/m"),
        ("skew", model.skew_sd_mm_m, "mm/m"),
        ("loaded askew", model.askew_sd_mm_m, "mm/m"),
        ("blade lands right by", model.offset_x_mm, "mm"),
        ("blade lands late by", model.offset_y_mm, "mm"),
        ("sensor to blade, today", model.offset_sd_mm, "mm"),
    ):
        if value != 0:
            yield name, value, unit
