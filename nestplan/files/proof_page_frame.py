"""A page per frame: the frame large and to scale, its marks, and what a tape measure must read."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise
from math import dist

from nestplan.files.proof_block import HEAD_MM, Block
from nestplan.files.proof_dimension import (
    Piece,
    dimension_across,
    dimension_along,
    drawing_heading,
    labels_along,
)
from nestplan.files.proof_distances import edges
from nestplan.files.proof_drawing import (
    clear_mm,
    cut_kinds,
    draw_cut_start,
    draw_film,
    draw_frame,
    number_marks,
    tag_copies,
)
from nestplan.files.proof_frame_tables import (
    copies_table,
    loading_block,
    marks_table,
    tape_table,
)
from nestplan.files.proof_key import Key, frame_key, white_key
from nestplan.files.proof_lengths import Lengths, lengths_of
from nestplan.files.proof_page import Divided, Info, divided, draw_words
from nestplan.files.proof_says import Says
from nestplan.files.proof_scale import View, round_scale
from nestplan.files.proof_sheet import Box, Sheet
from nestplan.files.proof_style import ACCENT, ENTERS, PT_PER_MM, SMALL_PT, Stroke
from nestplan.files.proof_table import Table
from nestplan.files.proof_text import width_mm
from nestplan.files.proof_words import LAST_WORD, SHORT_CAUTIONS
from nestplan.files.run import Run
from nestplan.marks import Frame, Mark

LINE_MM, LABEL_MM = 3.0, 5.2  # from the film to its dimension lines, to their figures
NEAR_MM, FAR_MM = 7.0, 19.5  # at the end that enters first there is the arrow too
VARIANTS = 5
BEYOND_MM = 3.0  # film drawn past both ends of the frame, on paper


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """What is said of one frame, cautions apart."""

    marks: tuple[Table, ...]  # in mm, and in inches where the job shows them
    tape: Table
    loading: Says
    copies: Table


def plan_frame_page(run: Run) -> Divided[float]:
    """Divide the pages of all frames alike, so that they can be laid side by side."""
    longest_mm = max(frame.length_mm for frame in run.marks.frames)
    most = _most_words(run)
    return divided([_info(run, most, k) for k in range(VARIANTS)], _fits(run, longest_mm))


def frame_info(run: Run, frame: Frame, page: Divided[float]) -> Info:
    """The words of one frame, arranged as those of all frames are."""
    return _info(run, _words(run, frame), page.info.variant)


def draw_frame_page(sheet: Sheet, run: Run, frame: Frame, page: Divided[float]) -> None:
    """Draw the body of a frame's page."""
    left, bottom, right, top = page.drawing
    drawing_heading(sheet, "The frame", page.fit, page.drawing)
    key = _key(run)
    key.draw(sheet, left, bottom, right - left)
    room = left, bottom + key.height_mm(right - left), right, top - HEAD_MM
    _draw(sheet, run, frame, page.fit, room)
    draw_words(sheet, frame_info(run, frame, page), page.words, page.columns)


def _fits(run: Run, length_mm: float) -> Callable[[float, float], tuple[float, float] | None]:
    width = run.job.roll.width_mm
    key = _key(run)
    side = _side_mm(run)

    def fits(wide_mm: float, tall_mm: float) -> tuple[float, float] | None:
        across = wide_mm - 2 * side
        along = tall_mm - HEAD_MM - NEAR_MM - FAR_MM - 2 * BEYOND_MM - key.height_mm(wide_mm)
        if across < 10 or along < 15:
            return None
        denominator = round_scale(max(width / across, length_mm / along))
        return denominator, 1 / denominator

    return fits


def _side_mm(run: Run) -> float:
    """Room for the figures at either side of the film: none is longer than the longest frame."""
    longest = max(frame.length_mm for frame in run.marks.frames)
    return LABEL_MM + 0.4 + width_mm(lengths_of(run).bare(longest), SMALL_PT)


def _draw(sheet: Sheet, run: Run, frame: Frame, denominator: float, room: Box) -> None:
    left, bottom, right, top = room
    leading = run.job.setup.enters == "leading"
    below = FAR_MM if leading else NEAR_MM
    above = NEAR_MM if leading else FAR_MM
    width = run.job.roll.width_mm / denominator
    length = frame.length_mm / denominator
    spare = top - bottom - above - below - 2 * BEYOND_MM - length
    view = View(
        x0_mm=0.0,
        y0_mm=frame.y0_mm,
        page_x_mm=(left + right - width) / 2,
        page_y_mm=bottom + below + BEYOND_MM + spare / 2,
        denominator=denominator,
    )
    beyond = BEYOND_MM * denominator
    start = max(0.0, frame.y0_mm - beyond)
    end = min(run.marks.length_used_mm, frame.y0_mm + frame.length_mm + beyond)
    draw_film(sheet, view, run, start, end)
    draw_frame(sheet, view, run, frame, zones=True)
    draw_cut_start(sheet, view, run, frame)
    number_marks(sheet, view, run, frame)
    tag_copies(sheet, view, run, frame)
    _dimension_frame(sheet, run, frame, view, view.y(start), view.y(end))


def _dimension_frame(
    sheet: Sheet, run: Run, frame: Frame, view: View, low: float, high: float
) -> None:
    """Distances of edge marks, the frame's length, the film's width, the entering edge."""
    width, say = run.job.roll.width_mm, lengths_of(run)
    film_left, film_right = view.x(0.0), view.x(width)
    left, right, _ = edges(frame.marks)
    leading = run.job.setup.enters == "leading"
    line = film_left - LINE_MM
    _along(sheet, view, say, left, line, film_left)
    y0, y1 = view.y(frame.y0_mm), view.y(frame.y0_mm + frame.length_mm)
    line = film_right + LINE_MM
    dimension_along(sheet, y0, y1, line, from_mm=film_right)
    labels_along(
        sheet,
        [((y0 + y1) / 2, (Piece(say.bare(frame.length_mm), film_right + LABEL_MM),))],
        from_mm=line,
        to_mm=line + 1.6,
        low_mm=y0,
        high_mm=y1,
    )
    ring = clear_mm(run) / view.denominator + 1.0
    if left and right:
        _across(sheet, view, say, (left[0], right[0]), low - 4.0, ring)
        _across(sheet, view, say, (left[-1], right[-1]), high + 4.0, ring)
    wide = f"film {say.bare(width)}"
    far = low - 8.2 if leading else high + 8.2
    dimension_across(sheet, film_left, film_right, far, wide, from_mm=low if leading else high)
    _entering(sheet, view, frame, leading, far, (film_left + film_right) / 2)


def _across(
    sheet: Sheet, view: View, say: Lengths, marks: tuple[Mark, Mark], y_mm: float, ring_mm: float
) -> None:
    """The distance of two marks; extension lines begin outside the ring of the outer one."""
    a, b = marks
    words = say.bare(dist((a.x_mm, a.y_mm), (b.x_mm, b.y_mm)))
    low, high = sorted((view.y(a.y_mm), view.y(b.y_mm)))
    from_mm = low - ring_mm if y_mm < low else high + ring_mm
    dimension_across(sheet, view.x(a.x_mm), view.x(b.x_mm), y_mm, words, from_mm=from_mm)


def _along(
    sheet: Sheet, view: View, say: Lengths, marks: list[Mark], line: float, edge: float
) -> None:
    labels = []
    for a, b in pairwise(marks):
        y0, y1 = view.y(a.y_mm), view.y(b.y_mm)
        dimension_along(sheet, y0, y1, line, from_mm=edge)
        words = say.bare(dist((a.x_mm, a.y_mm), (b.x_mm, b.y_mm)))
        labels.append(((y0 + y1) / 2, (Piece(words, edge - LABEL_MM, "right"),)))
    if labels:
        labels_along(
            sheet,
            labels,
            from_mm=line,
            to_mm=line - 1.6,
            low_mm=view.y(marks[0].y_mm),
            high_mm=view.y(marks[-1].y_mm),
        )


def _entering(
    sheet: Sheet, view: View, frame: Frame, leading: bool, far: float, middle: float
) -> None:
    """The edge that enters the cutter first, in a thick line, with an arrow that leaves it."""
    edge = view.y(frame.y0_mm if leading else frame.y0_mm + frame.length_mm)
    left = view.x(0.0)
    away = -1.0 if leading else 1.0
    beside = edge + away * ENTERS.width_pt / PT_PER_MM / 2  # marks stay in sight
    sheet.line([(left, beside), (2 * middle - left, beside)], ENTERS)
    start = far + away * 1.8
    stroke = Stroke(colour=ACCENT, width_pt=1.4)
    sheet.arrow((middle, start), (middle, start + away * 4.2), stroke)
    sheet.label(
        middle,
        start + (away * 5.0 if away > 0 else away * 7.2),
        f"{'leading' if leading else 'trailing'} edge, enters the cutter first",
        size_pt=SMALL_PT,
        bold=True,
        colour=ACCENT,
        align="centre",
    )


def _words(run: Run, frame: Frame) -> Words:
    return Words(
        marks=(
            marks_table(run, frame),
            *([marks_table(run, frame, inches=True)] if lengths_of(run).inches else []),
        ),
        tape=tape_table(run, frame),
        loading=loading_block(run, frame),
        copies=copies_table(run, frame),
    )


def _most_words(run: Run) -> Words:
    """For each block the one of all frames that needs most room; what fits them fits all."""
    each = [_words(run, frame) for frame in run.marks.frames]
    longest: dict[str, str] = {}
    for words in each:
        for lead, text in words.loading.each:
            longest[lead] = max(longest.get(lead, ""), text, key=len)
    spare = ("", "")  # a line more: a shorter text may break into more lines
    return Words(
        marks=max((words.marks for words in each), key=lambda tables: len(tables[0].rows)),
        tape=max((words.tape for words in each), key=lambda table: len(table.rows)),
        loading=replace(each[0].loading, each=(*longest.items(), spare)),
        copies=max((words.copies for words in each), key=lambda table: len(table.rows)),
    )


def _info(run: Run, words: Words, variant: int) -> Info:
    """The words in one of the ways they may be arranged."""
    tape, loading, copies = words.tape, words.loading, words.copies
    marks, *more = words.marks
    choices: tuple[tuple[tuple[Block, ...], tuple[Block, ...], float], ...] = (
        ((marks, tape, loading, *more, copies), (), 1.0),
        ((tape, loading, marks, *more, copies), (), 1.0),
        ((tape, copies, loading, marks, *more), (), 1.0),
        ((marks, tape, loading), (*more, copies), 0.55),
        ((loading,), (marks, *more, tape, copies), 0.5),
    )
    here, moved, weight = choices[variant]
    foot = Says(title="Cautions", each=SHORT_CAUTIONS, lead_mm=15.0, last=LAST_WORD)
    return Info(narrow=here, foot=foot, moved_narrow=moved, weight=weight, variant=variant)


def _key(run: Run) -> Key:
    return frame_key(
        kinds=cut_kinds(run),
        spoiled=bool(run.job.roll.avoid_m),
        anew=any(strip.anew for strip in run.nest.strips),
        bands=any(decal.keep_together for decal in run.artwork.decals),
        gone=run.artwork.remnant is not None,
        white=white_key(run.job),
    )
