"""The first page: the whole run to scale, what it takes, and where it is approved.

A long run is drawn in pieces side by side, parted between frames, so that it stays
legible on one sheet.
"""

from nestplan.files.material import material
from nestplan.files.proof_approval import Approval
from nestplan.files.proof_block import HEAD_MM, Block
from nestplan.files.proof_dimension import (
    Piece,
    dimension_across,
    dimension_along,
    drawing_heading,
    labels_along,
)
from nestplan.files.proof_drawing import cut_kinds, draw_film, draw_frame
from nestplan.files.proof_key import Key, run_key, white_key
from nestplan.files.proof_lengths import lengths_of
from nestplan.files.proof_page import Divided, Info, divided, draw_words
from nestplan.files.proof_pieces import FilmPiece, PiecesFit, pieces_fit, views_of
from nestplan.files.proof_scale import View
from nestplan.files.proof_sheet import Box, Sheet
from nestplan.files.proof_style import ACCENT, GREY, SMALL_PT, Stroke
from nestplan.files.proof_tables import (
    carried_table,
    cost_table,
    decals_table,
    film_table,
    goes_table,
    notes_block,
    time_table,
)
from nestplan.files.proof_text import width_mm
from nestplan.files.run import Run

HEIGHT_MM = 4.0  # from the film to the heights at its left
DIMENSION_MM, FRAME_MM = 3.0, 8.2  # to the dimension line at its right, to the frame numbers
ABOVE_MM, BELOW_MM = 8.0, 21.0  # names of the labels; dimensions and the feed arrow


def plan_run_page(run: Run) -> Divided[PiecesFit]:
    """Divide the first page."""

    def taken_mm(pieces: int, wide_mm: float) -> float:
        key = _key(run, several=pieces > 1)
        return HEAD_MM + ABOVE_MM + BELOW_MM + key.height_mm(wide_mm)

    fits = pieces_fit(run, side_mm=sum(_sides_mm(run)), taken_mm=taken_mm)
    return divided(_infos(run), fits)


def draw_run_page(sheet: Sheet, run: Run, page: Divided[PiecesFit]) -> None:
    """Draw the first page's body."""
    left, bottom, right, top = page.drawing
    fit = page.fit
    drawing_heading(sheet, "The whole run", fit.denominator, page.drawing)
    key = _key(run, several=len(fit.pieces) > 1)
    key.draw(sheet, left, bottom, right - left)
    room = left, bottom + key.height_mm(right - left), right, top - HEAD_MM
    _draw_pieces(sheet, run, fit, room)
    draw_words(sheet, page.info, page.words, page.columns)


def _sides_mm(run: Run) -> tuple[float, float]:
    """Room for the labels left and right of a piece of film, as wide as the widest."""
    marks, say = run.marks, lengths_of(run)
    lengths = ["length", *(say.bare(frame.length_mm) for frame in marks.frames)]
    right = FRAME_MM + 1.4 + max(width_mm(words, SMALL_PT) for words in lengths)
    return HEIGHT_MM + width_mm(say.bare(marks.length_used_mm), SMALL_PT), right


def _draw_pieces(sheet: Sheet, run: Run, fit: PiecesFit, room: Box) -> None:
    left, bottom, right, top = room
    within = left, bottom + BELOW_MM, right, top - ABOVE_MM
    views = views_of(run, fit, within, sides_mm=_sides_mm(run))
    for view, piece in zip(views, fit.pieces, strict=True):
        draw_film(sheet, view, run, piece.y_from_mm, piece.y_to_mm)
        for frame in piece.frames:
            draw_frame(sheet, view, run, frame, zones=False)
        _dimension_piece(sheet, run, view, piece)
    _dimension_widths(sheet, run, views[0])


def _dimension_piece(sheet: Sheet, run: Run, view: View, piece: FilmPiece) -> None:
    """Heights from the leading edge at the left, frames with their lengths at the right."""
    say = lengths_of(run)
    left, right = view.x(0.0), view.x(run.job.roll.width_mm)
    low, high = view.y(piece.y_from_mm), view.y(piece.y_to_mm)
    heights = [frame.y0_mm for frame in piece.frames]
    if piece.y_from_mm == 0.0:
        heights.insert(0, 0.0)
    if piece.y_to_mm == run.marks.length_used_mm:
        heights.append(piece.y_to_mm)
    labels_along(
        sheet,
        [
            (view.y(y), (Piece(say.bare(y), left - HEIGHT_MM, "right"),))
            for y in dict.fromkeys(heights)
        ],
        from_mm=left,
        to_mm=left - HEIGHT_MM + 0.6,
        low_mm=low,
        high_mm=high,
    )
    line = right + DIMENSION_MM
    far = right + _sides_mm(run)[1]
    for frame in piece.frames:
        y0, y1 = view.y(frame.y0_mm), view.y(frame.y0_mm + frame.length_mm)
        dimension_along(sheet, y0, y1, line, from_mm=right)
    labels_along(
        sheet,
        [
            (
                view.y(frame.y0_mm + frame.length_mm / 2),
                (
                    Piece(str(frame.index), right + FRAME_MM, "right", bold=True),
                    Piece(say.bare(frame.length_mm), far, "right"),
                ),
            )
            for frame in piece.frames
        ],
        from_mm=line,
        to_mm=line + 2.2,
        low_mm=low,
        high_mm=high,
    )
    for words, x in (("y", left - HEIGHT_MM), ("frame", right + FRAME_MM), ("length", far)):
        sheet.label(x, high + 3.6, words, size_pt=SMALL_PT, colour=GREY, align="right")


def _dimension_widths(sheet: Sheet, run: Run, view: View) -> None:
    """Printable width, film width, and which way the film moves."""
    page = run.page_x0_mm, run.page_x0_mm + run.page_width_mm
    width, say = run.job.roll.width_mm, lengths_of(run)
    base = view.y(0.0)
    for x0, x1, below, words in (
        (*page, 4.0, f"{_page_word(run)} {say.bare(run.page_width_mm)}"),
        (0.0, width, 8.2, f"film {say.bare(width)}"),
    ):
        dimension_across(sheet, view.x(x0), view.x(x1), base - below, words, from_mm=base)
    middle = view.x(width / 2)
    sheet.arrow((middle, base - 10.6), (middle, base - 15.6), Stroke(colour=ACCENT, width_pt=1.4))
    sheet.label(
        middle,
        base - 18.6,
        "feed, leading edge first",
        size_pt=SMALL_PT,
        bold=True,
        colour=ACCENT,
        align="centre",
    )


def _page_word(run: Run) -> str:
    """The page is as wide as can be printed, or as the print was to be."""
    return "printable" if run.job.print_width_mm is None else "print"


def _infos(run: Run) -> list[Info]:
    """All the words, then fewer and fewer: the rest goes to the next page."""
    used = material(run)
    film, goes = film_table(run, used), goes_table(used)
    decals, times, cost = decals_table(run), time_table(run), cost_table(run)
    told: tuple[Block, ...] = ()
    if run.notes:
        told = (notes_block(run),)
    foot = Approval()
    since = (carried_table(run.nest.carried),) if run.nest.carried is not None else ()
    four = (film, *since, goes, times, cost)
    wide = (decals, *told)
    return [
        Info(wide=wide, narrow=four, foot=foot),
        Info(wide=(decals,), narrow=four, foot=foot, moved_wide=told, weight=0.66),
        Info(narrow=four, foot=foot, moved_wide=wide, weight=0.63),
        Info(
            narrow=(film, *since, goes),
            foot=foot,
            moved_wide=wide,
            moved_narrow=(times, cost),
            weight=0.54,
        ),
    ]


def _key(run: Run, *, several: bool) -> Key:
    return run_key(
        kinds=cut_kinds(run),
        spoiled=bool(run.job.roll.avoid_m),
        anew=any(strip.anew for strip in run.nest.strips),
        bands=any(decal.keep_together for decal in run.artwork.decals),
        gone=run.artwork.remnant is not None,
        white=white_key(run.job),
        several=several,
    )
