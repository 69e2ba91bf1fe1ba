"""The cut layer by itself: what a knife and a tape measure would find, summary or not."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestplan.check.cut_copy import Copy
from nestplan.check.cut_layer import CutLayer, CutMark
from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.outlines import region_of
from nestplan.check.said import Said, SaidFrame
from nestplan.figures import fixed

TOUCH_MM = 1e-3  # what rounding to 0.0001 mm may take from a distance
MOST = 20  # findings of one kind a frame: a person needs no more to see


def distance_claims(
    said: Said, layers: Sequence[CutLayer], copies: Sequence[Copy], page_width_mm: float | None
) -> list[Claim]:
    """Distances between contours, to the film's edges and to the marks."""
    near: list[Finding] = []
    off: list[Finding] = []
    crossing: list[Finding] = []
    clear: list[Finding] = []
    for layer in layers:
        here = [copy for copy in copies if copy.frame == layer.frame.index]
        regions = [copy.footprint for copy in here]
        near += _too_near(said, layer, here, regions)[:MOST]
        off += _off_film(said, layer, here, page_width_mm)[:MOST]
        crossing += _crossing(said, layer, here)[:MOST]
        clear += _in_clear_zones(said, layer, here, regions)[:MOST]
    gutter = said.inputs.job.gutter_mm
    return [
        Claim(
            says=f"contours stand {gutter:g} mm apart, and as far as both bleeds need",
            against=tuple(near),
        ),
        Claim(says="every contour has its bleed on the print", against=tuple(off)),
        Claim(says="no ring crosses itself or its holes", against=tuple(crossing)),
        Claim(
            says=f"nothing is cut or bleeds within {said.marks.clear_mm:g} mm of a mark",
            against=tuple(clear),
        ),
    ]


def _too_near(
    said: Said, layer: CutLayer, copies: Sequence[Copy], regions: Sequence[BaseGeometry]
) -> list[Finding]:
    """Pairs nearer than the gutter or their bleeds; exact to a thousandth of a millimetre."""
    if len(copies) < 2:
        return []
    bleeds = np.array([copy.contour.beyond_mm for copy in copies])
    most = max(said.inputs.job.gutter_mm, 2 * float(bleeds.max()))
    geometry = np.array(regions, dtype=object)
    one, other = shapely.STRtree(geometry).query(geometry, predicate="dwithin", distance=most)
    pairs = np.flatnonzero(one < other)
    one, other = one[pairs], other[pairs]
    asked = np.maximum(said.inputs.job.gutter_mm, bleeds[one] + bleeds[other])
    found = shapely.distance(geometry[one], geometry[other])
    against = []
    for k in np.flatnonzero(found < asked - TOUCH_MM).tolist():
        names = [said.copy_name(*copies[i].key) for i in (one[k], other[k])]
        shared = shapely.intersection(geometry[one[k]], geometry[other[k]]).area
        against.append(
            Finding(
                kind=Kind.OVERLAP if shared > TOUCH_MM else Kind.TOO_NEAR,
                where=f"{layer.file}, {names[0]} and {names[1]}",
                found=f"{fixed(shared, 2)} mm² in common"
                if shared > TOUCH_MM
                else f"{fixed(found[k], 3)} mm apart",
                meant=f"at least {fixed(asked[k], 3)} mm apart",
            )
        )
    return against


def _off_film(
    said: Said, layer: CutLayer, copies: Sequence[Copy], page_width_mm: float | None
) -> list[Finding]:
    """Bleed must fit on the page: beyond it nothing can be printed."""
    frame = layer.frame
    right_mm = said.roll.width_mm if page_width_mm is None else said.page_x0_mm + page_width_mm
    page = said.page_x0_mm, frame.y0_mm, right_mm, frame.y0_mm + frame.length_mm
    against = []
    for copy in copies:
        points, bleed = np.vstack(copy.rings), copy.contour.beyond_mm
        left, bottom = (points.min(axis=0) - bleed).tolist()
        right, top = (points.max(axis=0) + bleed).tolist()
        beyond = max(page[0] - left, page[1] - bottom, right - page[2], top - page[3])
        if beyond > TOUCH_MM:
            against.append(
                Finding(
                    kind=Kind.OFF_FILM,
                    where=f"{layer.file}, {said.copy_name(*copy.key)}",
                    found=f"its bleed ends {fixed(beyond, 3)} mm beyond the printable area",
                    meant="inside it",
                )
            )
    return against


def _crossing(said: Said, layer: CutLayer, copies: Sequence[Copy]) -> list[Finding]:
    """Each ring simple, and no two rings of a copy touching."""
    against = []
    for copy in copies:
        lines = [shapely.LinearRing(ring) for ring in copy.rings]
        crossing = not all(line.is_simple for line in lines) or any(
            one.intersects(other) for k, one in enumerate(lines) for other in lines[:k]
        )
        if crossing:
            where = f"{layer.file}, {said.copy_name(*copy.key)}"
            against.append(
                Finding(
                    kind=Kind.RING_CROSSES,
                    where=where,
                    found="lines that cross",
                    meant="rings apart from each other",
                )
            )
    return against


def _in_clear_zones(
    said: Said, layer: CutLayer, copies: Sequence[Copy], regions: Sequence[BaseGeometry]
) -> list[Finding]:
    """Between a mark's edge and a contour: the clear zone and the contour's bleed."""
    if not copies or not layer.marks:
        return []
    tree = shapely.STRtree(np.array(regions, dtype=object))
    most = said.marks.clear_mm + max(decal.bleed_mm for decal in said.decals)
    against = []
    for mark in layer.marks:
        shape = region_of(mark.rings)
        for k in tree.query(shape, predicate="dwithin", distance=most).tolist():
            copy = copies[k]
            asked = said.marks.clear_mm + copy.contour.beyond_mm
            found = float(shapely.distance(shape, regions[k]))
            if found < asked - TOUCH_MM:
                against.append(
                    Finding(
                        kind=Kind.CLEAR_ZONE,
                        where=f"{layer.file}, mark {mark.number} and {said.copy_name(*copy.key)}",
                        found=f"{fixed(found, 3)} mm apart",
                        meant=f"at least {fixed(asked, 3)} mm apart",
                    )
                )
    return against


def spacing_findings(
    said: Said, frame: SaidFrame, marks: Sequence[CutMark], file: str
) -> list[Finding]:
    """Marks along both edges from end to end, never farther apart than the sensor may go."""
    inside = {mark.mark for mark in frame.marks if mark.inside}  # asked for by no spacing
    places = {
        mark.number: region_of(mark.rings).envelope.centroid
        for mark in marks
        if mark.number not in inside
    }
    xs = [point.x for point in places.values()] or [0.0]
    middle = (min(xs) + max(xs)) / 2
    against = []
    for edge in ("left", "right"):
        side = sorted(
            (point.y, number)
            for number, point in places.items()
            if (point.x < middle) == (edge == "left")
        )
        if len(side) < 2:
            found = "1 mark" if side else "no mark"
            where = f"{file}, {edge} edge of frame {frame.index}"
            against.append(
                Finding(kind=Kind.MARKS_APART, where=where, found=found, meant="2 marks at least")
            )
        for (y0, one), (y1, other) in pairwise(side):
            if y1 - y0 > said.marks.spacing_mm + TOUCH_MM:
                against.append(
                    Finding(
                        kind=Kind.MARKS_APART,
                        where=f"{file}, {edge} edge of frame {frame.index}",
                        found=f"{fixed(y1 - y0, 2)} mm from mark {one} to mark {other}",
                        meant=f"at most {fixed(said.marks.spacing_mm, 2)} mm",
                    )
                )
    return against
