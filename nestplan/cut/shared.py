"""Edges that two contours share are cut once: rings become paths that cover each edge once.

With neither gutter nor bleed, copies lie edge to edge. Of two edges on one line the part that
both have is cut with the earlier ring; what is left of the later ring is open. All lines are
then parted where they meet, and joined again straight on first: a field of labels is cut in
long straight strokes and not label by label.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import KDTree

from nestplan.cut.along import length_mm, part_of, reach_mm

Line = NDArray[np.float64]

TOGETHER_MM = 0.005  # edges no farther apart are one: less than a knife steps
LEAST_MM = 1.0  # of a straight edge, and of what two of them share
AHEAD_MM = 0.5  # the way a line leaves a joint is looked at over this length


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Path:
    """A stroke over edges of several rings. rings: whose edges it has, rising, each once."""

    points_mm: Line
    closed: bool
    rings: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shared:
    """rings: (k,) those that share an edge with another; paths: what is cut in place of them.

    length_mm: of edges that would have been cut twice.
    """

    rings: tuple[int, ...] = ()
    paths: tuple[Path, ...] = ()
    length_mm: float = 0.0


@dataclass(slots=True, kw_only=True, eq=False)
class _Edge:
    """A line between two joints, and whose it is; ends: the joints' numbers."""

    points: Line
    ring: int
    ends: tuple[int, int] = (-1, -1)
    onward: list[tuple[int, int] | None] = field(default_factory=lambda: [None, None])


def shared_edges(rings: list[Line]) -> Shared:
    """What rings (n, 2) of one kind of cut share, and the paths that cut every edge once."""
    pairs = _pairs(rings) if len(rings) > 1 else []
    if not pairs:
        return Shared()
    twice: dict[int, list[tuple[float, float]]] = {}
    for (_, later), span in pairs:
        twice.setdefault(later, []).append(span)
    touching = sorted({ring for both, _ in pairs for ring in both})
    left: list[tuple[Line, int]] = []
    saved_mm = 0.0
    for ring in touching:
        round_mm = length_mm(rings[ring], closed=True)
        spans = _merged(twice.get(ring, []))
        saved_mm += sum(high - low for low, high in spans)
        left += [(line, ring) for line in _without(rings[ring], spans, round_mm)]
    return Shared(rings=tuple(touching), paths=tuple(_paths(left)), length_mm=saved_mm)


def _pairs(rings: list[Line]) -> list[tuple[tuple[int, int], tuple[float, float]]]:
    """Rings that share an edge, the earlier first, and where on the later one, mm along it."""
    owner, begin, end, along = [], [], [], []
    for k, ring in enumerate(rings):
        onward = np.roll(ring, -1, axis=0)
        long = np.hypot(*(onward - ring).T) >= LEAST_MM
        owner.append(np.full(int(long.sum()), k))
        begin.append(ring[long])
        end.append(onward[long])
        along.append(reach_mm(ring, closed=True)[:-1][long])
    whose, a, b, start = (np.concatenate(each) for each in (owner, begin, end, along))
    if not len(whose):
        return []
    lines = np.asarray(shapely.linestrings(np.stack([a, b], axis=1)))
    one, other = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=TOGETHER_MM)
    kept = whose[one] < whose[other]
    one, other = one[kept], other[kept]
    unit = (b - a)[other] / np.hypot(*(b - a)[other].T)[:, None]
    normal = unit @ np.array([[0.0, 1.0], [-1.0, 0.0]])
    ends = np.stack([a[one], b[one]], axis=1) - a[other][:, None]  # seen from the later edge
    along_it = (ends * unit[:, None]).sum(axis=2)
    low = np.maximum(along_it.min(axis=1), 0.0)
    high = np.minimum(along_it.max(axis=1), np.hypot(*(b - a)[other].T))
    # how far the earlier edge lies off the later one at both ends of what they share
    off = (ends * normal[:, None]).sum(axis=2)
    slope = (off[:, 1] - off[:, 0]) / np.where(
        np.ptp(along_it, axis=1) > 0, along_it[:, 1] - along_it[:, 0], np.inf
    )
    at = [np.abs(off[:, 0] + slope * (where - along_it[:, 0])) for where in (low, high)]
    same = (high - low >= LEAST_MM) & (np.maximum(*at) <= TOGETHER_MM)
    found = [
        ((int(whose[i]), int(whose[j])), (float(start[j] + x), float(start[j] + y)))
        for i, j, x, y in zip(one[same], other[same], low[same], high[same], strict=True)
    ]
    return sorted(found)


def _merged(spans: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """The same stretches, none of them touching another."""
    merged: list[tuple[float, float]] = []
    for low, high in sorted(spans):
        if merged and low <= merged[-1][1] + TOGETHER_MM:
            merged[-1] = merged[-1][0], max(merged[-1][1], high)
        else:
            merged.append((low, high))
    return merged


def _without(ring: Line, spans: list[tuple[float, float]], round_mm: float) -> list[Line]:
    """What is left of a ring without these stretches, as open lines; a whole one comes closed."""
    if not spans:
        return [np.vstack([ring, ring[:1]])]
    ends = [low for low, _ in spans[1:]] + [spans[0][0] + round_mm]
    gaps = zip((high for _, high in spans), ends, strict=True)
    return [
        part_of(ring, begin % round_mm, end - begin + begin % round_mm, closed=True)
        for begin, end in gaps
        if end - begin > TOGETHER_MM
    ]


def _paths(lines: list[tuple[Line, int]]) -> Iterable[Path]:
    """Lines parted where they meet, and joined again as straight as can be."""
    ends = np.array([p for line, _ in lines for p in (line[0], line[-1])])
    joints = np.asarray(shapely.points(ends))
    tree = shapely.STRtree(joints)
    edges = []
    for line, ring in lines:
        whole = shapely.LineString(line)
        near = tree.query(whole, predicate="dwithin", distance=TOGETHER_MM)
        at = shapely.line_locate_point(whole, joints[np.sort(near)])
        edges += [_Edge(points=part, ring=ring) for part in _parted(line, np.sort(at))]
    _join(edges)
    walked: set[int] = set()
    starts = [k for k, edge in enumerate(edges) if None in edge.onward]
    for first in [*starts, *range(len(edges))]:  # open ways from an end of theirs, then rounds
        if first not in walked:
            yield _walk(edges, first, walked)


def _parted(line: Line, at_mm: Line) -> list[Line]:
    """The line cut at these places along it, rising; specks are not parted off."""
    long = length_mm(line, closed=False)
    cuts = [0.0]
    for at in at_mm.tolist():
        if at > cuts[-1] + TOGETHER_MM and at < long - TOGETHER_MM:
            cuts.append(at)
    return [part_of(line, low, high, closed=False) for low, high in pairwise([*cuts, long])]


def _join(edges: list[_Edge]) -> None:
    """Number the joints, and say for each end of an edge which end of which edge goes on."""
    ends = np.array([edge.points[k] for edge in edges for k in (0, -1)])
    close = KDTree(ends).query_pairs(2 * TOGETHER_MM, output_type="ndarray")
    links = coo_array(
        (np.ones(len(close)), (close[:, 0], close[:, 1])), shape=(len(ends), len(ends))
    )
    _, joint = connected_components(links, directed=False)
    meeting: dict[int, list[int]] = {}
    for k, number in enumerate(joint.tolist()):
        meeting.setdefault(number, []).append(k)
    for here in meeting.values():
        away = {k: _heading(edges[k // 2].points, k % 2) for k in here}
        turns = sorted(
            (round(float(away[a] @ away[b]), 6), a, b) for a in here for b in here if a < b
        )
        taken: set[int] = set()
        for _, a, b in turns:  # -1: straight on
            if a not in taken and b not in taken:
                taken |= {a, b}
                edges[a // 2].onward[a % 2] = b // 2, b % 2
                edges[b // 2].onward[b % 2] = a // 2, a % 2


def _heading(points: Line, end: int) -> Line:
    """The way a line leaves one of its ends, a unit vector (2,)."""
    line = points[::-1] if end else points
    reach = reach_mm(line, closed=False)
    ahead = min(AHEAD_MM, float(reach[-1]))
    step = np.array([np.interp(ahead, reach, line[:, k]) for k in (0, 1)]) - line[0]
    return np.asarray(step / max(float(np.hypot(*step)), 1e-12))


def _walk(edges: list[_Edge], first: int, walked: set[int]) -> Path:
    """From one edge on until the way ends or is round."""
    came = 0 if edges[first].onward[0] is None or edges[first].onward[1] is not None else 1
    at, rings = first, set()
    parts: list[Line] = []
    while True:
        walked.add(at)
        edge = edges[at]
        points = edge.points if came == 0 else edge.points[::-1]
        parts.append(points if not parts else points[1:])
        rings.add(edge.ring)
        onward = edge.onward[1 - came]
        if onward is None or onward[0] in walked:
            break
        at, came = onward
    points = np.vstack(parts)
    closed = onward is not None and onward[0] == first
    if closed:
        points = points[:-1]
    return Path(points_mm=points, closed=closed, rings=tuple(sorted(rings)))
