"""Dimension lines, and labels kept apart where what they name lies close together."""

from collections.abc import Sequence
from typing import NamedTuple, TypeVar

from nestplan import figures
from nestplan.files.proof_block import heading
from nestplan.files.proof_sheet import Align, Box, Sheet
from nestplan.files.proof_style import (
    BODY_PT,
    CAP,
    DIMENSION,
    GREY,
    INK,
    PAPER,
    PT_PER_MM,
    SMALL_PT,
)
from nestplan.files.proof_text import width_mm

TICK_MM = 0.9  # half length of the tick at the end of a dimension line
LABEL_GAP_MM = 2.5  # least distance of two labels' baselines
CAP_MM = CAP * SMALL_PT / PT_PER_MM
AROUND_MM = 0.9
BARS_MM = tuple(step * 10**power for power in range(6) for step in (1, 2, 4))
BAR_MOST_MM = 26.0

Label = TypeVar("Label")


def dimension_across(
    sheet: Sheet, x0_mm: float, x1_mm: float, y_mm: float, words: str, from_mm: float
) -> None:
    """A level dimension line, its figure in a gap of the line or, where short, under it.

    from_mm: where the extension lines begin.
    """
    beyond = TICK_MM if y_mm > from_mm else -TICK_MM
    for x in (x0_mm, x1_mm):
        sheet.line([(x, from_mm), (x, y_mm + beyond)], DIMENSION)
    half = width_mm(words, SMALL_PT) / 2 + AROUND_MM
    middle = (x0_mm + x1_mm) / 2
    if x1_mm - x0_mm > 2 * half + 3:
        sheet.line([(x0_mm, y_mm), (middle - half, y_mm)], DIMENSION)
        sheet.line([(middle + half, y_mm), (x1_mm, y_mm)], DIMENSION)
        base = y_mm - CAP_MM / 2
    else:
        sheet.line([(x0_mm, y_mm), (x1_mm, y_mm)], DIMENSION)
        base = y_mm - CAP_MM - 0.7
    sheet.label(middle, base, words, size_pt=SMALL_PT, align="centre")


def dimension_along(sheet: Sheet, y0_mm: float, y1_mm: float, x_mm: float, from_mm: float) -> None:
    """An upright dimension line without its figure; from_mm: where extension lines begin."""
    beyond = TICK_MM if x_mm > from_mm else -TICK_MM
    for y in (y0_mm, y1_mm):
        sheet.line([(from_mm, y), (x_mm + beyond, y)], DIMENSION)
    sheet.line([(x_mm, y0_mm), (x_mm, y1_mm)], DIMENSION)


class Piece(NamedTuple):
    """Words of a label and where they stand across the page."""

    words: str
    x_mm: float
    align: Align = "left"
    bold: bool = False


def labels_along(
    sheet: Sheet,
    labels: Sequence[tuple[float, tuple[Piece, ...]]],
    *,
    from_mm: float,
    to_mm: float,
    low_mm: float,
    high_mm: float,
) -> None:
    """Labels beside the heights they name, kept apart; a leader runs from each height.

    labels: (y, pieces). from, to: x where leaders begin and end. low, high: no label
    stands beyond.
    """
    ordered = sorted(labels, key=lambda label: label[0])
    kept = thinned(ordered, room_mm=high_mm - low_mm, gap_mm=LABEL_GAP_MM)
    places = spread([y for y, _ in kept], LABEL_GAP_MM, low_mm, high_mm)
    elbow = from_mm + 0.35 * (to_mm - from_mm)
    for (y, pieces), place in zip(kept, places, strict=True):
        sheet.line(
            [(from_mm, y), (elbow, y), (to_mm - (to_mm - elbow) / 2, place), (to_mm, place)],
            DIMENSION,
        )
        for piece in pieces:
            sheet.label(
                piece.x_mm,
                place - CAP_MM / 2,
                piece.words,
                size_pt=SMALL_PT,
                bold=piece.bold,
                colour=INK if piece.bold else GREY,
                align=piece.align,
            )


def thinned(labels: Sequence[Label], *, room_mm: float, gap_mm: float) -> list[Label]:
    """The labels there is room for: all, or every so many, always the first and the last."""
    most = max(2, int(room_mm / gap_mm) + 1)
    if len(labels) <= most:
        return list(labels)
    every = -(-(len(labels) - 1) // (most - 1))
    kept = list(labels[::every])
    if (len(labels) - 1) % every:
        kept[-1] = labels[-1]
    return kept


def spread(wanted_mm: Sequence[float], gap_mm: float, low_mm: float, high_mm: float) -> list[float]:
    """Places as near as may be to those wanted (sorted), no two nearer than the gap.

    Least squares by pooling neighbours that would violate the gap; then kept within
    low and high, which have room for all.
    """
    blocks: list[tuple[float, int]] = []  # mean of (wanted - k gap), members
    for k, wanted in enumerate(wanted_mm):
        mean, members = wanted - k * gap_mm, 1
        while blocks and blocks[-1][0] > mean:
            before, count = blocks.pop()
            mean = (before * count + mean * members) / (count + members)
            members += count
        blocks.append((mean, members))
    places: list[float] = []
    top = high_mm - gap_mm * (len(wanted_mm) - 1)
    for mean, members in blocks:
        settled = min(max(mean, low_mm), max(top, low_mm))
        before = len(places)
        places.extend(settled + gap_mm * (before + k) for k in range(members))
    return places


def drawing_heading(sheet: Sheet, name: str, denominator: float, box: Box) -> None:
    """What a drawing shows, at which scale, and a bar of round length at the right."""
    left, _, right, top = box
    room = scale_bar(sheet, denominator, right, top) - 3.0 - left
    said = (
        f"{name}, {figures.scale(denominator)}, seen from the printed side",
        f"{name}, {figures.scale(denominator)}",
    )
    title = next((t for t in said if width_mm(t, BODY_PT, bold=True) <= room), said[-1])
    heading(sheet, title, left, top, right - left)


def scale_bar(sheet: Sheet, denominator: float, right: float, top: float) -> float:
    """A bar of round length at the right end of a heading; where it begins."""
    whole = max(length for length in BARS_MM if length / denominator <= BAR_MOST_MM)
    words = str(figures.length(whole, 0))
    end = right - width_mm(words, SMALL_PT) - 1.2
    step = whole / denominator / 4
    start: float = end - 4 * step
    y = top - 2.6
    for index in range(4):
        part = (start + index * step, y, start + (index + 1) * step, y + 1.1)
        sheet.box(part, INK if index % 2 == 0 else PAPER, DIMENSION)
    sheet.text(right, top - 2.7, words, size_pt=SMALL_PT, colour=GREY, align="right")
    return start
