"""The points of a contour at which its error is looked at."""

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.artwork import Decal
from nestplan.artwork.decal import print_beyond_mm
from nestplan.geometry.outline import Outline, turn
from nestplan.marks.mark_plan import Frame
from nestplan.nest import Nest

DIRECTIONS = 8  # a box gives its four corners, a disc an octagon
APART_SHARE = 1 / 3  # of the correlation length: between two points the error hardly turns


def contour_points(outline: Outline, length_mm: float) -> NDArray[np.float64]:
    """(n, 2) points about the outline's own centre, on the edge of its convex hull.

    What the marks' noise leaves is affine in the place, so its size is greatest at a corner
    of the hull; the corners farthest in eight directions stand for all. A smooth field may be
    greater between them, so long sides get points in between.
    """
    hull = shapely.convex_hull(shapely.MultiPoint(np.concatenate(outline.rings)))
    corners = shapely.get_coordinates(hull)[:-1]
    turn = np.arange(DIRECTIONS) * (2 * np.pi / DIRECTIONS)
    far = (corners @ np.array([np.cos(turn), np.sin(turn)])).argmax(axis=0)
    chosen = corners[np.unique(far)]
    sides = np.roll(chosen, -1, axis=0) - chosen
    parts = np.ceil(np.hypot(*sides.T) / (APART_SHARE * length_mm)).astype(int)
    return np.concatenate(
        [
            start + side * np.arange(n)[:, None] / n
            for start, side, n in zip(chosen, sides, np.maximum(parts, 1).tolist(), strict=True)
        ]
    )


def points_and_bleed(
    contour: Outline, backing: Outline | None, bleed_mm: float, length_mm: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Points (n, 2) of a decal's cut lines, and the print beyond the line there (n,), mm.

    A backing is looked at too where the print reaches it: as if it reached so far all round.
    """
    points = contour_points(contour, length_mm)
    beyond_mm = print_beyond_mm(contour, backing, bleed_mm)
    if backing is None or beyond_mm == 0:
        return points, np.full(len(points), bleed_mm)
    further = contour_points(backing, length_mm)
    each_mm = np.repeat([bleed_mm, beyond_mm], [len(points), len(further)])
    return np.concatenate([points, further]), each_mm


def decal_points(decal: Decal, length_mm: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The same of a decal, in its own coordinates."""
    return points_and_bleed(decal.contour, decal.backing, decal.bleed_mm, length_mm)


def copy_points(
    decals: tuple[Decal, ...], nest: Nest, frame: Frame, length_mm: float
) -> list[NDArray[np.float64]]:
    """For each copy of a frame its points (n, 2) in run coordinates."""
    places = nest.strips[frame.index - 1].placements.moved(nest.x0_mm, frame.strip_y0_mm)
    points = [decal_points(decal, length_mm)[0] for decal in decals]
    return [turn(points[shape], angle) + centre for shape, centre, angle in places.each()]
