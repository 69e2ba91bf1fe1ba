"""Weed lines: kiss cuts through the waste, so that it is peeled off in pieces.

Straight lines across the film and along it, each moved a little to where it meets least, and
broken wherever a decal, its share of the gutter, a mark's clear zone or printed words lie in its
way. A weed border goes round the nest of a frame; it turns aside before marks, and the waste
beyond it stays on the liner.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import ceil

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nestplan.geometry.same import SAME_MM
from nestplan.job import Weed
from nestplan.job.cut_wishes import WEED_LEAST_MM

LEAST_LINE_MM = 8.0  # a shorter piece parts nothing
MOVED = 0.25  # of the spacing, to either side of its even place
ASIDE_MM = 0.1  # the border passes what it turns aside from by this much
STEP_MM = 1.0  # between places that are tried
MITRE = 5.0
NO_PLACES = np.empty(0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WeedFilm:
    """What weed lines of a frame must know. box: (left, bottom, right, top) that they may use.

    decals: filled footprints as they lie; kept_mm: from them. closed: where no line may run;
    aside: the same for the border, with square corners.
    """

    box_mm: tuple[float, float, float, float]
    decals: list[BaseGeometry]
    kept_mm: float
    closed: list[BaseGeometry]
    aside: list[BaseGeometry]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WeedLine:
    """One stroke (n, 2), in run coordinates."""

    points_mm: NDArray[np.float64]
    is_closed: bool = False


def kept_mm(gutter_mm: float) -> float:
    """How far weed lines stay from every contour: half the gutter, or a little where it is less."""
    return max(gutter_mm / 2, WEED_LEAST_MM)


def weed_lines(weed: Weed, film: WeedFilm) -> list[WeedLine]:
    """The border of a frame, lines across the film, lines along it."""
    if not film.decals:
        return []
    # a corner grown square is never nearer than a round one, and straight edges are exact:
    # a line may run midway between two decals that stand no more than the gutter apart
    grown = [
        shapely.buffer(each, film.kept_mm - SAME_MM / 2, join_style="mitre", mitre_limit=MITRE)
        for each in film.decals
    ]
    barred = np.array([*grown, *film.closed], dtype=object)
    tree = shapely.STRtree(barred)
    lines: list[WeedLine] = []
    inside: BaseGeometry = shapely.box(*film.box_mm)
    if weed.border_mm is not None:
        inside = _border(film, weed.border_mm)
        lines += _broken(inside.exterior, barred, tree)
    box = inside.bounds
    for spacing_mm, way in ((weed.along_mm, 1), (weed.across_mm, 0)):
        if spacing_mm is not None:
            lines += _ruled(box, spacing_mm, way, inside, barred, tree)
    return lines


def _border(film: WeedFilm, round_mm: float) -> shapely.Polygon:
    """So far round the decals of the frame, less what the border turns aside from."""
    extent = shapely.box(*shapely.total_bounds(np.array(film.decals, dtype=object)))
    left, bottom, right, top = extent.buffer(round_mm, join_style="mitre").bounds
    low, high = film.box_mm[:2], film.box_mm[2:]
    whole = shapely.box(
        max(left, low[0]), max(bottom, low[1]), min(right, high[0]), min(top, high[1])
    )
    aside = shapely.union_all(film.aside).buffer(ASIDE_MM, join_style="mitre")
    kept = whole.difference(aside)
    parts = [part for part in shapely.get_parts(kept) if part.geom_type == "Polygon"]
    return max(parts, key=lambda part: part.area) if parts else whole


def _ruled(
    box: tuple[float, float, float, float],
    spacing_mm: float,
    way: int,
    inside: BaseGeometry,
    barred: NDArray[np.object_],
    tree: shapely.STRtree,
) -> Iterator[WeedLine]:
    """Lines an even distance apart, no more than the spacing. way: 1 across the film, 0 along."""
    low, high = box[way], box[way + 2]
    parts = ceil((high - low) / spacing_mm - SAME_MM)
    for k in range(1, parts):
        even = low + (high - low) * k / parts
        free = _longest(box, even, MOVED * spacing_mm, way, inside, barred, tree)
        yield from _pieces(free)


def _longest(
    box: tuple[float, float, float, float],
    even: float,
    moved: float,
    way: int,
    inside: BaseGeometry,
    barred: NDArray[np.object_],
    tree: shapely.STRtree,
) -> BaseGeometry:
    """The free parts of the line that has most of them, near its even place."""
    around = np.array(box)
    around[[way, way + 2]] = even - moved, even + moved
    left, bottom, right, top = around.tolist()
    here = barred[np.sort(tree.query(shapely.box(left, bottom, right, top)))]
    places = np.arange(-moved, moved + SAME_MM, STEP_MM) + even
    if len(here):  # a gap just wide enough begins where something ends
        edges = shapely.bounds(here)[:, [way, way + 2]] + (-SAME_MM / 4, SAME_MM / 4)
        places = np.concatenate([places, edges[np.abs(edges - even) <= moved]])
    places = np.unique(np.concatenate([places, [even]]))
    ends = np.zeros((len(places), 2, 2))
    ends[:, :, way] = places[:, None]
    ends[:, :, 1 - way] = box[1 - way], box[3 - way]
    lines = np.asarray(shapely.intersection(shapely.linestrings(ends), inside))
    if len(here):
        lines = np.asarray(shapely.difference(lines, shapely.union_all(here)))
    useful = np.round([_useful_mm(line) for line in lines.tolist()], 3)
    best: BaseGeometry = lines[np.lexsort([places, np.abs(places - even), -useful])[0]]
    return best


def _useful_mm(line: BaseGeometry) -> float:
    lengths = shapely.length(shapely.get_parts(line))
    return float(lengths[lengths >= LEAST_LINE_MM].sum())


def _broken(
    ring: shapely.LinearRing, barred: NDArray[np.object_], tree: shapely.STRtree
) -> Iterator[WeedLine]:
    """A closed line where nothing bars it, else its free parts."""
    line = shapely.LineString(ring.coords)
    here = barred[np.sort(tree.query(line, predicate="intersects"))]
    free = line.difference(shapely.union_all(here)) if len(here) else line
    if free.length >= line.length - SAME_MM:
        yield WeedLine(points_mm=np.asarray(ring.coords)[:-1, :2].copy(), is_closed=True)
        return
    yield from _pieces(shapely.line_merge(free) if len(shapely.get_parts(free)) > 1 else free)


def _pieces(free: BaseGeometry) -> Iterator[WeedLine]:
    for part in shapely.get_parts(free):
        if part.geom_type == "LineString" and part.length >= LEAST_LINE_MM:
            yield WeedLine(points_mm=np.asarray(part.coords)[:, :2].copy())


def within_windows(line: WeedLine, length_mm: float | None) -> Iterable[WeedLine]:
    """The line in parts no longer along the feed than a window of web travel."""
    points = line.points_mm
    if length_mm is None or np.ptp(points[:, 1]) <= length_mm:
        return [line]
    low, high = points[:, 1].min(), points[:, 1].max()
    bands = np.linspace(low, high, ceil((high - low) / length_mm) + 1)
    left, right = points[:, 0].min() - 1, points[:, 0].max() + 1
    whole = shapely.LineString(np.vstack([points, points[:1]]) if line.is_closed else points)
    parts = []
    for bottom, top in pairwise(bands.tolist()):
        here = shapely.intersection(whole, shapely.box(left, bottom, right, top))
        here = shapely.line_merge(here) if here.geom_type == "MultiLineString" else here
        parts += [
            WeedLine(points_mm=np.asarray(part.coords)[:, :2].copy())
            for part in shapely.get_parts(here)
            if part.geom_type == "LineString" and part.length > SAME_MM
        ]
    return parts
