"""Middles of equal copies keep apart, whatever bays and holes the copies have.

Two copies at given turns overlap, or come too near, exactly when the step from one middle to
the other lies in their no-fit region. A convex, symmetric region D inside all these regions
is a rule for points alone: measured with D as the unit disc, any two middles are at least 1
apart. How many such points a rectangle holds is known (Oler):

    n <= area / Delta(D) + half the girth, measured by D, + 1

Delta(D) is a quarter of the area of the least hexagon round D (for a disc of radius d,
sqrt(3) / 2 d^2). So a star's point may reach into its neighbour's notch, and the bound says
how near that brings them; the area alone knows nothing of it.

source: N. Oler, An inequality in the geometry of numbers, Acta Math. 105 (1961) 19-48, from
memory. That D may be cut out of the no-fit regions of any outline is ours.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import sqrt

import numpy as np
import shapely

from nestplan.geometry.outline import Outline, polygons_of, turn
from nestplan.nest.bound_apart import clear_mm, middle_of, no_fit
from nestplan.nest.bound_contours import Floats, carved, hull_of
from nestplan.nest.bound_single import angles_that_fit
from nestplan.nest.hexagon import least_hexagon_mm2
from nestplan.nest.task import Task

Angles = tuple[float, ...]

TURNS_MOST = 4  # with more allowed angles the middles keep a disc only


@dataclass(frozen=True, slots=True, kw_only=True)
class Apart:
    """A rule that any two middles obey, with D as the unit disc.

    lattice_mm2: Delta(D), area a point in the densest lattice.
    across_mm, along_mm: how far D reaches along x and along y.
    rise_mm: least |y| of a step between middles with |x| no more than the strip leaves.
    """

    lattice_mm2: float
    across_mm: float
    along_mm: float
    rise_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """Where middles lie: so wide, and this much less along the feed than the contours."""

    wide_mm: float
    ends_mm: float


def olers_mm(task: Task, frames: int) -> float:
    """Length of the frames by Oler's inequality for the middles in each."""
    if not _asked(task):
        return 0.0
    room = _room(task)
    lengths = [0.0]
    for rule in _rules(task, room.wide_mm):
        more = task.copies - frames * (1 + room.wide_mm / rule.across_mm)
        per_mm = room.wide_mm / rule.lattice_mm2 + 1 / rule.along_mm
        lengths.append(more / per_mm + room.ends_mm * frames)
    return max(lengths)


def narrow_strip_mm(task: Task, frames: int) -> float:
    """Too narrow for two abreast: every middle is a step further along the feed."""
    if not _asked(task):
        return 0.0
    room = _room(task)
    rises = [rule.rise_mm for rule in _rules(task, room.wide_mm)]
    step_mm = max(rises, default=0.0)
    return (task.copies - frames) * step_mm + room.ends_mm * frames


def _asked(task: Task) -> bool:
    return len(task.shapes) == 1 and task.copies > 1


def _room(task: Task) -> Room:
    """The least that copies reach beyond their middles, at any angle, narrows the room."""
    shape = task.shapes[0]
    if shape.any_angle:
        inner_mm = _inner_mm(shape.outline)
        return Room(
            wide_mm=max(0.0, task.width_mm - 2 * shape.edge_mm - 2 * inner_mm),
            ends_mm=2 * inner_mm,
        )
    hull = hull_of(shape.outline.region) - middle_of(shape.outline)
    turned = [turn(hull, angle_deg) for angle_deg in angles_that_fit(task, shape)]
    low = np.max([points.min(axis=0) for points in turned], axis=0)
    high = np.min([points.max(axis=0) for points in turned], axis=0)
    reach = high - low
    wide_mm = task.width_mm - 2 * shape.edge_mm - float(reach[0])
    return Room(wide_mm=max(0.0, wide_mm), ends_mm=float(reach[1]))


def _inner_mm(outline: Outline) -> float:
    """Radius of the disc about the middle that is inside, 0 where the middle is not."""
    middle = shapely.Point(middle_of(outline))
    inside = outline.region.contains(middle)
    return float(outline.region.boundary.distance(middle)) if inside else 0.0


@lru_cache(maxsize=64)
def _rules(task: Task, wide_mm: float) -> list[Apart]:
    """A disc, and where there are few angles a region cut to measure."""
    shape, gap_mm = task.shapes[0], task.apart_mm[0][0]
    if shape.any_angle:
        return _disc(2 * _inner_mm(shape.outline) + gap_mm, wide_mm)
    angles = tuple(angles_that_fit(task, shape))
    turns = {(b - a) % 360.0 for a in angles for b in angles if (b - a) % 360.0 <= 180.0}
    least_mm = min(clear_mm(shape.outline, turned_deg) for turned_deg in turns)
    region = unit_region(shape.outline, angles, gap_mm) if len(angles) <= TURNS_MOST else None
    cut = [] if region is None else [_cut_to_measure(region, wide_mm)]
    return _disc(least_mm + gap_mm, wide_mm) + cut


def _disc(apart_mm: float, wide_mm: float) -> list[Apart]:
    if apart_mm <= 0:
        return []
    rule = Apart(
        lattice_mm2=sqrt(3) / 2 * apart_mm**2,
        across_mm=apart_mm,
        along_mm=apart_mm,
        rise_mm=sqrt(max(0.0, apart_mm**2 - wide_mm**2)),
    )
    return [rule]


def _cut_to_measure(region: "UnitRegion", wide_mm: float) -> Apart:
    """Measures of a polygon: p is inside where no side's normal . p is more than its reach."""
    sides = np.roll(region.corners, -1, axis=0) - region.corners
    normals = np.column_stack((sides[:, 1], -sides[:, 0]))
    x, y = (normals / (normals * region.corners).sum(axis=1)[:, np.newaxis]).T
    above = y > 0
    reaches = wide_mm < region.corners[:, 0].max()
    rise = [((1 - x[above] * at) / y[above]).min() for at in (-wide_mm, wide_mm)]
    return Apart(
        lattice_mm2=region.lattice_mm2,
        across_mm=float(1 / x.max()),
        along_mm=float(1 / y.max()),
        rise_mm=max(0.0, float(min(rise))) if reaches else 0.0,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class UnitRegion:
    """D: a convex polygon, symmetric about the origin, and Delta(D)."""

    corners: Floats
    lattice_mm2: float


@lru_cache(maxsize=128)
def unit_region(outline: Outline, angles_deg: Angles, gap_mm: float) -> UnitRegion | None:
    """A large D inside the no-fit regions of every two allowed angles, or None."""
    too_near = [
        _turned(no_fit(outline, (second - first) % 360.0, gap_mm), first)
        for first in angles_deg
        for second in angles_deg
    ]
    both_ways = [*too_near, *(shapely.transform(steps, np.negative) for steps in too_near)]
    common = shapely.intersection_all(both_ways)
    here = [part for part in polygons_of(common) if part.contains(shapely.Point(0, 0))]
    corners = carved(hull_of(here[0]), here[0], through_middle=True) if here else None
    if corners is None:
        return None
    kept = shapely.intersection(shapely.Polygon(corners), shapely.Polygon(-corners))
    symmetric = hull_of(kept) * (1 - 1e-9)
    return UnitRegion(corners=symmetric, lattice_mm2=least_hexagon_mm2(symmetric) / 4)


def _turned(region: shapely.Geometry, angle_deg: float) -> shapely.Geometry:
    return shapely.transform(region, lambda points: turn(points, angle_deg))
