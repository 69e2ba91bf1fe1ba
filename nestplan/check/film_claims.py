"""Film that is not whole: nothing may be cut or printed where there is none."""

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestplan.check.cut_copy import Copy
from nestplan.check.cut_layer import CutLayer
from nestplan.check.distance_claims import TOUCH_MM
from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.outlines import region_of
from nestplan.check.pdf_pages import PdfFile, PdfPage
from nestplan.check.print_claims import page_file
from nestplan.check.said import Said
from nestplan.figures import fixed

ARC_MM = 0.01  # a grown arc may be this much flatter than the true one


def pages_of(file: PdfFile | None) -> Sequence[PdfPage]:
    """The pages of a print that could be read."""
    return file.pages if file is not None else ()


def film_claims(
    said: Said, layers: Sequence[CutLayer], copies: Sequence[Copy], pages: Sequence[PdfPage]
) -> list[Claim]:
    """Contours with their bleed, marks with their clear zones, scale bars: all on the film."""
    if said.start_on is None:
        return []
    whole = shapely.box(0.0, 0.0, said.roll.width_mm, said.start_on.end_mm)
    gone = whole.difference(region_of([np.array(ring) for ring in said.start_on.outline]))
    against = []
    for where, area, apart_mm in _standing(said, layers, copies, pages):
        found_mm = float(shapely.distance(area, gone)) if gone else np.inf
        if found_mm < apart_mm - TOUCH_MM - ARC_MM or area.intersects(gone):
            found = f"{fixed(found_mm, 3)} mm from where there is no film"
            meant = f"at least {fixed(apart_mm, 3)} mm"
            against.append(Finding(kind=Kind.OFF_REMNANT, where=where, found=found, meant=meant))
    says = "everything that is cut or printed stands on the film that the run starts on"
    return [Claim(says=says, against=tuple(against))]


def _standing(
    said: Said, layers: Sequence[CutLayer], copies: Sequence[Copy], pages: Sequence[PdfPage]
) -> Iterator[tuple[str, BaseGeometry, float]]:
    """Where, which area in run coordinates, and how far from the film's edge it must be."""
    for layer in layers:
        for copy in copies:
            if copy.frame == layer.frame.index:
                bleed_mm = copy.contour.beyond_mm
                where = f"{layer.file}, {said.copy_name(*copy.key)}"
                yield where, copy.footprint, max(bleed_mm, said.inputs.job.gutter_mm)
        for mark in layer.marks:
            where = f"{layer.file}, mark {mark.number}"
            yield where, region_of(mark.rings), said.marks.clear_mm
    for frame, page in zip(said.frames, pages, strict=False):
        origin = np.array([said.page_x0_mm, frame.y0_mm])
        for bar in page.bars:
            line = shapely.LineString(np.array([bar.start, bar.end]) + origin)
            where = f"{page_file(page)}, scale bar {'along' if bar.along else 'across'}"
            yield where, line, 0.0
