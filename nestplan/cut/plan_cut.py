"""The cut of a whole run: frame by frame, all kiss cuts, then all through cuts."""

from itertools import pairwise
from math import dist

import numpy as np
from numpy.typing import NDArray

from nestplan.artwork import Decal
from nestplan.cut.cut_plan import CutPlan, CutRing, FrameCut
from nestplan.cut.order import cutting_order
from nestplan.cut.rings import lines_of, placed_rings
from nestplan.job import Cut
from nestplan.marks import Frame, MarkPlan
from nestplan.nest import Nest, Strip

KINDS: tuple[Cut, ...] = ("kiss", "through")  # film that is cut through no longer lies still


def plan_cut(decals: tuple[Decal, ...], nest: Nest, marks: MarkPlan) -> CutPlan:
    """All rings of all copies in cutting order, run coordinates.

    In each frame the knife comes from the first mark; from ring to ring it is lifted. A
    ring comes after every ring of its kind that lies in it.
    """
    frames = tuple(
        FrameCut(index=frame.index, rings=_frame_rings(decals, nest, strip, frame))
        for strip, frame in zip(nest.strips, marks.frames, strict=True)
    )
    knife_mm = [sum(line.length_mm for _, line in lines_of(decal)) for decal in decals]
    return CutPlan(
        frames=frames,
        contours=sum(len(strip.placements) for strip in nest.strips),
        length_mm=sum(
            knife_mm[shape] for strip in nest.strips for shape in strip.placements.shape.tolist()
        ),
        travel_mm=sum(
            _travel_mm(frame, cut) for frame, cut in zip(marks.frames, frames, strict=True)
        ),
    )


def _frame_rings(
    decals: tuple[Decal, ...], nest: Nest, strip: Strip, frame: Frame
) -> tuple[CutRing, ...]:
    cut: list[CutRing] = []
    knife = np.array([frame.marks[0].x_mm, frame.marks[0].y_mm])
    for kind in KINDS:
        placed = placed_rings(decals, strip, (nest.x0_mm, frame.strip_y0_mm), kind)
        if placed is None:
            continue
        order, start = cutting_order(placed.rings, knife)
        first, corners = placed.rings.first, placed.rings.corners
        for row in order.tolist():
            low, begin, high = first[row], start[row], first[row + 1]
            cut.append(
                CutRing(
                    kind=kind,
                    decal=int(placed.decal[row]),
                    copy=int(placed.copy[row]),
                    ring=int(placed.ring[row]),
                    is_backing=int(placed.ring[row])
                    >= len(decals[int(placed.decal[row])].contour.rings),
                    points_mm=_read_only(np.concatenate([corners[begin:high], corners[low:begin]])),
                )
            )
        knife = cut[-1].points_mm[0]
    return tuple(cut)


def _travel_mm(frame: Frame, cut: FrameCut) -> float:
    stops = [(frame.marks[0].x_mm, frame.marks[0].y_mm), *(ring.points_mm[0] for ring in cut.rings)]
    return sum(dist(a, b) for a, b in pairwise(stops))


def _read_only(points: NDArray[np.float64]) -> NDArray[np.float64]:
    points.flags.writeable = False
    return points
