"""What is wrong with the cut of one copy, said as specifically as the figures allow."""

from collections.abc import Sequence

import numpy as np

from nestplan.check.cut_copy import CopyRead, unmatched
from nestplan.check.findings import Kind
from nestplan.check.fit_ring import fit_ring
from nestplan.check.odd import Key, Odd
from nestplan.check.outlines import SAME_MM, Contour, Points, Pose, area_mm2, middle_of
from nestplan.check.poses import PoseKinds, pose_odds
from nestplan.check.said import Said
from nestplan.check.words import holes_words
from nestplan.figures import count, fixed

FAR_MM = 5.0  # a copy this far off may stand in another's place

_KINDS = PoseKinds(
    moved=Kind.CUT_MOVED, turned=Kind.CUT_TURNED, size=Kind.CUT_SIZE, mirrored=Kind.CUT_MIRRORED
)


def cut_odds(
    said: Said,
    contours: Sequence[Contour],
    planned: dict[Key, Pose],
    key: Key,
    rings: Sequence[Points],
    read: CopyRead,
) -> list[Odd]:
    """What is wrong with one copy, said as specifically as the figures allow."""
    if read.exact:
        return []
    contour, meant = contours[key[0] - 1], planned[key]
    if read.off_mm > SAME_MM or read.pose.shifted_from(meant) > FAR_MM:
        swap = _another_place(said, contours, planned, key, rings)
        if swap:
            return [Odd(key=key, kind=Kind.CUT_SWAPPED, found=swap, meant="its own place")]
    if read.off_mm > SAME_MM:
        found = _another_shape(said, contours, key, rings) or (
            f"up to {fixed(read.off_mm, 2)} mm off its outline"
        )
        return [Odd(key=key, kind=Kind.CUT_SHAPE, found=found, meant="its own outline")]
    return [
        *pose_odds(_KINDS, key, read.pose, meant, contour.reach_mm),
        *_ring_odds(key, contour, read),
    ]


def _ring_odds(key: Key, contour: Contour, read: CopyRead) -> list[Odd]:
    holes = len(contour.cut) - 1
    if read.missing and read.spare:
        found = f"{count(min(read.missing, read.spare), 'ring')} elsewhere or of another shape"
        return [Odd(key=key, kind=Kind.CUT_SHAPE, found=found, meant="its own rings")]
    if read.missing and contour.backing:
        found, meant = (f"{count(n, 'ring')}" for n in (holes + 1 - read.missing, holes + 1))
        return [Odd(key=key, kind=Kind.RING_LOST, found=found, meant=f"{meant}, backing counted")]
    if read.missing:
        found = holes_words(holes - read.missing)
        return [Odd(key=key, kind=Kind.HOLE_LOST, found=found, meant=holes_words(holes))]
    if read.spare:
        found, meant = f"{count(read.spare, 'ring')} more", count(len(contour.cut), "ring")
        return [Odd(key=key, kind=Kind.RING_EXTRA, found=found, meant=meant)]
    return []


def _another_place(
    said: Said,
    contours: Sequence[Contour],
    planned: dict[Key, Pose],
    key: Key,
    rings: Sequence[Points],
) -> str | None:
    """Whose place these rings are in, where they fit it exactly."""
    centre = middle_of(rings)
    for other, pose in planned.items():
        if (
            other == key
            or np.hypot(*(centre - (pose.x_mm, pose.y_mm))) > contours[other[0] - 1].reach_mm
        ):
            continue
        if unmatched(contours[other[0] - 1], pose, rings) == (0, 0):
            return f"in the place of {said.copy_name(*other)}"
    return None


def _another_shape(
    said: Said, contours: Sequence[Contour], key: Key, rings: Sequence[Points]
) -> str | None:
    """Which other decal has this shape."""
    biggest = max(rings, key=lambda ring: abs(area_mm2(ring)))
    for number, contour in enumerate(contours, start=1):
        if number == key[0]:
            continue
        fit = fit_ring(contour.cut[0], biggest, Pose(x_mm=0.0, y_mm=0.0))
        if fit.off_mm <= SAME_MM and abs(fit.pose.scale - 1) < 0.02:
            return f"the outline of {said.name(number)}"
    return None
