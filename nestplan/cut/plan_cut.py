"""The cut of a whole run: frame by frame, window by window, kiss cuts, weed lines, through cuts."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from math import dist

import numpy as np
from numpy.typing import NDArray

from nestplan.artwork import Decal
from nestplan.cut.along import length_mm
from nestplan.cut.cut_plan import KINDS, NO_DECAL, CutPlan, CutStroke, Extras, FrameCut
from nestplan.cut.knife import Knife, turned_round
from nestplan.cut.order import Rings, cutting_order
from nestplan.cut.overcut import lifted_at, refuse_long, run_on
from nestplan.cut.proof import A_PLANS, Proof
from nestplan.cut.rings import placed_rings
from nestplan.cut.strokes import Strokes, strokes_of
from nestplan.cut.windows import window_of
from nestplan.cut.wishes import Wishes
from nestplan.marks import Frame, MarkPlan
from nestplan.nest import Nest, Strip


def plan_cut(
    decals: tuple[Decal, ...],
    nest: Nest,
    marks: MarkPlan,
    knife: Knife | None = None,
    wishes: Wishes | None = None,
    *,
    rough: bool = False,
    proof: Proof | None = A_PLANS,
) -> CutPlan:
    """All that is cut of all copies in cutting order, run coordinates.

    In each frame the knife comes from the first mark; from stroke to stroke it is lifted. A
    ring comes after every ring of its window and kind that lies in it.

    rough: the first way, not searched for a better one, and no bound (0): for a price.
    proof: how closely the bound of the travel is worked out; None: it is 0.
    raises: Fault where a line is longer than a window, shorter than the overcut, or has no
    room for tabs.
    """
    knife, wishes = knife or Knife(), wishes or Wishes()
    made: list[Strokes] = []
    frames: list[FrameCut] = []
    for strip, frame in zip(nest.strips, marks.frames, strict=True):
        rings = _rings_on(decals, nest, strip, frame)
        strokes = Strokes(strokes=[], inside=[])
        if rings:
            strokes = strokes_of(decals, rings, wishes, knife, marks, frame)
        made.append(strokes)
        cut = _in_order(decals, strokes, knife, frame, rough)
        tabs = np.array(strokes.tabs).reshape(-1, 2, 2)
        frames.append(FrameCut(index=frame.index, strokes=cut, tabs_mm=tabs))
    both = list(zip(marks.frames, frames, strict=True))
    return CutPlan(
        frames=tuple(frames),
        contours=sum(len(strip.placements) for strip in nest.strips),
        length_mm=sum(_knife_mm(cut.strokes) for cut in frames),
        travel_mm=sum(_travel_mm(frame, cut) for frame, cut in both),
        travel_bound_mm=0.0 if rough or proof is None else _bound_mm(marks, frames, proof),
        extras=_extras(frames, made, knife, wishes),
    )


def _rings_on(decals: tuple[Decal, ...], nest: Nest, strip: Strip, frame: Frame) -> list[CutStroke]:
    if not len(strip.placements):
        return []
    return placed_rings(decals, strip, (nest.x0_mm, frame.strip_y0_mm))


def _in_order(
    decals: tuple[Decal, ...], made: Strokes, knife: Knife, frame: Frame, rough: bool
) -> tuple[CutStroke, ...]:
    """The strokes of a frame as they are cut, each from where it begins."""
    if not made.strokes:
        return ()
    strokes = [_in_window(*each) for each in zip(made.strokes, _windows(made, knife), strict=True)]
    strokes = [_turned(stroke, knife) for stroke in strokes]
    over = [_overcut_mm(decals, stroke, knife) for stroke in strokes]
    begins, ends = zip(
        *(_ends(stroke, more) for stroke, more in zip(strokes, over, strict=True)), strict=True
    )
    first = np.concatenate([[0], np.cumsum([len(each) for each in begins])]).astype(np.int64)
    rings = Rings(
        corners=np.concatenate(begins),
        first=first,
        inside=np.array(made.inside, dtype=np.int64),
        rank=np.array([_rank(stroke) for stroke in strokes], np.int64),
        leave=np.concatenate(ends),
        one_way=np.array([stroke.one_way for stroke in strokes]),
    )
    origin = np.array([frame.marks[0].x_mm, frame.marks[0].y_mm])
    order, start = cutting_order(rings, origin, kicks=0 if rough else None)
    return tuple(
        _begun(strokes[row], int(start[row] - first[row]), over[row]) for row in order.tolist()
    )


def _windows(made: Strokes, knife: Knife) -> NDArray[np.int64]:
    spans = [(s.points_mm[:, 1].min(), s.points_mm[:, 1].max()) for s in made.strokes]
    return window_of(np.array(spans), knife.windows)


def _in_window(stroke: CutStroke, window: int) -> CutStroke:
    return replace(stroke, window=int(window)) if window else stroke


def _turned(stroke: CutStroke, knife: Knife) -> CutStroke:
    """Closed lines the way round that the knife needs."""
    if not stroke.closed or knife.turning == "either":
        return stroke
    return replace(stroke, points_mm=turned_round(stroke.points_mm, knife.turning))


def _overcut_mm(decals: tuple[Decal, ...], stroke: CutStroke, knife: Knife) -> float:
    """How far the knife runs on; the weed border need not close."""
    if not knife.overcut_mm or not stroke.closed or stroke.decal == NO_DECAL:
        return 0.0
    refuse_long(stroke.points_mm, knife.overcut_mm, decals[stroke.decal].name)
    return knife.overcut_mm


def _ends(stroke: CutStroke, over_mm: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where a stroke may begin (k, 2), and where it then ends."""
    points = stroke.points_mm
    if stroke.closed:
        return points, lifted_at(points, over_mm)
    ends = points[[0, -1]]
    return (ends[:1], ends[1:]) if stroke.one_way else (ends, ends[::-1])


def _begun(stroke: CutStroke, begin: int, over_mm: float) -> CutStroke:
    """The stroke from its chosen begin on."""
    points = stroke.points_mm
    if stroke.closed:
        points = np.concatenate([points[begin:], points[:begin]])
    elif begin:
        points = points[::-1].copy()
    if over_mm:
        points = run_on(points, over_mm)
    points.flags.writeable = False
    closed = stroke.closed and not over_mm
    return replace(stroke, points_mm=points, closed=closed, overcut_mm=over_mm)


def _knife_mm(strokes: Iterable[CutStroke]) -> float:
    return sum(length_mm(stroke.points_mm, closed=stroke.closed) for stroke in strokes)


def _travel_mm(frame: Frame, cut: FrameCut) -> float:
    origin = np.array([frame.marks[0].x_mm, frame.marks[0].y_mm])
    left = [origin, *(stroke.end_mm for stroke in cut.strokes)]
    return sum(
        dist(place.tolist(), stroke.points_mm[0].tolist())
        for place, stroke in zip(left[:-1], cut.strokes, strict=True)
    )


def _bound_mm(marks: MarkPlan, frames: Sequence[FrameCut], proof: Proof) -> float:
    """Least travel of all frames; of frames that are nested and marked alike, worked out once.

    Strokes that are lifted elsewhere than put down are bounded as one piece, end to end.
    An overcut ring is left no farther than its overcut from where it was entered.
    """
    from nestplan.cut.travel_bound import travel_bound_mm  # loads a solver: not for every command

    known: dict[bytes, float] = {}
    total_mm = 0.0
    for frame, cut in zip(marks.frames, frames, strict=True):
        origin = np.array([frame.marks[0].x_mm, frame.marks[0].y_mm])
        rings = [_entered(stroke) - origin for stroke in cut.strokes]
        phase = [_rank(stroke) for stroke in cut.strokes]
        alike = np.round(np.concatenate([*rings, np.column_stack([phase, phase])]), 6).tobytes()
        if alike not in known:
            known[alike] = travel_bound_mm(
                np.zeros(2),
                rings,
                np.array(phase, dtype=np.int64),
                whole=np.array([stroke.is_line for stroke in cut.strokes]),
                proof=proof,
            )
        total_mm += max(0.0, known[alike] - sum(stroke.overcut_mm for stroke in cut.strokes))
    return total_mm


def _entered(stroke: CutStroke) -> NDArray[np.float64]:
    """Where the knife comes down or goes up, as a ring: of an open line there and back."""
    points = stroke.points_mm
    if not stroke.is_line:
        return points
    middle = (points[0] + points[-1]) / 2
    return np.array([points[0], middle, points[-1], middle])


def _rank(stroke: CutStroke) -> int:
    return stroke.window * len(KINDS) + KINDS.index(stroke.kind)


def _extras(frames: list[FrameCut], made: list[Strokes], knife: Knife, wishes: Wishes) -> Extras:
    weeds = [s for cut in frames for s in cut.strokes if s.kind == "weed"]
    return Extras(
        overcut_mm=knife.overcut_mm,
        tabs=sum(len(each.tabs) for each in made),
        tab_mm=wishes.tabs.width_mm if wishes.tabs is not None else 0.0,
        weed_lines=len(weeds),
        weed_mm=_knife_mm(weeds),
        shared_mm=sum(each.shared_mm for each in made),
        untabbed=tuple(sorted({decal for each in made for decal in each.untabbed})),
    )
