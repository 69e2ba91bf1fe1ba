"""The cut of a whole run: frame by frame, window by window, kiss cuts before through cuts."""

from itertools import pairwise
from math import dist

import numpy as np
from numpy.typing import NDArray

from nestplan.artwork import Decal
from nestplan.cut.cut_plan import CutPlan, CutRing, FrameCut
from nestplan.cut.knife import Knife, turned_round
from nestplan.cut.order import cutting_order
from nestplan.cut.rings import KINDS, lines_of, placed_rings
from nestplan.cut.travel_bound import travel_bound_mm
from nestplan.marks import Frame, MarkPlan
from nestplan.nest import Nest, Strip


def plan_cut(
    decals: tuple[Decal, ...],
    nest: Nest,
    marks: MarkPlan,
    knife: Knife | None = None,
    *,
    rough: bool = False,
) -> CutPlan:
    """All rings of all copies in cutting order, run coordinates.

    In each frame the knife comes from the first mark; from ring to ring it is lifted. A
    ring comes after every ring of its window and kind that lies in it.

    rough: the first way, not searched for a better one, and no bound (0): for a price.
    raises: Fault where a ring is longer than a window.
    """
    knife = knife or Knife()
    frames = tuple(
        FrameCut(index=frame.index, rings=_frame_rings(decals, nest, strip, frame, knife, rough))
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
        travel_bound_mm=0.0 if rough else _bound_mm(marks, frames),
    )


def _frame_rings(
    decals: tuple[Decal, ...],
    nest: Nest,
    strip: Strip,
    frame: Frame,
    knife: Knife,
    rough: bool,
) -> tuple[CutRing, ...]:
    if not len(strip.placements):
        return ()
    placed = placed_rings(decals, strip, (nest.x0_mm, frame.strip_y0_mm), knife.windows)
    origin = np.array([frame.marks[0].x_mm, frame.marks[0].y_mm])
    order, start = cutting_order(placed.rings, origin, kicks=0 if rough else None)
    first, corners = placed.rings.first, placed.rings.corners
    cut: list[CutRing] = []
    for row in order.tolist():
        low, begin, high = first[row], start[row], first[row + 1]
        ring = np.concatenate([corners[begin:high], corners[low:begin]])
        cut.append(
            CutRing(
                kind=KINDS[int(placed.rings.rank[row]) % len(KINDS)],
                decal=int(placed.decal[row]),
                copy=int(placed.copy[row]),
                ring=int(placed.ring[row]),
                is_backing=int(placed.ring[row])
                >= len(decals[int(placed.decal[row])].contour.rings),
                window=int(placed.rings.rank[row]) // len(KINDS),
                points_mm=_read_only(turned_round(ring, knife.turning)),
            )
        )
    return tuple(cut)


def _travel_mm(frame: Frame, cut: FrameCut) -> float:
    stops = [(frame.marks[0].x_mm, frame.marks[0].y_mm), *(ring.points_mm[0] for ring in cut.rings)]
    return sum(dist(a, b) for a, b in pairwise(stops))


def _bound_mm(marks: MarkPlan, frames: tuple[FrameCut, ...]) -> float:
    """Least travel of all frames; of frames that are nested and marked alike, worked out once."""
    known: dict[bytes, float] = {}
    total_mm = 0.0
    for frame, cut in zip(marks.frames, frames, strict=True):
        origin = np.array([frame.marks[0].x_mm, frame.marks[0].y_mm])
        rings = [ring.points_mm - origin for ring in cut.rings]
        phase = [ring.window * len(KINDS) + KINDS.index(ring.kind) for ring in cut.rings]
        alike = np.round(np.concatenate([*rings, np.column_stack([phase, phase])]), 6)
        if alike.tobytes() not in known:
            known[alike.tobytes()] = travel_bound_mm(
                np.zeros(2), rings, np.array(phase, dtype=np.int64)
            )
        total_mm += known[alike.tobytes()]
    return total_mm


def _read_only(points: NDArray[np.float64]) -> NDArray[np.float64]:
    points.flags.writeable = False
    return points
