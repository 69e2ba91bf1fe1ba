"""Contours as they lie on the film, and which ring lies in which."""

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.artwork import Decal
from nestplan.cut.cut_plan import CutStroke
from nestplan.cut.order import TOP
from nestplan.geometry.outline import Outline, signed_area_mm2, turn
from nestplan.geometry.same import SAME_MM
from nestplan.job import Cut
from nestplan.nest import Strip


def lines_of(decal: Decal) -> tuple[tuple[Cut, Outline], ...]:
    """All that is cut of a decal, and how: its contour, and the backing round it."""
    if decal.backing is None:
        return ((decal.cut, decal.contour),)
    return ((decal.cut, decal.contour), ("through", decal.backing))


def placed_rings(
    decals: tuple[Decal, ...], strip: Strip, shift_mm: tuple[float, float]
) -> list[CutStroke]:
    """All rings of a strip, whole, in run coordinates.

    shift_mm: where the strip's origin lies in run coordinates.
    """
    known: dict[tuple[int, float], tuple[tuple[Cut, NDArray[np.float64]], ...]] = {}
    rings: list[CutStroke] = []
    lying = strip.placements
    centres = lying.centre_mm + shift_mm
    for decal, angle, centre, copy in zip(
        lying.shape.tolist(), lying.angle_deg.tolist(), centres, strip.copy, strict=True
    ):
        if (decal, angle) not in known:
            known[decal, angle] = tuple(
                (kind, turn(ring, angle))
                for kind, line in lines_of(decals[decal])
                for ring in line.rings
            )
        own = len(decals[decal].contour.rings)
        rings += [
            CutStroke(
                kind=kind,
                decal=decal,
                copy=copy,
                ring=index,
                points_mm=ring + centre,
                is_backing=index >= own,
            )
            for index, (kind, ring) in enumerate(known[decal, angle])
        ]
    return rings


def inside_of_kind(rings: list[CutStroke]) -> NDArray[np.int64]:
    """For each whole ring the smallest of its kind of cut that has it inside, or TOP."""
    inside = np.full(len(rings), TOP, dtype=np.int64)
    kinds = np.array([ring.kind for ring in rings])
    for kind in np.unique(kinds):
        alike = np.flatnonzero(kinds == kind)
        within = surrounded_by([rings[ring].points_mm for ring in alike])
        inside[alike] = np.where(within == TOP, TOP, alike[within])
    return inside


def surrounded_by(corners: list[NDArray[np.float64]]) -> NDArray[np.int64]:
    """For each ring (n, 2) the smallest ring that has it inside, or TOP; shape (m,).

    Outer rings run counter-clockwise, holes clockwise and after the outer ring they lie in.
    Contours do not cross, so a hole surrounds whatever has one corner in it. Touching
    counts as inside: with no gutter a decal may fill a hole to its edge.
    """
    area = np.array([signed_area_mm2(ring) for ring in corners])
    inside = np.full(len(corners), TOP, dtype=np.int64)
    holes = np.flatnonzero(area < 0)
    if not len(holes):
        return inside
    outers = np.flatnonzero(area > 0)
    inside[holes] = outers[np.searchsorted(outers, holes) - 1]
    tree = shapely.STRtree(shapely.points([corners[outer][0] for outer in outers]))
    areas = [shapely.Polygon(corners[hole]) for hole in holes]
    pairs = tree.query(areas, predicate="dwithin", distance=SAME_MM)
    smallest_last = np.argsort(area[holes[pairs[0]]], kind="stable")  # areas of holes are negative
    for hole, outer in pairs[:, smallest_last].T.tolist():
        ring, around = outers[outer], holes[hole]
        if inside[around] != ring and -area[around] >= area[ring]:
            inside[ring] = around
    return inside
