"""Weed lines: through waste only, off decals, marks and the film's end, and as many as said."""

from collections.abc import Sequence

import numpy as np
import shapely

from nestplan.check.cut_copy import Copy
from nestplan.check.cut_layer import CutLayer
from nestplan.check.distance_claims import TOUCH_MM
from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.outlines import region_of
from nestplan.check.said import Said
from nestplan.figures import count, fixed

LEAST_MM = 0.5  # from a contour, where half the gutter is less
MOST = 20


def weed_claims(said: Said, layers: Sequence[CutLayer], copies: Sequence[Copy]) -> list[Claim]:
    """Where weed lines run; one claim where the job asks for none and there are none."""
    lines = sum(len(layer.weeds) for layer in layers)
    if said.inputs.job.weed is None:
        if not lines:
            return []
        found = count(lines, "weed line")
        against = [_finding(Kind.WEED_WRONG, layers[0].file, found, "none: the job asks for none")]
        return [Claim(says="no weed lines are cut", against=tuple(against))]
    least_mm = max(said.inputs.job.gutter_mm / 2, LEAST_MM)
    wrong: list[Finding] = []
    for layer in layers:
        here = [copy for copy in copies if copy.frame == layer.frame.index]
        wrong += _in_the_way(said, layer, here, least_mm)[:MOST]
    wrong += _counted(said, layers)
    says = f"{count(lines, 'weed line')} through waste only, {fixed(least_mm, 2)} mm from contours"
    return [Claim(says=says, against=tuple(wrong))]


def _in_the_way(
    said: Said, layer: CutLayer, copies: Sequence[Copy], least_mm: float
) -> list[Finding]:
    frame, against = layer.frame, []
    film = shapely.box(0.0, frame.y0_mm, said.roll.width_mm, frame.y0_mm + frame.length_mm)
    film = shapely.buffer(film, TOUCH_MM, join_style="mitre")
    regions = np.array([copy.footprint for copy in copies], dtype=object)
    tree = shapely.STRtree(regions)
    for number, weed in enumerate(layer.weeds, start=1):
        line, where = shapely.LineString(weed.line), f"{layer.file}, weed line {number}"
        for k in tree.query(line, predicate="dwithin", distance=least_mm).tolist():
            away = float(shapely.distance(line, regions[k]))
            if away < least_mm - TOUCH_MM:
                found = f"{fixed(away, 3)} mm from {said.copy_name(*copies[k].key)}"
                meant = f"at least {fixed(least_mm, 2)} mm"
                against.append(_finding(Kind.WEED_WRONG, where, found, meant))
        for mark in layer.marks:
            away = float(shapely.distance(line, region_of(mark.rings)))
            if away < said.marks.clear_mm - TOUCH_MM:
                found = f"{fixed(away, 3)} mm from mark {mark.number}"
                meant = f"at least {fixed(said.marks.clear_mm, 2)} mm"
                against.append(_finding(Kind.WEED_WRONG, where, found, meant))
        if not film.covers(line):
            against.append(_finding(Kind.WEED_WRONG, where, "leaves its frame", "inside it"))
    return against


def _counted(said: Said, layers: Sequence[CutLayer]) -> list[Finding]:
    if not all(layer.read for layer in layers):
        return []
    lines = [weed.line for layer in layers for weed in layer.weeds]
    length = float(sum(np.hypot(*np.diff(line, axis=0).T).sum() for line in lines))
    told = said.cut.weed
    declared = (told.lines, told.length_mm) if told is not None else (0, 0.0)
    if declared[0] == len(lines) and abs(declared[1] - length) <= 0.01 * (1 + len(lines)):
        return []
    found = f"{declared[0]} of {fixed(declared[1], 2)} mm in the summary"
    meant = f"{len(lines)} of {fixed(length, 2)} mm in the cut layers"
    return [_finding(Kind.COUNT_WRONG, "cut.weed", found, meant)]


def _finding(kind: Kind, where: str, found: str, meant: str) -> Finding:
    return Finding(kind=kind, where=where, found=found, meant=meant)
