"""From the rings of a frame to what the knife does at one go: its strokes, before their order.

A ring stays one stroke, unless it shares edges with others or has tabs. Weed lines come after
them. What lies in a ring is cut before it: where the ring is in pieces, before one of them,
which then still holds.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nestplan.artwork import Decal
from nestplan.cut.along import length_mm
from nestplan.cut.cut_plan import KINDS, NO_DECAL, NO_RING, CutStroke
from nestplan.cut.keep_off import clear_zones, printed_words, squares
from nestplan.cut.knife import Knife, turned_round
from nestplan.cut.order import TOP
from nestplan.cut.rings import inside_of_kind
from nestplan.cut.shared import shared_edges
from nestplan.cut.tabs import TabRules, between_tabs, straight_most_mm, tabs_on
from nestplan.cut.weed import WeedFilm, kept_mm, weed_lines, within_windows
from nestplan.cut.wishes import Wishes
from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.figures import short
from nestplan.geometry.outline import signed_area_mm2
from nestplan.geometry.same import SAME_MM
from nestplan.marks import Frame, MarkPlan

NEAR_MARK_MM = 5.0  # a tab stays so far off a clear zone
AT_EDGE_MM = 10.0  # and so far off the film's edges and its own frame's ends


@dataclass(slots=True, kw_only=True, eq=False)
class Strokes:
    """inside: for each stroke the one that waits for it, or TOP. tabs: both ends of each (2, 2).

    untabbed: decals with holes that have no room for tabs.
    """

    strokes: list[CutStroke]
    inside: list[int]
    tabs: list[NDArray[np.float64]] = field(default_factory=list)
    shared_mm: float = 0.0
    untabbed: set[int] = field(default_factory=set)


def strokes_of(
    decals: tuple[Decal, ...],
    rings: list[CutStroke],
    wishes: Wishes,
    knife: Knife,
    marks: MarkPlan,
    frame: Frame,
) -> Strokes:
    """All strokes of a frame's rings, and its weed lines, in no order yet."""
    inside = inside_of_kind(rings).tolist()
    made = Strokes(strokes=rings, inside=inside)
    if wishes.share_edges:
        made = _shared(rings, inside)
    if wishes.tabs is not None:
        off = _no_tabs(wishes, marks, frame)
        rules = TabRules(
            width_mm=wishes.tabs.width_mm, spacing_mm=wishes.tabs.spacing_mm, kept_off=off
        )
        made = _tabbed(decals, made, rules, knife)
    if wishes.weed is not None:
        weeds = _weeds(decals, rings, wishes, knife, marks, frame)
        made.strokes = [*made.strokes, *weeds]
        made.inside += [TOP] * len(weeds)
    return made


def _shared(rings: list[CutStroke], inside: list[int]) -> Strokes:
    """Rings that share edges become paths; each is the stroke of all its rings."""
    strokes: list[CutStroke] = []
    owners: list[tuple[int, ...]] = []
    shared_mm = 0.0
    for kind in KINDS:
        alike = [k for k, ring in enumerate(rings) if ring.kind == kind]
        found = shared_edges([rings[k].points_mm for k in alike])
        shared_mm += found.length_mm
        gone = set(found.rings)
        for at, k in enumerate(alike):
            if at not in gone:
                strokes.append(rings[k])
                owners.append((k,))
        for path in found.paths:
            first = rings[alike[path.rings[0]]]
            strokes.append(
                replace(first, points_mm=path.points_mm, closed=path.closed, ring=NO_RING)
            )
            owners.append(tuple(alike[k] for k in path.rings))
    waits = _waiting(strokes, owners, inside)
    return Strokes(strokes=strokes, inside=waits, shared_mm=shared_mm)


def _waiting(
    strokes: list[CutStroke], owners: list[tuple[int, ...]], inside: list[int]
) -> list[int]:
    """For each stroke one that is cut later: of the ring round it, or round its own field."""
    last: dict[int, int] = {}  # the stroke that holds a ring until the end
    for k in sorted(range(len(strokes)), key=lambda k: (strokes[k].closed, _long(strokes[k]))):
        for ring in owners[k]:
            last[ring] = k
    fields = {
        k: shapely.Polygon(stroke.points_mm).buffer(SAME_MM, join_style="mitre")
        for k, stroke in enumerate(strokes)
        if stroke.closed and len(owners[k]) > 1
    }
    waits = []
    for k, stroke in enumerate(strokes):
        later = [last[inside[ring]] for ring in owners[k] if inside[ring] != TOP]
        later = [other for other in later if other != k]
        if not later and stroke.ring == NO_RING and fields:
            line = shapely.LineString(stroke.path_mm)
            later = [
                other
                for other, area in sorted(fields.items(), key=lambda item: item[1].area)
                if other != k and strokes[other].kind == stroke.kind and area.covers(line)
            ]
        waits.append(later[0] if later else TOP)
    return _without_rounds(waits)


def _long(stroke: CutStroke) -> float:
    return length_mm(stroke.points_mm, closed=stroke.closed)


def _without_rounds(waits: list[int]) -> list[int]:
    """Nothing waits for itself by way of others."""
    for first in range(len(waits)):
        seen, at = {first}, waits[first]
        while at != TOP and at not in seen:
            seen.add(at)
            at = waits[at]
        if at != TOP:
            waits[first] = TOP
    return waits


def _no_tabs(wishes: Wishes, marks: MarkPlan, frame: Frame) -> BaseGeometry:
    """Where no tab may stand in a frame."""
    left, right = wishes.film_mm
    low, high = frame.y0_mm, frame.y0_mm + frame.length_mm
    film = shapely.box(left, low, right, high)
    far = film.buffer(10 * AT_EDGE_MM, join_style="mitre")
    edges = far.difference(film.buffer(-AT_EDGE_MM, join_style="mitre"))
    gone = wishes.gone.buffer(AT_EDGE_MM)
    return shapely.union_all([edges, gone, *clear_zones(marks, frame, NEAR_MARK_MM)])


def _tabbed(decals: tuple[Decal, ...], made: Strokes, rules: TabRules, knife: Knife) -> Strokes:
    """Through cuts in pieces from tab to tab. raises: Fault where an outer ring has no room."""
    strokes: list[CutStroke] = []
    pieces: list[int] = []  # the last stroke of each that came in
    origin: list[int] = []
    tabs: list[NDArray[np.float64]] = []
    untabbed: set[int] = set()
    known: dict[tuple[int, int, bytes], NDArray[np.float64]] = {}
    shapely.prepare(rules.kept_off)
    free = replace(rules, kept_off=shapely.Polygon())
    for k, stroke in enumerate(made.strokes):
        at = np.empty(0)
        if stroke.kind == "through":
            ring = turned_round(stroke.points_mm, knife.turning)
            key = (stroke.decal, stroke.ring, np.round(ring - ring[0], 6).tobytes())
            if not shapely.intersects(rules.kept_off, _box(ring)):
                if key not in known:
                    known[key] = tabs_on(ring, free)
                at = known[key]
            else:
                at = tabs_on(ring, rules)
            if not len(at):
                if signed_area_mm2(stroke.points_mm) > 0:
                    raise _no_room(decals[stroke.decal].name, stroke, ring, rules)
                untabbed.add(stroke.decal)
        if len(at):
            one_way = knife.turning != "either"
            lines = between_tabs(ring, at, rules.width_mm)
            tabs += [
                np.array([before[-1], line[0]])
                for before, line in zip([lines[-1], *lines], lines, strict=False)
            ]
            strokes += [
                replace(stroke, points_mm=line, closed=False, one_way=one_way) for line in lines
            ]
            origin += [k] * len(lines)
        else:
            strokes.append(stroke)
            origin.append(k)
        pieces.append(len(strokes) - 1)
    inside = [TOP if made.inside[k] == TOP else pieces[made.inside[k]] for k in origin]
    return Strokes(
        strokes=strokes, inside=inside, tabs=tabs, shared_mm=made.shared_mm, untabbed=untabbed
    )


def _box(points: NDArray[np.float64]) -> BaseGeometry:
    (left, bottom), (right, top) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    box: BaseGeometry = shapely.box(left, bottom, right, top)
    return box


def _no_room(name: str, stroke: CutStroke, ring: NDArray[np.float64], rules: TabRules) -> Fault:
    """A ring that would fall out: corners too near, or marks and edges all round."""
    width, stretch = short(rules.width_mm, 2), 3 * rules.width_mm
    straight = straight_most_mm(ring)
    if straight < stretch:
        what = (
            f"a tab of {width} mm asks for a stretch of {short(stretch, 1)} mm without a sharp "
            f"corner, and the longest on {name} has {short(straight, 1)} mm"
        )
        return Fault(what=what, where="tabs, width_mm", do="write a smaller width_mm")
    return Fault(
        what=f"{name}, copy {stroke.copy}, has no room for two tabs: corners, marks and the "
        "film's edges leave too little of its cut",
        where="tabs",
        do="write a smaller width_mm, give the decal room to turn, or cut it without tabs",
        code=OUT_OF_REACH,
    )


def _weeds(
    decals: tuple[Decal, ...],
    rings: Sequence[CutStroke],
    wishes: Wishes,
    knife: Knife,
    marks: MarkPlan,
    frame: Frame,
) -> list[CutStroke]:
    """Weed border and weed lines of a frame."""
    assert wishes.weed is not None
    outer = [
        shapely.Polygon(ring.points_mm)
        for ring in rings
        if ring.is_backing == (decals[ring.decal].backing is not None)
        and signed_area_mm2(ring.points_mm) > 0
    ]
    kept = kept_mm(wishes.gutter_mm)
    gone = [wishes.gone.buffer(kept)] if not wishes.gone.is_empty else []
    words = list(printed_words(frame))
    film = WeedFilm(
        box_mm=(
            wishes.cuttable_mm[0],
            frame.y0_mm,
            wishes.cuttable_mm[1],
            frame.y0_mm + frame.length_mm,
        ),
        decals=list(outer),
        kept_mm=kept,
        closed=[*clear_zones(marks, frame), *words, *gone],
        aside=[*squares(marks, frame), *words, *gone],
    )
    window_mm = knife.windows.length_mm
    return [
        CutStroke(
            kind="weed",
            decal=NO_DECAL,
            copy=0,
            ring=NO_RING,
            points_mm=part.points_mm,
            closed=part.is_closed,
        )
        for line in weed_lines(wishes.weed, film)
        for part in within_windows(line, window_mm)
    ]
