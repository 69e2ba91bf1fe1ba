"""A picture measured by the marks themselves: which layout, which view, and what that hides."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from nestplan import figures
from nestplan.faults import Fault
from nestplan.fit.image_file import Picture
from nestplan.fit.image_find import find_marks
from nestplan.fit.image_mark import Centre, MarkShape
from nestplan.fit.image_sharp import typical_sd_px
from nestplan.fit.image_view import (
    LEAST_LENS,
    LEAST_TILTED,
    Explained,
    View,
    affine_left_mm,
    explanations,
    fitted,
    similarity_view,
)

Array = NDArray[np.float64]

TOLERANCE = 0.3  # of a mark's size, as the scale is only guessed
RUNG = 1.45  # from one guessed scale to the next
SMALLEST, LARGEST = 0.25, 2.5  # px of the sheet over px of the picture, that are tried
ACROSS_LEAST_PX, STROKE_LEAST_PX = 8.0, 1.5
SHARE_LEAST, LEAST_MARKS = 0.6, 4  # of a layout that must be met
LEFT_MOST_MM = 5.0  # what a view may leave over, rms
PRINT_MM = 0.3  # how well a print keeps its places, at best, when ways are compared
SURE = 9.0  # log-likelihood by which the best way must lead: 1 in 8 000
ABSENT = 12.0  # log-likelihood that a missing mark costs
FLAT_MM, FLAT_SHARE = 0.1, 3e-4  # an affine residual over this, and this of the diagonal,
FLAT_TIMES = 10.0  # whose square is so many times that of a tilted view: it was tilted
TILTED_MOST_MM = 2.0  # what a tilted view may leave over, rms
NO_LENS_SHARE = 2e-3  # of the diagonal: a lens whose bend is not known
BEND_SHARE = 1e-4  # of the diagonal: lenses and film that lies hollow; common practice, no source

Absorbs = Literal["nothing", "size", "perspective"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Laid:
    """The best way of laying a layout on the picture. spots: in the order of its pairs.

    sure: whether no other frame or lie explains the picture nearly as well.
    """

    best: Explained
    layout_mm: Array
    spots: tuple[Centre, ...]
    sure: bool
    rival: str
    cut_off: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Settled:
    """What the sharpened marks say."""

    places_mm: Array
    sd_mm: float
    absorbs: Absorbs
    notes: tuple[str, ...]


def laid_out(picture: Picture, mark: MarkShape, layouts: Sequence[Array]) -> Laid | None:
    """Seek the sheet at every scale it may have; None when it is not there."""
    sizes = [float(np.ptp(layout, axis=0).max()) for layout in layouts if len(layout) > 2]
    if not sizes:
        return None
    whole = max(picture.grey.shape)
    scale, top = SMALLEST * whole / max(sizes), LARGEST * whole / min(sizes)
    best: Laid | None = None
    while scale <= top:
        laid = _at_scale(picture, mark, layouts, scale)
        if laid is not None and (best is None or _worth(laid.best) > _worth(best.best)):
            best = laid
        scale *= RUNG
    return best


def settle(picture: Picture, laid: Laid, centres: Sequence[Centre], rows: list[int]) -> Settled:
    """Places of the sharpened marks, by one scale where the picture is flat, else by perspective.

    rows: of the laid pairs whose mark was sharp. raises: Fault.
    """
    px = np.array([(each.x_px, each.y_px) for each in centres]).reshape(-1, 2)
    marks = laid.best.marks[rows]
    view = laid.best.view
    if len(px) < LEAST_MARKS:
        raise Fault(
            what="what looks like marks does not stand as the plan has them",
            where=picture.source,
            do="look whether this is the plan's sheet, not a mirror image of it, and sharp; best "
            "scan it at 300 dpi with the resolution in the file",
        )
    planned = laid.layout_mm[marks]
    pairs = np.arange(len(px))
    best = fitted(0, planned, px, pairs, pairs, view.centre_px, view.reach_px)
    flat_mm = affine_left_mm(px, planned)
    bar_mm = max(FLAT_MM, FLAT_SHARE * float(np.hypot(*np.ptp(planned, axis=0))))
    bent = flat_mm > bar_mm and (best.dof <= 0 or flat_mm > sqrt(FLAT_TIMES) * best.left_mm)
    if picture.camera or bent:
        return _tilted(picture, laid, centres, px, planned, best)
    view = similarity_view(px, planned, view.centre_px, view.reach_px)
    dpi = 25.4 / _mm_per_px(view)
    return Settled(
        places_mm=view.to_mm(px),
        sd_mm=typical_sd_px(centres) * _mm_per_px(view),
        absorbs="size",
        notes=(
            f"by its marks the picture has {dpi:.1f} dpi, if the print is as long as planned: "
            "whether the whole print is larger or smaller cannot be told from it",
        ),
    )


def _tilted(
    picture: Picture,
    laid: Laid,
    centres: Sequence[Centre],
    px: Array,
    planned: Array,
    best: Explained,
) -> Settled:
    """A photograph: what a homography and a lens take out of the print is lost to the eye."""
    if len(px) < LEAST_TILTED:
        raise Fault(
            what=f"{len(px)} marks are too few to measure a photograph by: four fix its "
            "perspective and leave nothing to judge the print by",
            where=picture.source,
            do="scan the sheet on a flat bed, or measure its marks by hand",
        )
    if best.left_mm > TILTED_MOST_MM and len(px) >= LEAST_LENS:
        raise Fault(
            what=f"even with its perspective and lens taken out, the photograph leaves "
            f"{figures.short(best.left_mm, 1)} mm between the marks and the plan",
            where=picture.source,
            do="look whether this is the plan's sheet and frame, or scan it on a flat bed",
        )
    if not laid.sure:
        raise Fault(
            what=f"{laid.rival} explains the photograph nearly as well, its perspective being "
            "unknown",
            where=picture.source,
            do="say which frame with --frame, or scan the sheet on a flat bed",
        )
    lens = len(px) >= LEAST_LENS
    freed = "its perspective and the bend of its lens" if lens else "its perspective, not its lens,"
    diagonal = float(np.hypot(*np.ptp(planned, axis=0)))
    left = figures.short(best.left_mm)
    notes = [
        f"a photograph: {freed} found from {len(px)} marks, leaving {left} mm over "
        f"{2 * len(px)} readings less {2 * len(px) - best.dof} unknowns",
        "stretch, skew and size of the print cannot be told from a photograph: the perspective "
        "takes them up; only marks out of line with the others can be seen",
    ]
    if best.dof < 4:
        notes.append("so few marks hardly check each other: a scan tells more")
    return Settled(
        places_mm=best.view.to_mm(px),
        sd_mm=hypot(
            typical_sd_px(centres) * _mm_per_px(best.view),
            (BEND_SHARE if lens else NO_LENS_SHARE) * diagonal,
        ),
        absorbs="perspective",
        notes=tuple(notes),
    )


def _at_scale(
    picture: Picture, mark: MarkShape, layouts: Sequence[Array], scale: float
) -> Laid | None:
    if mark.size_mm * scale < ACROSS_LEAST_PX or mark.stroke_mm * scale < STROKE_LEAST_PX:
        return None
    found = find_marks(picture.grey, mark, (scale, scale), tolerance=TOLERANCE)
    spots = np.array([(each.x_px, each.y_px) for each in found.marks]).reshape(-1, 2)
    if len(spots) < LEAST_MARKS:
        return None
    ways = [
        way
        for way in explanations(spots, scale, picture.grey.shape, layouts)
        if len(way.marks) >= max(LEAST_MARKS, SHARE_LEAST * len(layouts[way.layout]))
        and way.left_mm <= LEFT_MOST_MM
    ]
    if not ways:
        return None
    ways.sort(key=_worth, reverse=True)
    best = ways[0]
    rivals = [way for way in ways if _differs(way, best) and _worth(way) > _worth(best) - SURE]
    rival = ""
    if rivals:
        same = rivals[0].layout == best.layout
        rival = "the same frame turned round" if same else "another frame of the plan"
    return Laid(
        best=best,
        layout_mm=layouts[best.layout],
        spots=tuple(found.marks[row] for row in best.spots.tolist()),
        sure=not rivals,
        rival=rival,
        cut_off=found.cut_off,
    )


def _worth(way: Explained) -> float:
    """Log-likelihood, the print's own errors being at least `PRINT_MM`."""
    square = way.dof * (way.left_mm / PRINT_MM) ** 2
    return -square / 2 + ABSENT * len(way.marks)


def _differs(way: Explained, best: Explained) -> bool:
    """Whether a way takes spots for other marks, not only fewer."""
    if way.layout != best.layout:
        return True
    own = dict(zip(best.spots.tolist(), best.marks.tolist(), strict=True))
    pairs = zip(way.spots.tolist(), way.marks.tolist(), strict=True)
    return any(own.get(spot, mark) != mark for spot, mark in pairs)


def _mm_per_px(view: View) -> float:
    return sqrt(abs(float(np.linalg.det(view.slope(view.centre_px)))))
