"""Pictures of a PDF and the copies they belong to: which is whose, and how it lies.

Pairing goes by place and size, never by name. The picture's own units may be any: its
outline is laid on the contour's print first.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestplan.check.cut_copy import Copy
from nestplan.check.fit_ring import fit_ring
from nestplan.check.outlines import (
    Contour,
    Points,
    Pose,
    apart_mm,
    holes_of,
    parts_of,
    tree_of,
)
from nestplan.check.pdf_content import Key, through
from nestplan.check.pdf_pages import Picture, Placed
from nestplan.check.poses import pose_from

OUTLINE_MM = 0.03  # arcs of a grown contour are chords: the writer's and ours differ by less
FIT_MM = 0.05  # a fitted outline may be this far off before it counts as another shape
PAIR_REACH = 0.9  # of a decal's own reach: a print farther off belongs to another copy


def nearest(
    copies: Sequence[Copy], meant: Points, placed: Sequence[Placed], seen: Points
) -> dict[int, int]:
    """Copies to pictures, nearest and most alike in size first; each at most once."""
    if not len(meant) or not len(seen):
        return {}
    sizes = np.array([copy.contour.bled.area**0.5 * copy.pose.scale for copy in copies])
    found = np.array([_size(each) for each in placed])
    reach = np.array([copy.contour.reach_mm for copy in copies]) * PAIR_REACH
    tree = tree_of(seen)
    ones, others = tree.query(shapely.points(meant), predicate="dwithin", distance=reach)
    off = np.hypot(*(meant[ones] - seen[others]).T)
    cost = off + 0.5 * np.abs(sizes[ones] - found[others])
    match: dict[int, int] = {}
    taken: set[int] = set()
    for k in np.argsort(cost, kind="stable").tolist():
        i, j = int(ones[k]), int(others[k])
        if i not in match and j not in taken:
            match[i] = j
            taken.add(j)
    return match


def _size(placed: Placed) -> float:
    """Root of the area of a picture's outline on the page."""
    area = placed.picture.outline.area * abs(float(np.linalg.det(placed.matrix[:2])))
    return float(area**0.5)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lie:
    """How a picture's outline lies in its own units.

    pose: from the decal's coordinates to the picture's; None where no pose fits.
    """

    pose: Pose | None
    off_mm: float
    holes: int
    holes_meant: int


class Judge:
    """Compares outlines, each pair of picture and contour once.

    contours: of the decals, in the summary's order.
    """

    def __init__(self, contours: Sequence[Contour]) -> None:
        self.contours = contours
        self.known: dict[tuple[Key, int], Lie] = {}
        self.kept: list[Contour] = []  # so that no id is used twice

    def lie(self, picture: Picture, contour: Contour) -> Lie:
        key = (picture.form.key, id(contour))
        if key not in self.known:
            self.kept.append(contour)
            self.known[key] = _lie(picture, contour)
        return self.known[key]

    def whose(self, picture: Picture) -> int | None:
        """The first decal (from 1) whose print has just this outline, units and all."""
        for number, contour in enumerate(self.contours, start=1):
            if apart_mm(contour.bled, picture.outline) <= OUTLINE_MM:
                return number
        return None


def _lie(picture: Picture, contour: Contour) -> Lie:
    still = Pose(x_mm=0.0, y_mm=0.0)
    off = apart_mm(contour.bled, picture.outline)
    holes = len(holes_of(picture.outline)), len(holes_of(contour.bled))
    if off <= OUTLINE_MM:
        return Lie(pose=still, off_mm=off, holes=holes[0], holes_meant=holes[1])
    shifted = _shifted(contour.bled, picture.outline)
    if shifted is not None:
        off = apart_mm(shapely.transform(contour.bled, shifted.put), picture.outline)
        if off <= OUTLINE_MM:  # the origin of a picture may lie anywhere
            return Lie(pose=shifted, off_mm=off, holes=holes[0], holes_meant=holes[1])
    pose = None
    outers = [_outer(contour.bled), _outer(picture.outline)]
    if outers[0] is not None and outers[1] is not None:
        fit = fit_ring(outers[0], outers[1], still)
        off = fit.off_mm
        if holes[0] == holes[1]:
            off = max(off, apart_mm(shapely.transform(contour.bled, fit.pose.put), picture.outline))
        pose = fit.pose if off <= FIT_MM else None
    return Lie(pose=pose, off_mm=off, holes=holes[0], holes_meant=holes[1])


def _shifted(model: BaseGeometry, seen: BaseGeometry) -> Pose | None:
    """The shift that lays the middle of one box on that of the other."""
    if model.is_empty or seen.is_empty:
        return None
    a, b = np.array(model.bounds), np.array(seen.bounds)
    x, y = ((b - a)[:2] + (b - a)[2:]) / 2
    return Pose(x_mm=float(x), y_mm=float(y))


def _outer(region: BaseGeometry) -> Points | None:
    """The outer ring with most area."""
    polygons = parts_of(region)
    if not polygons:
        return None
    biggest = max(polygons, key=lambda polygon: shapely.Polygon(polygon.exterior).area)
    return np.asarray(biggest.exterior.coords)[:-1, :2]


def pose_on_film(
    judge: Judge, contour: Contour, placed: Placed, origin: Points
) -> tuple[Pose | None, float]:
    """Where a picture puts a decal, run coordinates, and how far it is stretched.

    origin: (2,) of the page in run coordinates. None where the outlines do not agree.
    """
    lie = judge.lie(placed.picture, contour)
    if lie.pose is None:
        return None, 0.0
    matrix = through(lie.pose.matrix(), placed.matrix)
    matrix[2] += origin
    return pose_from(matrix)
