"""The page of plans that could be chosen: a table, and time and cost over the film they take."""

from collections.abc import Callable, Sequence
from math import ceil, floor, log10

from nestplan import figures
from nestplan.files.one_line import one_line
from nestplan.files.proof_page import body_of
from nestplan.files.proof_sheet import Box, Sheet
from nestplan.files.proof_style import (
    ACCENT,
    BODY_PT,
    FAINT,
    GREY,
    INK,
    PAPER,
    PORTRAIT_MM,
    SMALL_PT,
    Stroke,
)
from nestplan.files.proof_table import Column, Table
from nestplan.files.proof_text import wrapped
from nestplan.files.run import Run
from nestplan.files.trade_rows import trade_rows, trade_words
from nestplan.trade import Option, Trade

PLOT_MM, BETWEEN_MM, BELOW_MM = 62.0, 12.0, 8.0
LINE_MM = 3.6
GRID = Stroke(colour=FAINT, width_pt=0.5)
AXIS = Stroke(colour=INK, width_pt=0.5)
WAY = Stroke(colour=GREY, width_pt=0.5, dash_pt=(2, 1.5))
RING = Stroke(colour=ACCENT, width_pt=1.0)
STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
TICKS_MOST = 5
MINUTES_FROM_S = 300.0  # plans that differ by more are told apart in minutes


def draw_trade_page(sheet: Sheet, run: Run, trade: Trade) -> None:
    """Draw the page's body."""
    left, _, right, top = body_of(PORTRAIT_MM)
    currency = run.estimate.currency
    table = _table(trade, currency)
    table.draw(sheet, left, top, right - left)
    y = top - table.height_mm(right - left) - BELOW_MM
    if len(trade.options) > 1:
        times_s = [one.run_s for one in trade.options]
        half = (right - left - BETWEEN_MM) / 2
        low_s, high_s = min(times_s), max(times_s)
        unit, per_s = ("s", 1.0) if high_s - low_s < MINUTES_FROM_S else ("min", 60.0)
        plots: tuple[tuple[str, Callable[[Option], float]], ...] = (
            (
                f"door to door, {unit} more than the quickest",
                lambda one: (one.run_s - low_s) / per_s,
            ),
            (f"cost, {currency}", lambda one: float(one.total)),
        )
        for k, (name, of) in enumerate(plots):
            x = left + k * (half + BETWEEN_MM)
            _plot(sheet, trade, (x, y - PLOT_MM, x + half, y), name, of)
        y -= PLOT_MM + BELOW_MM
    for words in _sentences(trade, currency):
        for line in wrapped(words, BODY_PT, right - left):
            sheet.text(left, y, line)
            y -= LINE_MM
        y -= 1.2


def _table(trade: Trade, currency: str) -> Table:
    head, *rows = trade_rows(trade, currency)
    return Table(
        title=f"Plans, the least {trade.aim} in bold",
        columns=(
            Column(align="right"),
            *(
                Column(
                    name=name,
                    stretch=name == "mode",
                    align="left" if name == "mode" else "right",
                )
                for name in head
            ),
        ),
        rows=tuple(
            (str(number), *(one_line(cell) for cell in row)) for number, row in enumerate(rows, 1)
        ),
        strong=frozenset({trade.chosen}),
        row_mm=5.2,
    )


def _sentences(trade: Trade, currency: str) -> list[str]:
    said = [f"{trade_words(trade, currency)}."]
    if len(trade.options) > 1:
        said.append(
            "Each plan was made in full, with its marks, its cut and its cost; of any two, each is "
            "better in something. A job file with print_width_mm and mode as in a row plans that "
            "row, with the same seed and steps."
        )
    return said


def _plot(sheet: Sheet, trade: Trade, box: Box, name: str, of: Callable[[Option], float]) -> None:
    """A point a plan, numbered as in the table; the one that is planned has a ring."""
    left, bottom, right, top = box[0] + 11, box[1] + 9, box[2] - 3, box[3] - 7
    films = [one.film_mm / 1000 for one in trade.options]
    values = [of(one) for one in trade.options]
    across, up = ticks(films), ticks(values)

    def at(film_m: float, value: float) -> tuple[float, float]:
        return (
            left + (right - left) * (film_m - across[0]) / (across[-1] - across[0]),
            bottom + (top - bottom) * (value - up[0]) / (up[-1] - up[0]),
        )

    sheet.text(box[0], box[3] - 3, name, bold=True)
    for value in up:
        y = at(across[0], value)[1]
        sheet.line([(left, y), (right, y)], GRID)
        words = figures.short(value, 3)
        sheet.text(left - 1.5, y - 0.8, words, size_pt=SMALL_PT, colour=GREY, align="right")
    for film_m in across:
        x = at(film_m, up[0])[0]
        sheet.line([(x, bottom), (x, bottom - 1)], AXIS)
        words = figures.short(film_m, 3)
        sheet.text(x, bottom - 3.6, words, size_pt=SMALL_PT, colour=GREY, align="centre")
    sheet.text(right, bottom - 7.2, "film, m", size_pt=SMALL_PT, colour=GREY, align="right")
    sheet.line([(left, top), (left, bottom), (right, bottom)], AXIS)
    points = [at(film, value) for film, value in zip(films, values, strict=True)]
    sheet.line(points, WAY)
    for k, (x, y) in enumerate(points):
        if k == trade.chosen:
            sheet.disc(x, y, 1.9, PAPER, RING)
        sheet.disc(x, y, 0.9, INK)
        side = -1 if x > (left + right) / 2 else 1
        sheet.text(
            x + side * 2.6,
            y + (0.9 if k % 2 else -2.9),
            str(k + 1),
            bold=True,
            align="left" if side > 0 else "right",
        )


def ticks(values: Sequence[float]) -> list[float]:
    """Round steps from just under the least to just over the greatest value."""
    low, high = min(values), max(values)
    span = max(high - low, 1e-3 * max(abs(high), 1.0))
    ten = 10.0 ** floor(log10(span / TICKS_MOST))
    step = next(k * ten for k in STEPS if span / (k * ten) <= TICKS_MOST)
    first, last = floor(low / step + 1e-9), ceil(high / step - 1e-9)
    return [k * step for k in range(first, max(last, first + 1) + 1)]
