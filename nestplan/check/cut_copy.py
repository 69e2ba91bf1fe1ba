"""One copy of a cut layer: which rings it has, where they lie, what of its contour is missing."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import radians

import numpy as np
from shapely.geometry.base import BaseGeometry

from nestplan.check.fit_ring import Fit, fit_ring
from nestplan.check.odd import Key
from nestplan.check.outlines import (
    SAME_MM,
    Contour,
    Points,
    Pose,
    area_mm2,
    region_of,
    ring_apart_mm,
    same_points,
)
from nestplan.check.said import SaidFrame, SaidPlacement

LOOSE = 2.5  # a fitted pose is rounded to the planned one: then lines may be a little farther off


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Copy:
    """A copy as it is cut. contour: its own rings about its own centre, at pose."""

    frame: int
    key: Key
    pose: Pose
    rings: tuple[Points, ...]  # run coordinates
    contour: Contour
    as_planned: bool

    @property
    def footprint(self) -> BaseGeometry:
        """Inside its outermost cut, run coordinates."""
        backing = self.contour.backing
        if not backing:
            return region_of(self.rings)
        return region_of([self.pose.put(ring) for ring in backing])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CopyRead:
    """How a copy's rings fit its planned place."""

    pose: Pose
    off_mm: float
    missing: int
    spare: int
    exact: bool


def pose_of(placement: SaidPlacement) -> Pose:
    """Where the summary puts a copy."""
    return Pose(
        x_mm=placement.x_mm,
        y_mm=placement.y_mm,
        angle_deg=placement.angle_deg,
        mirrored=placement.mirrored,
    )


def read_copy(contour: Contour, pose: Pose, rings: Sequence[Points]) -> CopyRead:
    """Find a contour's rings among those read: first as planned, then wherever they are."""
    missing, spare = unmatched(contour, pose, rings)
    if not missing and not spare:
        return CopyRead(pose=pose, off_mm=0.0, missing=0, spare=0, exact=True)
    biggest = max(rings, key=lambda ring: abs(area_mm2(ring)))
    fit = fit_ring(_like(contour, biggest), biggest, pose)
    fit = Fit(pose=_simplified(fit.pose, pose, contour.reach_mm), off_mm=fit.off_mm)
    missing, spare = unmatched(contour, fit.pose, rings, LOOSE * SAME_MM)
    still = not fit.pose.shifted_from(pose) and fit.pose == pose
    return CopyRead(
        pose=fit.pose,
        off_mm=fit.off_mm,
        missing=missing,
        spare=spare,
        exact=still and not missing and not spare,
    )


def _simplified(found: Pose, planned: Pose, reach_mm: float) -> Pose:
    """The planned pose where the found one differs by less than anybody could see."""
    turn_mm = abs(radians(found.turned_from(planned))) * reach_mm
    size_mm = abs(found.scale - planned.scale) * reach_mm
    same = max(turn_mm, size_mm, found.shifted_from(planned)) <= SAME_MM / 2
    return planned if same and found.mirrored == planned.mirrored else found


def unmatched(
    contour: Contour, pose: Pose, rings: Sequence[Points], within_mm: float = SAME_MM
) -> tuple[int, int]:
    """How many rings of the contour are not among those read, and how many are left over."""
    left = list(rings)
    missing = 0
    for model in contour.cut:
        meant = pose.put(model)
        for k, ring in enumerate(left):
            if same_points(meant, ring, within_mm) or _same_line(meant, ring, within_mm):
                del left[k]
                break
        else:
            missing += 1
    return missing, len(left)


def _same_line(meant: Points, ring: Points, within_mm: float) -> bool:
    """The same line with other points on it, such as a start between two corners."""
    if len(meant) == len(ring):
        return False  # as many points, but elsewhere: a turned disc looks so
    low, high = meant.min(axis=0) - ring.min(axis=0), meant.max(axis=0) - ring.max(axis=0)
    if max(np.abs(low).max(), np.abs(high).max()) > within_mm:
        return False
    return ring_apart_mm(meant, ring) <= within_mm


def _like(contour: Contour, ring: Points) -> Points:
    """The ring of a contour that a read one stands for: its outermost; the backing may be lost."""
    if not contour.backing:
        return contour.rings[0]
    area = abs(area_mm2(ring))
    return min(contour.cut, key=lambda model: abs(abs(area_mm2(model)) - area))


def is_backing(contour: Contour, ring: Points) -> bool:
    """Whether a ring that was read is nearer to one of the backing, by its area, than others."""
    area = abs(area_mm2(ring))
    if not contour.backing:
        return False
    away = [
        min(abs(area - abs(area_mm2(model))) for model in rings)
        for rings in (contour.backing, contour.rings)
    ]
    return away[0] < away[1]


def copy_of(
    contours: Sequence[Contour],
    frame: SaidFrame,
    key: Key,
    rings: Sequence[Points],
    read: CopyRead,
) -> Copy:
    contour = contours[key[0] - 1]
    as_planned = read.missing == 0 and read.spare == 0
    if not as_planned:
        own = sorted((read.pose.back(ring) for ring in rings), key=lambda r: -abs(area_mm2(r)))
        backing = [ring for ring in own if contour.backing and is_backing(contour, ring)]
        kept = [ring for ring in own if not any(ring is other for other in backing)]
        if kept:
            contour = Contour(rings=tuple(kept), bleed_mm=contour.bleed_mm, backing=tuple(backing))
    return Copy(
        frame=frame.index,
        key=key,
        pose=read.pose,
        rings=tuple(rings),
        contour=contour,
        as_planned=as_planned,
    )
