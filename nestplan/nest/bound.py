"""No layout of a task is shorter than this: the greatest of several lower bounds, named.

All but the longest single decal rest on one idea. Grow contour i by a radius r_i such that
r_i + r_j is never more than i and j must keep from each other: grown contours still do not
overlap, so what is known about packing without gaps holds for them. They lie in a strip as
wide as the room for contours and the radii, and 2 max(r) longer than the contours.

Obstacles only lengthen a nest, so they are left out. Where a figure is not exact (arcs of
grown outlines) it is understated, and a bound stays a bound. Layouts may use the
verifier's tolerance (1e-6 mm a gap) and be that little shorter.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, pi, sqrt

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.geometry.outline import Outline, oriented, turn
from nestplan.geometry.same import SAME_MM
from nestplan.nest.hexagon import least_hexagon_mm2
from nestplan.nest.task import Shape, Task

BELOW_MM = 1e-8  # taken off every bound: more than float64 can have added
DENT = 1e-6  # an outline this near its hull, in parts of its size, counts as convex
ARC_CHORDS = 8  # in a quarter circle; chords lie inside the arc, areas are understated
CHOICES_MOST = 4  # choices of radii worked out exactly
LINES_MOST = 200  # lines along the feed in the bound of whole rows
# A line crosses a copy only this far inside: on the seam of two it would count both.
INSIDE_MM = 1e-5

Floats = NDArray[np.float64]
Radii = tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """The extent along the feed that no layout stays below, and why."""

    length_mm: float
    reason: str


def lower_bound(task: Task, *, frames: int = 1) -> Bound:
    """The greatest bound known for the extents of all frames together.

    frames: how many strips the copies are divided into, none of them empty.
    """
    bounds = [
        _longest_single(task),
        _area(task, frames),
    ]
    if len(task.shapes) > 1:
        bounds += _wide_in_file(task, frames)
    elif task.copies > 1:
        bounds += [*_hexagon(task, frames), *_whole_rows(task, frames), *_discs(task, frames)]
    best = max(bounds, key=lambda bound: bound.length_mm)
    return Bound(length_mm=best.length_mm - BELOW_MM, reason=best.reason)


# -- one decal alone


def _longest_single(task: Task) -> Bound:
    """Some frame holds each shape, so it is at least as long as that shape lies short."""
    longest_mm = max(_least_extent_mm(task, shape) for shape in task.shapes)
    return Bound(length_mm=longest_mm, reason="longest single decal")


def _least_extent_mm(task: Task, shape: Shape) -> float:
    if shape.any_angle:  # the least width of a convex hull is across one of its edges
        hull = _hull(shape.outline)
        edges = np.roll(hull, -1, axis=0) - hull
        normals = np.column_stack((-edges[:, 1], edges[:, 0])) / np.hypot(*edges.T)[:, np.newaxis]
        return float(np.ptp(hull @ normals.T, axis=0).min())
    turned = [shape.outline.turned(angle_deg) for angle_deg in _angles_that_fit(task, shape)]
    return min(outline.height_mm for outline in turned)


def _angles_that_fit(task: Task, shape: Shape) -> list[float]:
    """Allowed angles at which a copy fits the width; all of them where none does."""
    room_mm = task.width_mm - 2 * shape.edge_mm + SAME_MM
    fits = [a for a in shape.angles_deg if shape.outline.turned(a).width_mm <= room_mm]
    return fits or list(shape.angles_deg)


# -- area


def _area(task: Task, frames: int) -> Bound:
    """Grown contours do not overlap: their areas fit into the grown strip.

    L >= sum(area(K_i grown by r_i)) / (W + 2r) - 2 r frames, with several choices of radii.
    """
    lengths = []
    for radii in _best_choices(task, frames):
        areas = [grown_area_mm2(s.outline, r) for s, r in zip(task.shapes, radii, strict=True)]
        lengths.append(_length_for_mm(task, radii, areas, frames))
    return Bound(length_mm=max(lengths), reason="area with gutters")


def _length_for_mm(task: Task, radii: Radii, areas: list[float], frames: int) -> float:
    """How long a strip must be for these areas of single copies, each grown by its radius."""
    total = sum(area * shape.copies for area, shape in zip(areas, task.shapes, strict=True))
    return total / _grown_width_mm(task, radii) - 2 * max(radii) * frames


def _grown_width_mm(task: Task, radii: Radii) -> float:
    """From the leftmost to the rightmost place that a grown contour can reach."""
    aside_mm = min(s.edge_mm - r for s, r in zip(task.shapes, radii, strict=True))
    return task.width_mm - 2 * aside_mm


def _best_choices(task: Task, frames: int) -> list[Radii]:
    """The most promising choices of radii, by the areas of grown hulls."""

    def promise(radii: Radii) -> float:
        areas = [
            s.outline.area_mm2 + r * s.outline.region.convex_hull.length + pi * r * r
            for s, r in zip(task.shapes, radii, strict=True)
        ]
        return _length_for_mm(task, radii, areas, frames)

    choices = dict.fromkeys(radius_choices(task))
    return sorted(choices, key=promise, reverse=True)[:CHOICES_MOST]


def radius_choices(task: Task) -> Iterator[Radii]:
    """Radii r with r_i + r_j <= apart_ij for all pairs of copies, i and another i too.

    Gutter / 2 for all; then each raised as far as the others leave it room, the shape with
    most outline first or last, from that start or from nothing, under several ceilings.
    """
    n = len(task.shapes)
    pairs = [
        (i, j)
        for i in range(n)
        for j in range(i, n)
        if i != j or task.shapes[i].copies > 1  # a copy alone keeps nothing from its like
    ]
    least_mm = min((task.apart_mm[i][j] for i, j in pairs), default=0.0)
    yield (0.0,) * n
    yield (least_mm / 2,) * n
    outline_mm = [shape.outline.length_mm * shape.copies for shape in task.shapes]
    by_outline = sorted(range(n), key=lambda i: outline_mm[i], reverse=True)
    for ceiling_mm in sorted({task.apart_mm[i][j] / 2 for i, j in pairs}):
        for order in (by_outline, by_outline[::-1]):
            for start_mm in (0.0, least_mm / 2):
                radii = [start_mm] * n
                for i in order:
                    rooms = [
                        task.apart_mm[i][j] / 2 if i == j else task.apart_mm[i][j] - radii[j]
                        for j in range(n)
                        if i != j or task.shapes[i].copies > 1
                    ]
                    radii[i] = max(radii[i], min([ceiling_mm, *rooms]))
                yield tuple(radii)


@lru_cache(maxsize=512)
def grown_area_mm2(outline: Outline, radius_mm: float) -> float:
    """Area of an outline grown by a radius: exact for a convex one, else a little less.

    Not by shapely's buffer of the whole, which may fill dents: the union of the outline and
    a capsule along every edge, each capsule inside the true one.
    """
    if radius_mm == 0:
        return outline.area_mm2
    if len(outline.rings) == 1 and _is_convex(outline.rings[0]):  # Steiner's formula
        return outline.area_mm2 + radius_mm * outline.length_mm + pi * radius_mm**2
    capsules = [_capsules(ring, radius_mm) for ring in outline.rings]
    return float(shapely.union_all([outline.region, *np.concatenate(capsules)]).area)


def _capsules(ring: Floats, radius_mm: float) -> NDArray[np.object_]:
    """Every edge grown by the radius, arcs as chords."""
    edges = np.stack((ring, np.roll(ring, -1, axis=0)), axis=1)
    return np.asarray(
        shapely.buffer(np.asarray(shapely.linestrings(edges)), radius_mm, quad_segs=ARC_CHORDS)
    )


def _is_convex(ring: Floats) -> bool:
    edges = np.roll(ring, -1, axis=0) - ring
    after = np.roll(edges, -1, axis=0)
    return bool((edges[:, 0] * after[:, 1] - edges[:, 1] * after[:, 0] >= 0).all())


def _hull(outline: Outline) -> Floats:
    points = shapely.get_coordinates(outline.region.convex_hull)[:-1]
    return oriented(points, ccw=True)


@lru_cache(maxsize=512)
def convex_inside(outline: Outline) -> Floats | None:
    """A convex polygon inside the outline and all but equal to it, or None.

    Copies of it are packed wherever copies of the outline are, so theorems on convex
    shapes hold for it exactly, though flattening may have dented the outline by 1e-12.
    """
    if len(outline.rings) > 1:
        return None
    if _is_convex(outline.rings[0]):
        return outline.rings[0]
    hull = _hull(outline)
    middle = hull.mean(axis=0)
    inside: Floats = middle + (hull - middle) * (1 - DENT)
    return inside if outline.region.contains(shapely.Polygon(inside)) else None


def _grown_convex(polygon: Floats, radius_mm: float) -> Floats:
    """A convex polygon grown by a radius, arcs as chords: inside the truth, sides exact."""
    if radius_mm == 0:
        return polygon
    corners = shapely.get_coordinates(_capsules(polygon, radius_mm))
    hull = shapely.get_coordinates(shapely.convex_hull(shapely.MultiPoint(corners)))[:-1]
    return oriented(hull, ccw=True)


# -- one convex shape


def _hexagon(task: Task, frames: int) -> Iterator[Bound]:
    """n congruent convex shapes in a strip need n times the area of their least hexagon.

    Turned and mirrored copies are covered. source: L. Fejes Tóth, Some packing and covering
    theorems, Acta Sci. Math. (Szeged) 12A (1950) 62-67, from memory.
    """
    polygon = convex_inside(task.shapes[0].outline)
    if polygon is None:
        return
    radius_mm = task.apart_mm[0][0] / 2
    area = _grown_hexagon_mm2(task.shapes[0].outline, radius_mm)
    length_mm = _length_for_mm(task, (radius_mm,), [area], frames)
    yield Bound(length_mm=length_mm, reason="hexagon bound")


@lru_cache(maxsize=512)
def _grown_hexagon_mm2(outline: Outline, radius_mm: float) -> float:
    """Never more than the least hexagon round a convex outline grown by a radius.

    The better of two understatements: the hexagon of the grown polygon with its chords, and
    |h(K grown)| >= |h(K)| + r P(K) + 2 sqrt(3) r^2, for the girth of a hexagon's inner
    offset falls by at least 4 sqrt(3) a unit.
    """
    polygon = convex_inside(outline)
    assert polygon is not None, "the caller has a convex outline"
    girth_mm = float(np.hypot(*(np.roll(polygon, -1, axis=0) - polygon).T).sum())
    closed = least_hexagon_mm2(polygon) + radius_mm * girth_mm + 2 * sqrt(3) * radius_mm**2
    return max(closed, least_hexagon_mm2(_grown_convex(polygon, radius_mm)))


def _whole_rows(task: Task, frames: int) -> Iterator[Bound]:
    """k lines along the feed so close that every copy crosses one, over a length of c or more.

    Then some line is crossed by n / k copies, rounded up, one behind the other: L >=
    ceil(n / k) c - 2 r frames. Ours; for upright boxes it comes near whole rows of boxes.
    """
    shape = task.shapes[0]
    profiles = _profiles(task, shape, task.apart_mm[0][0] / 2)
    if not profiles:
        return
    gap_mm, best_mm = task.apart_mm[0][0], 0.0
    whole_mm = min(float(chords.max()) for _, chords in profiles)
    room_mm = _grown_width_mm(task, (gap_mm / 2,))
    for lines in range(1, min(task.copies, LINES_MOST) + 1):
        in_file = ceil(task.copies / lines)
        better_mm = (best_mm + gap_mm * frames) / in_file
        if better_mm >= whole_mm:
            break  # the more lines, the fewer copies on one
        crossed_mm = _crossed_mm(profiles, lines, room_mm, (better_mm, whole_mm))
        best_mm = max(best_mm, in_file * crossed_mm - gap_mm * frames)
    yield Bound(length_mm=best_mm, reason="whole rows")


def _profiles(task: Task, shape: Shape, radius_mm: float) -> list[tuple[Floats, Floats]]:
    """For each angle (x from the left, length along the feed there) of the grown copy.

    Empty where the outline is not convex or may lie at every angle.
    """
    polygon = None if shape.any_angle else convex_inside(shape.outline)
    if polygon is None:
        return []
    grown = _grown_convex(polygon, radius_mm)
    return [_profile(turn(grown, angle_deg)) for angle_deg in _angles_that_fit(task, shape)]


def _profile(polygon: Floats) -> tuple[Floats, Floats]:
    """How long a convex polygon is along y at every corner's x, from its left end on."""
    x, y = polygon.T
    left_low, right_low = np.lexsort((y, x))[0], np.lexsort((y, -x))[0]
    left_high, right_high = np.lexsort((-y, x))[0], np.lexsort((-y, -x))[0]
    n = len(polygon)
    low = (left_low + np.arange((right_low - left_low) % n + 1)) % n
    high = (left_high - np.arange((left_high - right_high) % n + 1)) % n
    at = np.unique(x)
    chords = np.interp(at, x[high], y[high]) - np.interp(at, x[low], y[low])
    return at - at[0], chords


def _crossed_mm(
    profiles: list[tuple[Floats, Floats]],
    lines: int,
    room_mm: float,
    between_mm: tuple[float, float],
) -> float:
    """The greatest length over which every copy crosses one of so many lines, understated.

    between_mm: below the first figure nobody cares (returned as 0), none is above the second.
    """
    low, high = between_mm
    if not _always_crossed(profiles, lines, room_mm, low):
        return 0.0
    if _always_crossed(profiles, lines, room_mm, high):
        return high
    for _ in range(40):
        middle = (low + high) / 2
        if _always_crossed(profiles, lines, room_mm, middle):
            low = middle
        else:
            high = middle
    return low


def _always_crossed(
    profiles: list[tuple[Floats, Floats]], lines: int, room_mm: float, crossed_mm: float
) -> bool:
    """Whether lines can stand so that every copy crosses one over the given length or more.

    Such lines stand within [p + first, p + last] of a copy whose left end is at p; evenly
    spaced by the narrowest of these ranges, they reach from the first copy to the last.
    """
    ranges = []
    for at, chords in profiles:
        peak = int(chords.argmax())
        first = np.interp(crossed_mm, chords[: peak + 1], at[: peak + 1])
        last = np.interp(crossed_mm, chords[peak:][::-1], at[peak:][::-1])
        play_mm = room_mm - float(at[-1])
        ranges.append((float(first) + INSIDE_MM, float(last) - INSIDE_MM, play_mm))
    spaced_mm = min(last - first for first, last, _ in ranges)
    begin_mm = min(last for _, last, _ in ranges)
    reach_mm = begin_mm + (lines - 1) * spaced_mm
    return reach_mm >= max(first + play for first, _, play in ranges)


# -- several convex shapes


def _wide_in_file(task: Task, frames: int) -> Iterator[Bound]:
    """Wide decals all cross the middle line of the strip, one behind the other along it.

    Ours; for boxes without turning it is the classic bound of items wider than half.
    """
    for radii in _best_choices(task, frames):
        total_mm = 0.0
        for shape, radius_mm in zip(task.shapes, radii, strict=True):
            middle_mm = task.width_mm / 2 - shape.edge_mm + radius_mm + INSIDE_MM
            crossed = [
                min(np.interp((middle_mm, at[-1] - middle_mm), at, chords, left=0.0, right=0.0))
                for at, chords in _profiles(task, shape, radius_mm)
            ]
            total_mm += shape.copies * float(min(crossed, default=0.0))
        length_mm = total_mm - 2 * max(radii) * frames
        yield Bound(length_mm=length_mm, reason="wide decals, one behind the other")


# -- one disc


def _discs(task: Task, frames: int) -> Iterator[Bound]:
    """Each copy holds a disc about its middle, and discs of one size are well understood.

    Holds for any outline, and is sharp where the outline is a disc.
    """
    shape = task.shapes[0]
    middle = shape.outline.region.centroid
    if not shape.outline.region.contains(middle):
        return
    radius_mm = float(shape.outline.region.boundary.distance(middle))
    across_mm = max(task.width_mm - 2 * shape.edge_mm - 2 * radius_mm, 0.0)  # of the centres
    apart_mm = 2 * radius_mm + task.apart_mm[0][0]
    ends_mm, more = 2 * radius_mm * frames, task.copies - frames
    per_mm = 2 / sqrt(3) * across_mm / apart_mm**2 + 1 / apart_mm
    along_mm = (more - frames * across_mm / apart_mm) / per_mm
    yield Bound(length_mm=along_mm + ends_mm, reason="Oler's bound for discs")
    if across_mm < apart_mm:
        step_mm = sqrt(apart_mm**2 - across_mm**2)  # of any two centres along the feed
        yield Bound(length_mm=more * step_mm + ends_mm, reason="discs in a narrow strip")
