"""compare.pdf: one A4 page, setups side by side, time and cost over copies."""

import io
from collections.abc import Callable, Sequence

from reportlab.pdfgen.canvas import Canvas

from nestplan import figures
from nestplan.compare.comparison import Comparison
from nestplan.compare.on_setup import OnSetup
from nestplan.compare.rows import crossing_words, no_crossing_words, overtake_words, rows
from nestplan.files.fonts import BODY, register_fonts
from nestplan.files.one_line import one_line
from nestplan.files.proof_sheet import Box, Sheet
from nestplan.files.proof_style import (
    ACCENT,
    BODY_PT,
    CUT,
    FAINT,
    GREY,
    HEAD_LINE,
    INK,
    MARGIN_BOTTOM_MM,
    MARGIN_TOP_MM,
    MARGIN_X_MM,
    PORTRAIT_MM,
    PT_PER_MM,
    SMALL_PT,
    TITLE_PT,
    Stroke,
)
from nestplan.files.proof_table import Column, Table
from nestplan.files.proof_text import wrapped

PLOT_MM = 62.0
LINES = (
    Stroke(colour=ACCENT, width_pt=1.3),
    Stroke(colour=CUT, width_pt=1.3, dash_pt=(4, 2)),
    Stroke(colour=INK, width_pt=1.1, dash_pt=(1.2, 1.6)),
    Stroke(colour=GREY, width_pt=1.3, dash_pt=(6, 2, 1, 2)),
)
GRID = Stroke(colour=FAINT, width_pt=0.5)
AXIS = Stroke(colour=INK, width_pt=0.5)


def compare_pdf(comparison: Comparison) -> bytes:
    """The page; the same comparison gives the same bytes."""
    register_fonts()
    held = io.BytesIO()
    wide, tall = PORTRAIT_MM
    canvas = Canvas(
        held,
        pagesize=(wide * PT_PER_MM, tall * PT_PER_MM),
        initialFontName=BODY,  # type: ignore[arg-type] # stub says float
        invariant=1,
    )
    canvas.setTitle(one_line(f"{comparison.job}: setups compared"))
    canvas.setProducer(f"nestplan {comparison.version}")
    sheet = Sheet(canvas=canvas, width_mm=wide, height_mm=tall)
    room_mm = wide - 2 * MARGIN_X_MM
    top = tall - MARGIN_TOP_MM - 5
    title = f"{one_line(comparison.job)}: setups compared"
    sheet.text(
        MARGIN_X_MM, top, wrapped(title, TITLE_PT, room_mm, True)[0], size_pt=TITLE_PT, bold=True
    )
    copies = figures.count(comparison.here[0].copies, "copy", "copies")
    sheet.text(MARGIN_X_MM, top - 5.5, f"{copies}, each setup with a plan of its own", colour=GREY)
    sheet.line([(MARGIN_X_MM, top - 8.5), (wide - MARGIN_X_MM, top - 8.5)], HEAD_LINE)
    y = _table(sheet, comparison, top - 13, room_mm)
    y = _plots(sheet, comparison, y - 8, room_mm)
    _sentences(sheet, comparison, y - 8, room_mm)
    foot = f"nestplan {comparison.version}, seed {comparison.seed}, {comparison.steps} steps a nest"
    sheet.text(MARGIN_X_MM, MARGIN_BOTTOM_MM - 6, foot, size_pt=SMALL_PT, colour=GREY)
    canvas.showPage()
    canvas.save()
    return held.getvalue()


def _table(sheet: Sheet, comparison: Comparison, top: float, room_mm: float) -> float:
    columns = (
        Column(name="", stretch=True, quiet=True),
        *(Column(name=one_line(one.setup), align="right") for one in comparison.here),
    )
    table = Table(
        title="As ordered",
        columns=columns,
        rows=tuple((name, *cells) for name, cells in rows(comparison)),
        strong=frozenset({2, 12}),
        row_mm=5.2,
    )
    table.draw(sheet, MARGIN_X_MM, top, room_mm)
    return top - table.height_mm(room_mm)


def _plots(sheet: Sheet, comparison: Comparison, top: float, room_mm: float) -> float:
    """Time for one run and cost a decal over copies, a line a setup."""
    if len(comparison.by_copies) < 2:
        return top
    half = (room_mm - 12) / 2
    plots: tuple[tuple[str, Callable[[OnSetup], float], Callable[[float], str]], ...] = (
        ("one run, h", lambda one: one.one_run_s / 3600, lambda value: figures.short(value, 2)),
        (
            f"a decal, {comparison.currency}",
            lambda one: float(one.per_decal),
            lambda value: figures.short(value, 3),
        ),
    )
    for k, (name, of, words) in enumerate(plots):
        left = MARGIN_X_MM + k * (half + 12)
        _plot(sheet, comparison, (left, top - PLOT_MM, left + half, top), name, of, words)
    return top - PLOT_MM


def _plot(
    sheet: Sheet,
    comparison: Comparison,
    box: Box,
    name: str,
    of: Callable[[OnSetup], float],
    words: Callable[[float], str],
) -> None:
    left, bottom, right, top = box[0] + 11, box[1] + 8, box[2] - 1, box[3] - 12
    copies = [each[0].copies for each in comparison.by_copies]
    values = [of(one) for each in comparison.by_copies for one in each]
    ticks = _ticks(max(values))
    high, last = ticks[-1], copies[-1]

    def at(number: float, value: float) -> tuple[float, float]:
        return left + (right - left) * number / last, bottom + (top - bottom) * value / high

    sheet.text(box[0], box[3] - 3, name, bold=True)
    for value in ticks:
        y = at(0, value)[1]
        sheet.line([(left, y), (right, y)], GRID)
        sheet.text(left - 1.5, y - 0.8, words(value), size_pt=SMALL_PT, colour=GREY, align="right")
    for number in copies:
        x = at(number, 0)[0]
        sheet.line([(x, bottom), (x, bottom - 1)], AXIS)
        sheet.label(x, bottom - 3.6, str(number), size_pt=SMALL_PT, colour=GREY, align="centre")
    sheet.text(right, bottom - 6.8, "copies", size_pt=SMALL_PT, colour=GREY, align="right")
    sheet.line([(left, top), (left, bottom), (right, bottom)], AXIS)
    names = sorted({one.setup for each in comparison.by_copies for one in each})
    x = box[0]
    for k, setup in enumerate(names):
        stroke = LINES[k % len(LINES)]
        points = [
            at(one.copies, of(one))
            for each in comparison.by_copies
            for one in each
            if one.setup == setup
        ]
        if len(points) > 1:
            sheet.line(points, stroke)
        for px, py in points:
            sheet.disc(px, py, 0.6, stroke.colour)
        sheet.line([(x, box[3] - 7), (x + 7, box[3] - 7)], stroke)
        said = one_line(setup, 18)
        sheet.text(x + 8, box[3] - 7.8, said, size_pt=SMALL_PT)
        x += 12 + 1.25 * len(said)


def _ticks(most: float) -> list[float]:
    """Round steps from 0 to just over the greatest value."""
    step = 10.0 ** (len(str(int(most))) - 1) if most >= 1 else 0.1
    while most / step > 5:
        step *= 2
    while most / step < 2.5:
        step /= 2
    ticks = [0.0]
    while ticks[-1] < most:
        ticks.append(ticks[-1] + step)
    return ticks


def _sentences(sheet: Sheet, comparison: Comparison, top: float, room_mm: float) -> None:
    said: Sequence[str] = [
        *(crossing_words(each) for each in comparison.crossings),
        *(overtake_words(each) for each in comparison.overtakes),
        *no_crossing_words(comparison),
        *(
            f"The day's {mix.jobs} jobs on {mix.setup} alone: {mix.done} done in the shift, the "
            f"last after {figures.duration(mix.end_s)}"
            + (" (proven earliest)" if mix.proven else f", at best {figures.duration(mix.bound_s)}")
            for mix in comparison.mixes
        ),
        *(f"Without {name}: {why}" for name, why in comparison.without),
        "A rush run finds each machine, on the average, half way through another stay and goes "
        "before all that has not begun. Times are models of the shop file's figures; a stopwatch "
        "and `learn` tell how far they are off.",
    ]
    y = top
    for words in said:
        for line in wrapped(words, BODY_PT, room_mm):
            sheet.text(MARGIN_X_MM, y, line)
            y -= 3.6
        y -= 1
