"""Contours as they lie on the film, and which ring lies in which."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.artwork import Decal
from nestplan.cut.order import TOP, Rings
from nestplan.cut.windows import Windows, window_of
from nestplan.geometry.outline import Outline, signed_area_mm2, turn
from nestplan.geometry.same import SAME_MM
from nestplan.job import Cut
from nestplan.nest import Strip

KINDS: tuple[Cut, ...] = ("kiss", "through")  # film that is cut through no longer lies still


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placed:
    """The rings of one frame, row r of every array is ring r.

    decal, copy (from 1) and ring say which ring of which copy it is, as in `CutRing`.
    """

    decal: NDArray[np.int64]  # (m,)
    copy: NDArray[np.int64]  # (m,)
    ring: NDArray[np.int64]  # (m,)
    rings: Rings


def lines_of(decal: Decal) -> tuple[tuple[Cut, Outline], ...]:
    """All that is cut of a decal, and how: its contour, and the backing round it."""
    if decal.backing is None:
        return ((decal.cut, decal.contour),)
    return ((decal.cut, decal.contour), ("through", decal.backing))


def placed_rings(
    decals: tuple[Decal, ...], strip: Strip, shift_mm: tuple[float, float], windows: Windows
) -> Placed:
    """All rings of a strip, in run coordinates, ranked by window and then by kind of cut.

    shift_mm: where the strip's origin lies in run coordinates.
    """
    known: dict[tuple[int, float], tuple[tuple[Cut, NDArray[np.float64]], ...]] = {}
    corners: list[NDArray[np.float64]] = []
    names: list[tuple[int, int, int]] = []
    kinds: list[int] = []
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
        for index, (kind, ring) in enumerate(known[decal, angle]):
            corners.append(ring + centre)
            names.append((decal, copy, index))
            kinds.append(KINDS.index(kind))
    decal_copy_ring = np.array(names, dtype=np.int64)
    return Placed(
        decal=decal_copy_ring[:, 0],
        copy=decal_copy_ring[:, 1],
        ring=decal_copy_ring[:, 2],
        rings=_rings(corners, np.array(kinds, dtype=np.int64), windows),
    )


def _rings(corners: list[NDArray[np.float64]], kinds: NDArray[np.int64], windows: Windows) -> Rings:
    sizes = [len(ring) for ring in corners]
    spans = np.array([(ring[:, 1].min(), ring[:, 1].max()) for ring in corners])
    window = window_of(spans, windows)
    return Rings(
        corners=np.concatenate(corners),
        first=np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64),
        inside=_inside_of_kind(corners, kinds),
        rank=window * len(KINDS) + kinds,
    )


def _inside_of_kind(
    corners: list[NDArray[np.float64]], kinds: NDArray[np.int64]
) -> NDArray[np.int64]:
    """For each ring the smallest of its kind of cut that has it inside, or TOP."""
    inside = np.full(len(corners), TOP, dtype=np.int64)
    for kind in np.unique(kinds):
        alike = np.flatnonzero(kinds == kind)
        within = surrounded_by([corners[ring] for ring in alike])
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
