"""Where marks may stand in a picture: dark spots of the mark's size on a blank ring.

A spot is what a closing (greatest, then least level within a square wider than a mark) fills
up. A level counts against the light round it, so a shadow across the sheet moves nothing. Each
spot is then judged by how well the mark's outline explains its pixels; what passes may still be
a decal that looks like a mark, and matching with the plan has the last word.
"""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from nestplan.fit.image_mark import Centre, MarkShape, fit_mark

Array = NDArray[np.float64]
Grey = NDArray[np.uint8]

ACROSS_PX = 15.0  # a mark in the picture that is searched
STROKE_PX = 2.0  # and its thinnest part
SHADE = 0.78  # darker than the light round it by this is ink
CONTRAST_LEAST = 12.0  # levels between ink and film
EXPLAINED_LEAST = 0.8  # of a spot's variation by the outline
STRIP_ROWS = 2048  # of the searched picture, at once
SPOTS_MOST = 400  # looked at closely
KEPT_MOST = 80
WINDOW_SIZES = 1.7  # a closing's square, in mark sizes: holds a square on its corner


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Marks, the best explained first, and how many lie across the picture's edge."""

    marks: tuple[Centre, ...]
    cut_off: int


def find_marks(
    grey: Grey, mark: MarkShape, px_per_mm: tuple[float, float], *, tolerance: float
) -> Found:
    """Marks in a picture of about this scale. tolerance: of their size, 0.3 for ± 30 %."""
    steps = [_step(mark, scale) for scale in px_per_mm]
    small = _reduced(grey, steps[0], steps[1])
    scale = px_per_mm[0] / steps[0], px_per_mm[1] / steps[1]
    spots, cut_off = _spots(small, mark, scale, tolerance)
    to_mm = np.diag([1 / scale[0], -1 / scale[1]])
    free = tolerance > 0.2
    marks: list[Centre] = []
    for x, y in spots:
        seen = fit_mark(small, mark, to_mm, (x, y), None, scale_free=free)
        if seen is not None and _is_mark(seen, mark, tolerance):
            marks.append(_enlarged(seen, steps))
    marks.sort(key=lambda each: -each.explained)
    return Found(marks=tuple(_single(marks, mark, px_per_mm)[:KEPT_MOST]), cut_off=cut_off)


def _is_mark(seen: Centre, mark: MarkShape, tolerance: float) -> bool:
    wide = 2 * seen.gain_mm / mark.size_mm + seen.scale - 1
    thick = seen.scale * mark.stroke_mm + 2 * seen.gain_mm
    return (
        seen.explained >= EXPLAINED_LEAST
        and seen.contrast >= CONTRAST_LEAST
        and abs(wide) <= tolerance + 0.05
        and thick > 0.4 * mark.stroke_mm
    )


def _enlarged(seen: Centre, steps: list[int]) -> Centre:
    """The same in px of the whole picture."""
    return Centre(
        x_px=seen.x_px * steps[0],
        y_px=seen.y_px * steps[1],
        turn_deg=seen.turn_deg,
        gain_mm=seen.gain_mm,
        scale=seen.scale,
        sd_px=seen.sd_px * max(steps),
        explained=seen.explained,
        contrast=seen.contrast,
    )


def _single(marks: list[Centre], mark: MarkShape, px_per_mm: tuple[float, float]) -> list[Centre]:
    """Each place once: strips overlap, and a mark may fall into two parts."""
    kept: list[Centre] = []
    for each in marks:
        apart = (
            max(abs(each.x_px - o.x_px) / px_per_mm[0], abs(each.y_px - o.y_px) / px_per_mm[1])
            for o in kept
        )
        if all(mm > mark.size_mm / 2 for mm in apart):
            kept.append(each)
    return kept


def _step(mark: MarkShape, px_per_mm: float) -> int:
    """How many pixels may be averaged into one."""
    fit = min(px_per_mm * mark.size_mm / ACROSS_PX, px_per_mm * mark.stroke_mm / STROKE_PX)
    return max(1, int(fit))


def _reduced(grey: Grey, across: int, down: int) -> Grey:
    """Averaged down, strip by strip: a second copy of a large picture would not fit."""
    if across == down == 1:
        return grey
    rows = STRIP_ROWS * down
    strips = (grey[top : top + rows] for top in range(0, grey.shape[0], rows))
    return np.vstack([np.asarray(Image.fromarray(s).reduce((across, down))) for s in strips])


def _spots(
    small: Grey, mark: MarkShape, scale: tuple[float, float], tolerance: float
) -> tuple[list[tuple[float, float]], int]:
    """Middles of spots of about a mark's size, px of `small`, and how many its edge cuts."""
    window = [int(WINDOW_SIZES * (1 + tolerance) * mark.size_mm * each) | 1 for each in scale]
    overlap = 3 * window[1]
    spots: list[tuple[float, float, float]] = []
    cut_off, height = 0, small.shape[0]
    for top in range(0, height, STRIP_ROWS):
        first, last = max(top - overlap, 0), min(top + STRIP_ROWS + overlap, height)
        ink = _ink(small[first:last], window)
        for x, y, worth, at_edge in _sized(ink, mark, scale, tolerance):
            if not top <= y + first < top + STRIP_ROWS:
                continue
            if at_edge:
                cut_off += 1
            else:
                spots.append((worth, x, y + first))
    return [(x, y) for _, x, y in sorted(spots)[:SPOTS_MOST]], cut_off


def _ink(strip: Grey, window: list[int]) -> NDArray[np.bool_]:
    """What is darker than the light round it, and no wider than the window."""
    size = (window[1], window[0])
    light = ndimage.minimum_filter(ndimage.maximum_filter(strip, size), size)
    return np.asarray(strip < SHADE * light.astype(np.float32))


def _sized(
    ink: NDArray[np.bool_], mark: MarkShape, scale: tuple[float, float], tolerance: float
) -> list[tuple[float, float, float, bool]]:
    """(x, y, how unlike in area, whether an edge cuts it) of spots that may be marks."""
    labels, number = ndimage.label(ink, structure=np.ones((3, 3), dtype=int))
    if not number:
        return []
    areas = np.bincount(labels.ravel())
    wanted = mark.area_mm2 * scale[0] * scale[1]
    # thin strokes grow in width by far more than the mark does in size
    more = (1 + tolerance) ** 2 * (2.2 if mark.is_lines else 1.1)
    least = [(1 - tolerance) * mark.size_mm * each - 2.0 for each in scale]
    turned = 1.0 if mark.shape == "disc" else sqrt(2)
    most = [(1 + tolerance) * turned * mark.size_mm * each + 2.0 for each in scale]
    found = []
    for label, box in enumerate(ndimage.find_objects(labels), start=1):
        if box is None:
            continue
        down, across = box
        wide, high = across.stop - across.start, down.stop - down.start
        at_edge = (
            min(across.start, down.start) == 0
            or across.stop == ink.shape[1]
            or down.stop == ink.shape[0]
        )
        fits = (at_edge or (wide >= least[0] and high >= least[1])) and (
            wide <= most[0] and high <= most[1]
        )
        lowest = 0.2 if at_edge else 0.45 * (1 - tolerance) ** 2
        if not fits or not lowest * wanted <= areas[label] <= more * wanted:
            continue
        rows, columns = np.nonzero(labels[box] == label)
        x, y = across.start + columns.mean() + 0.5, down.start + rows.mean() + 0.5
        found.append((float(x), float(y), abs(float(np.log(areas[label] / wanted))), at_edge))
    return found
