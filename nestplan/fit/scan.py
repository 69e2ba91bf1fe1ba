"""Registration marks read out of a scan or photograph of one printed sheet."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from nestplan import figures
from nestplan.faults import Fault
from nestplan.fit.image_file import Picture, open_picture
from nestplan.fit.image_find import find_marks
from nestplan.fit.image_laid import Absorbs, Laid, laid_out, settle
from nestplan.fit.image_mark import MarkShape
from nestplan.fit.image_sharp import sharpened, typical_sd_px
from nestplan.fit.image_view import by_resolution

Array = NDArray[np.float64]

LEAST = 3  # marks found by the file's resolution, else it is not believed
ACROSS_LEAST_PX, STROKE_LEAST_PX = 8.0, 1.5  # a coarser mark is no mark
SIZE_OFF = 0.18  # of a mark's size where the scale is known: ink spreads


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SeenMarks:
    """Marks as the picture shows them, decals that look like marks perhaps among them.

    places_mm: (n, 2), y up; sd_mm: of a centre on each axis. notes: for people.
    scale_from: the file's resolution, or the marks' own places on the plan. absorbs: what
    was taken from those places and so cannot be judged by them: nothing; the size of the
    print; or its size, stretch and skew, and keystone shapes besides.
    layout: row of the expected layouts that the view was found by, else None.
    """

    places_mm: Array
    sd_mm: float
    notes: tuple[str, ...]
    scale_from: Literal["resolution", "marks"]
    absorbs: Absorbs
    layout: int | None


def marks_in_image(
    path: Path,
    *,
    shape: str,
    size_mm: float,
    line_mm: float,
    clear_mm: float,
    expected_mm: Sequence[Array] = (),
) -> SeenMarks:
    """Find the marks in a PNG, JPEG, TIFF or WebP picture.

    shape, size_mm, line_mm, clear_mm: as in the shop file. expected_mm: the marks of each frame
    (n, 2) in mm, by which a picture without a usable resolution, or a photograph, is measured.
    raises: Fault.
    """
    mark = MarkShape(shape=shape, size_mm=size_mm, line_mm=line_mm, clear_mm=clear_mm)
    picture = open_picture(path)
    doubtful = picture.assumed or picture.camera
    if picture.px_per_mm is not None and not (doubtful and expected_mm):
        seen = _by_resolution(picture, mark, picture.px_per_mm, expected_mm)
        if seen is not None:
            return seen
    if expected_mm:
        laid = laid_out(picture, mark, expected_mm)
        if laid is not None:
            return _by_marks(picture, mark, laid)
    raise _nothing(picture, mark, bool(expected_mm))


def _by_resolution(
    picture: Picture, mark: MarkShape, px_per_mm: tuple[float, float], layouts: Sequence[Array]
) -> SeenMarks | None:
    """Marks by the file's own scale; None where too few are of their size."""
    if _too_coarse(mark, min(px_per_mm)):
        if layouts:
            return None
        raise _coarse(picture, mark, min(px_per_mm))
    found = find_marks(picture.grey, mark, px_per_mm, tolerance=SIZE_OFF)
    view = by_resolution(px_per_mm, picture.grey.shape)
    sharp = sharpened(picture.grey, mark, view, found.marks, turned=True)
    centres = [each for each in sharp if each is not None]
    if len(centres) < LEAST:
        return None
    notes = [
        f"lengths rest on the {_dpi_words(px_per_mm)} that the file states: a scanner that "
        "stretches looks like a print that does, so scan a steel rule too where it matters"
    ]
    if picture.assumed:
        notes.append(f"{_dpi_words(px_per_mm)} is what programs write when they know no resolution")
    if len(centres) < max((len(each) for each in layouts), default=len(centres) + 1):
        notes += _cut_off(found.cut_off)
    px = np.array([(each.x_px, each.y_px) for each in centres])
    return SeenMarks(
        places_mm=view.to_mm(px),
        sd_mm=typical_sd_px(centres) / min(px_per_mm),
        notes=tuple(notes),
        scale_from="resolution",
        absorbs="nothing",
        layout=None,
    )


def _by_marks(picture: Picture, mark: MarkShape, laid: Laid) -> SeenMarks:
    """Marks by the places that the plan gives them: what that takes from the print is told."""
    centres = sharpened(picture.grey, mark, laid.best.view, laid.spots, turned=False)
    sharp = [row for row, each in enumerate(centres) if each is not None]
    settled = settle(picture, laid, [each for each in centres if each is not None], sharp)
    return SeenMarks(
        places_mm=settled.places_mm,
        sd_mm=settled.sd_mm,
        notes=(
            *_why_marks(picture),
            *settled.notes,
            *_cut_off(laid.cut_off if len(centres) < len(laid.layout_mm) else 0),
        ),
        scale_from="marks",
        absorbs=settled.absorbs,
        layout=laid.best.layout,
    )


def _why_marks(picture: Picture) -> list[str]:
    """Why the file's own resolution was not used."""
    if picture.px_per_mm is None:
        return ["the picture states no resolution: its scale is that of the plan's marks"]
    stated = _dpi_words(picture.px_per_mm)
    if picture.camera:
        return ["the picture comes from a camera: its scale is that of the plan's marks"]
    if picture.assumed:
        why = "which programs write when they know none"
        return [f"the picture states {stated}, {why}: its scale is that of the plan's marks"]
    return [f"no marks are of their size at the {stated} stated: the scale is that of the marks"]


def _cut_off(number: int) -> list[str]:
    if not number:
        return []
    return [f"{figures.count(number, 'spot')} like a mark lie across the picture's edge: left out"]


def _dpi_words(px_per_mm: tuple[float, float]) -> str:
    across, down = (f"{25.4 * each:.5g}" for each in px_per_mm)
    return f"{across} dpi" if across == down else f"{across} × {down} dpi"


def _too_coarse(mark: MarkShape, px_per_mm: float) -> bool:
    across, stroke = mark.size_mm * px_per_mm, mark.stroke_mm * px_per_mm
    return across < ACROSS_LEAST_PX or stroke < STROKE_LEAST_PX


def _coarse(picture: Picture, mark: MarkShape, px_per_mm: float) -> Fault:
    wanted = 25.4 * max(ACROSS_LEAST_PX / mark.size_mm, STROKE_LEAST_PX / mark.stroke_mm)
    return Fault(
        what=f"a mark is {figures.short(mark.size_mm * px_per_mm, 1)} pixels across at "
        f"{25.4 * px_per_mm:.4g} dpi: too coarse to find its middle",
        where=picture.source,
        do=f"scan at {max(150, 50 * int(1 + 2 * wanted / 50))} dpi or more, best at 300",
    )


def _nothing(picture: Picture, mark: MarkShape, layouts: bool) -> Fault:
    """Why no sheet was recognised, as far as the picture tells."""
    where = picture.source
    named = f"{mark.shape}s of {figures.short(mark.size_mm)} mm"
    height, width = picture.grey.shape
    if max(height, width) < 300:
        return Fault(
            what=f"the picture has only {width} × {height} pixels",
            where=where,
            do="hand in the scan itself, not its thumbnail; best at 300 dpi",
        )
    if int(np.ptp(picture.grey)) < 16:
        return Fault(
            what="the picture is one even shade",
            where=where,
            do="scan the printed side, and look at the picture before handing it in",
        )
    scales = [picture.px_per_mm] if picture.px_per_mm is not None else []
    upside = np.asarray(255 - picture.grey)
    for scale in scales:
        if len(find_marks(upside, mark, scale, tolerance=SIZE_OFF).marks) >= LEAST:
            return Fault(
                what="light marks on dark ground: the picture's colours are inverted",
                where=where,
                do="scan as a positive, or invert the picture",
            )
    found = [
        len(find_marks(picture.grey, mark, scale, tolerance=SIZE_OFF).marks) for scale in scales
    ]
    if found and found[0]:
        return Fault(
            what=f"only {figures.count(found[0], 'mark')} can be made out: {named} on blank film",
            where=where,
            do="scan the whole sheet, marks and the blank film round them, sharp and evenly lit",
        )
    if picture.px_per_mm is None and not layouts:
        return Fault(
            what="the picture states no resolution, so nothing in it can be measured",
            where=where,
            do="scan it again and keep the resolution in the file (TIFF does), best 300 dpi",
        )
    return Fault(
        what=f"no registration marks were found: {named} with blank film round them"
        + (", standing as the plan has them" if layouts else ""),
        where=where,
        do="look whether this is a scan of the printed sheet, its whole frame and its right "
        "side, and whether the shop file describes these marks",
    )
