"""Drawn lines become a cut line: closed rings that neither cross nor lie on each other.

Whatever a knife could not follow as meant is a fault with its place. Ends nearer than
`JOIN_MM` are joined, as drawing programs leave them; anything wider is for a person.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from nestplan.faults import Fault, Note, raise_all
from nestplan.figures import count, fixed
from nestplan.geometry.outline import FLATTEN_MM, signed_area_mm2
from nestplan.geometry.polyline import Points, without_repeats

JOIN_MM = 0.05  # ends this near are one point: two steps of a knife
STEP_MM = 0.001  # points nearer than this are one; a knife steps 0.025
TINY_MM = 0.5  # no knife turns in less (common practice, no source)
FLAT_MM2 = 1e-4  # a ring of less encloses nothing
OPEN_MOST = 5_000  # pieces to be joined; more is no cut line but a hatching
SHOWN_MOST = 8  # faults of one kind; more tell nothing new


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trail:
    """One drawn run: points (n, 2) in page mm, y up; closed as the file says."""

    points: Points
    closed: bool
    where: str

    def moved(self, dx_mm: float, dy_mm: float) -> "Trail":
        """The same run elsewhere."""
        return replace(self, points=self.points + np.array([dx_mm, dy_mm]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruler:
    """Says where a point is, as the drawing program shows it: own mm, from the upper left."""

    own_per_mm: float  # own millimetres to one at the final size

    def place(self, point: Points) -> str:
        """ "x 12.30, y 4.00 mm from the upper left"."""
        x, y = (point * self.own_per_mm).tolist()
        return f"x {fixed(x, 2)}, y {fixed(-y, 2)} mm from the page's upper left"


def ring_region(
    trails: Sequence[Trail], ruler: Ruler, source: str
) -> tuple[shapely.Geometry, list[Note]]:
    """The area that drawn lines enclose; rings in rings are holes, and islands in them.

    raises: Fault or Faults for lines that are open, cross, meet or enclose nothing.
    """
    rings, faults = _joined(trails, ruler)
    for ring in rings:
        faults += _flat(ring)
    raise_all(faults)
    if not rings:
        raise _no_area(trails[0])
    rings, notes = _large_enough(rings, source)
    for ring in rings:
        faults += _crosses_itself(ring, ruler)
    raise_all(faults[:SHOWN_MOST])
    rings = _once(rings)
    raise_all(_crossings(rings, ruler)[:SHOWN_MOST])
    return _nested(rings), notes


def _joined(trails: Sequence[Trail], ruler: Ruler) -> tuple[list[Trail], list[Fault]]:
    """Closed rings, from closed runs and from open ones whose ends meet."""
    rings, loose = [], []
    for trail in trails:
        points = without_repeats(trail.points, STEP_MM)
        if len(points) < 2:
            continue  # a dot that a drawing program left behind
        gap = float(np.hypot(*(points[-1] - points[0])))
        if gap <= JOIN_MM and (trail.closed or len(points) > 3):
            kept = points[:-1] if gap <= STEP_MM else points
            rings.append(Trail(points=kept, closed=True, where=trail.where))
        else:
            loose.append(Trail(points=points, closed=False, where=trail.where))
    if len(loose) > OPEN_MOST:
        what = f"the cut line is in {len(loose)} open pieces"
        do = "draw it as closed paths"
        return rings, [Fault(what=what, where=loose[0].where, do=do)]
    joined, faults = _chained(loose, ruler)
    return [*rings, *joined], faults


def _chained(loose: list[Trail], ruler: Ruler) -> tuple[list[Trail], list[Fault]]:
    """Follow open runs from end to end; what does not come back to its start is a fault."""
    if not loose:
        return [], []
    ends = np.array([t.points[k] for t in loose for k in (0, -1)])  # 2i begins, 2i + 1 ends run i
    away = np.hypot(*(ends[:, np.newaxis] - ends).transpose(2, 0, 1))
    np.fill_diagonal(away, np.inf)
    nearest = away.argmin(axis=1)
    meets = (nearest[nearest] == np.arange(len(ends))) & (away.min(axis=1) <= JOIN_MM)
    rings, faults, used = [], [], set[int]()
    for first in range(len(loose)):
        if first in used:
            continue
        chain, end = [loose[first].points], 2 * first + 1
        used.add(first)
        while meets[end] and nearest[end] // 2 not in used:
            begin = int(nearest[end])
            run = loose[begin // 2]
            used.add(begin // 2)
            chain.append(run.points[1:] if begin % 2 == 0 else run.points[-2::-1])
            end = begin ^ 1
        if meets[end] and nearest[end] == 2 * first and len(chain) > 1:
            points = np.concatenate(chain)[:-1]
            rings.append(Trail(points=points, closed=True, where=loose[first].where))
        else:
            faults += _open(loose[first], ends, away, 2 * first, ruler)
    return rings, _few(faults)


def _open(trail: Trail, ends: Points, away: Points, begin: int, ruler: Ruler) -> list[Fault]:
    """Why a run is not closed. Both its ends are looked at; the wider gap is told."""
    gaps = {k: float(away[k].min()) for k in (begin, begin + 1)}
    worst = max(gaps, key=lambda k: gaps[k])
    if gaps[worst] <= JOIN_MM:
        what = "the cut line is open: it meets other lines, but leads nowhere round"
    else:
        what = f"the cut line is open: its ends leave a gap of {fixed(gaps[worst], 2)} mm"
    return [
        Fault(
            what=what,
            where=f"{trail.where}, {ruler.place(ends[worst])}",
            do=f"close the path; gaps up to {JOIN_MM:g} mm are closed for you",
        )
    ]


def _few(faults: list[Fault]) -> list[Fault]:
    """The first faults, the last of them saying how many there are."""
    if len(faults) <= SHOWN_MOST:
        return faults
    last = faults[SHOWN_MOST - 1]
    more = f"{last.what} (and {len(faults) - SHOWN_MOST} more like it)"
    return [*faults[: SHOWN_MOST - 1], Fault(what=more, where=last.where, do=last.do)]


def _flat(ring: Trail) -> list[Fault]:
    """A ring must enclose something."""
    if len(ring.points) >= 3 and abs(signed_area_mm2(ring.points)) >= FLAT_MM2:
        return []
    if len(ring.points) >= 4 and not shapely.LinearRing(ring.points).is_simple:
        return []  # an eight encloses nothing on balance: told as a crossing
    return [_no_area(ring)]


def _no_area(trail: Trail) -> Fault:
    return Fault(
        what="the cut line encloses no area",
        where=trail.where,
        do="draw a closed shape, not a dot and not a line there and back",
    )


def _large_enough(rings: list[Trail], source: str) -> tuple[list[Trail], list[Note]]:
    """Leave out rings in which no knife can turn, and say so."""
    kept = [ring for ring in rings if np.ptp(ring.points, axis=0).max() >= TINY_MM]
    tiny = [ring for ring in rings if np.ptp(ring.points, axis=0).max() < TINY_MM]
    if not kept and tiny:
        raise Fault(
            what=f"the cut line is less than {TINY_MM:g} mm across",
            where=tiny[0].where,
            do="check the size of the decal, or draw its cut line larger",
        )
    if not tiny:
        return kept, []
    text = (
        f"{count(len(tiny), 'ring')} of the cut line less than {TINY_MM:g} mm across "
        f"{'is' if len(tiny) == 1 else 'are'} left out: {tiny[0].where.removeprefix(source + ', ')}"
    )
    return kept, [Note(level="look", where=source, text=text)]


def _crosses_itself(ring: Trail, ruler: Ruler) -> list[Fault]:
    """A ring must be simple; the place comes from the geometry library's own words."""
    area = shapely.Polygon(ring.points)
    if area.is_valid:
        return []
    numbers = re.search(r"\[(\S+) (\S+)\]", shapely.is_valid_reason(area))
    place = ""
    if numbers is not None:
        place = f", {ruler.place(np.array([float(numbers[1]), float(numbers[2])]))}"
    return [
        Fault(
            what="the cut line crosses or touches itself",
            where=f"{ring.where}{place}",
            do="pull the line apart there, or unite the overlapping parts",
        )
    ]


def _once(rings: list[Trail]) -> list[Trail]:
    """Merge rings that are drawn twice: a knife would cut twice."""
    kept: list[Trail] = []
    lines: list[shapely.LinearRing] = []
    for ring in rings:
        line = shapely.LinearRing(ring.points)
        if not any(same_line(line, other) for other in lines):
            kept.append(ring)
            lines.append(line)
    return kept


def same_line(one: shapely.LinearRing, two: shapely.LinearRing) -> bool:
    """Whether two rings are nowhere farther apart than flattening explains."""
    off = np.abs(np.array(one.bounds) - np.array(two.bounds)).max()
    if off > FLATTEN_MM:
        return False
    return float(shapely.hausdorff_distance(one, two, densify=0.1)) <= 2 * FLATTEN_MM


def _crossings(rings: list[Trail], ruler: Ruler) -> list[Fault]:
    """Two rings must not meet."""
    lines = [shapely.LinearRing(ring.points) for ring in rings]
    faults = []
    for i, j in shapely.STRtree(lines).query(lines, predicate="intersects").T.tolist():
        if i < j:
            meeting = shapely.get_coordinates(shapely.intersection(lines[i], lines[j]))[0]
            faults.append(
                Fault(
                    what="two cut lines cross or touch",
                    where=f"{rings[j].where}, {ruler.place(meeting)}",
                    do=f"unite them or pull them apart; the other is {rings[i].where}",
                )
            )
    return faults


def _nested(rings: list[Trail]) -> shapely.Geometry:
    """Even-odd: a ring in an odd number of others is a hole in the smallest of them."""
    areas = [shapely.Polygon(ring.points) for ring in rings]
    firsts = shapely.points([ring.points[0] for ring in rings])
    around: list[list[int]] = [[] for _ in rings]
    for i, j in shapely.STRtree(areas).query(firsts, predicate="within").T.tolist():
        if i != j:
            around[i].append(j)
    holes: dict[int, list[Points]] = {i: [] for i in range(len(rings)) if len(around[i]) % 2 == 0}
    for i, outside in enumerate(around):
        if len(outside) % 2 == 1:
            holes[max(outside, key=lambda j: len(around[j]))].append(rings[i].points)
    parts = [shapely.Polygon(rings[i].points, inner) for i, inner in holes.items()]
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)
