"""Which paint of vector art must go on beyond the contour, and in which part of the bleed.

The edge of all paint is walked where it ends at the contour. Each place of it knows the
paints that lie there; each place of the bleed belongs to the place of the edge nearest to it
(Voronoi). Millimetres, page coordinates.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import Voronoi, cKDTree

from nestplan.geometry.offset import grown
from nestplan.geometry.outline import outline_of
from nestplan.geometry.polyline import Points

NEAR_MM = 0.15  # paint that ends no farther inside the contour ends at it
STEP_MM = 0.1  # between places of the edge
STEPS_MOST = 8_000
INWARD_MM = 0.04  # from the edge of paint to where it is looked at
FINE_MM = 0.01  # the contour may be simplified by so much
POINTS_MOST = 3_000  # of a contour; one of more is a scrawl, and offsets of it take minutes
LAP_MM = 0.03  # how far neighbours overlap, so that no seam shows
PAST_MM = 0.1  # how far beyond the bleed paint is carried: it is clipped later
TELLING = 20  # so many places on either side of a change of paints tell where it is
SPARSE = 6  # of the others every sixth is enough
SAME_MM = 0.002  # places this near are one
GRID_MM = 1e-4  # areas are added up on such a grid, which cannot fail
DEEP_MM = 1.0  # farther inside no edge matters


class TooIntricate(Exception):
    """The contour has too many points for its bleed to be worked out."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Paint:
    """A fill or a stroke: where it is seen. opaque: it hides what lies below it."""

    region: shapely.Geometry
    opaque: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sector:
    """A part of the bleed. stack: numbers of the paints that go on in it, the lowest first.

    share: of the contour that it lies along, from 0 to 1.
    """

    stack: tuple[int, ...]
    area: shapely.Geometry
    share: float


def near_contour(contour: shapely.Geometry, reach_mm: float) -> shapely.Geometry:
    """All that matters for the bleed of a contour: a band along it. raises: TooIntricate."""
    contour = shapely.simplify(contour, FINE_MM)
    if shapely.get_num_coordinates(contour) > POINTS_MOST:
        raise TooIntricate
    outer = grown(contour, reach_mm + 2 * PAST_MM)
    band: shapely.Geometry = shapely.difference(outer, grown(contour, -DEEP_MM))
    shapely.prepare(band)
    return band


def sectors(contour: shapely.Geometry, reach_mm: float, paints: Sequence[Paint]) -> list[Sector]:
    """The parts of the bleed that no paint covers though paint ends at their edge.

    paints: as they are painted, the lowest first; regions need hold in `near_contour` only.
    raises: TooIntricate.
    """
    contour = shapely.simplify(contour, FINE_MM)
    if shapely.get_num_coordinates(contour) > POINTS_MOST:
        raise TooIntricate
    seen = [k for k, paint in enumerate(paints) if not shapely.is_empty(paint.region)]
    if not seen:
        return []
    regions = [paints[k].region for k in seen]
    painted = shapely.union_all(regions)
    bleed = grown(contour, reach_mm)
    edge = _edge(contour, bleed, painted)
    if not len(edge.places):
        return []
    stacks = _stacks([paints[k] for k in seen], seen, edge)
    solid = shapely.union_all([paints[k].region for k in seen if paints[k].opaque])
    cells = _nearest(edge, stacks, _bare(contour, painted), shapely.envelope(bleed))
    inside = grown(contour, -NEAR_MM)
    ring = shapely.difference(grown(contour, reach_mm + PAST_MM), inside)
    lacking = shapely.difference(ring, painted)
    along = float(shapely.length(contour))
    found = []
    for stack in sorted(set(stacks)):
        if not stack:
            continue
        mine = [k for k, each in enumerate(stacks) if each == stack]
        area = cells[stack]
        lacks = shapely.intersection(area, lacking)
        if float(shapely.area(lacks)) < 1e-3:
            continue
        if paints[stack[0]].opaque:
            wide = shapely.buffer(area, LAP_MM, quad_segs=1, join_style="bevel")
            lacks = shapely.intersection(wide, shapely.union(lacking, solid))
            lacks = shapely.intersection(lacks, ring)
        at_cut = sum(edge.at_contour[k] for k in mine)
        share = min(1.0, at_cut * edge.step_mm / along)
        found.append(Sector(stack=stack, area=lacks, share=share))
    return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Edge:
    """Places (n, 2) where paint ends, and (n, 2) just within the paint there."""

    places: Points
    within: Points
    at_contour: Sequence[bool]
    step_mm: float


def _edge(contour: shapely.Geometry, bleed: shapely.Geometry, painted: shapely.Geometry) -> _Edge:
    outline = outline_of(painted) if not shapely.is_empty(painted) else None
    if outline is None:
        return _Edge(places=np.zeros((0, 2)), within=np.zeros((0, 2)), at_contour=(), step_mm=1)
    step = max(STEP_MM, outline.length_mm / STEPS_MOST)
    places, ways = [], []
    for ring in outline.rings:
        ends = np.roll(ring, -1, axis=0)
        lengths = np.hypot(*(ends - ring).T)
        upto = np.cumsum(lengths)
        at = (np.arange(max(1, round(upto[-1] / step))) + 0.5) * step
        at = at[at < upto[-1]]
        side = np.searchsorted(upto, at, side="right")
        share = 1 - (upto[side] - at) / lengths[side]
        places.append(ring[side] + share[:, None] * (ends - ring)[side])
        ways.append((ends - ring)[side] / lengths[side, None])
    every, way = np.concatenate(places), np.concatenate(ways)
    away = np.asarray(shapely.distance(shapely.boundary(contour), shapely.points(every)))
    inside = np.asarray(shapely.contains_xy(contour, every[:, 0], every[:, 1]))
    kept = np.where(inside, away <= NEAR_MM, shapely.contains_xy(bleed, every[:, 0], every[:, 1]))
    left = np.column_stack([-way[:, 1], way[:, 0]])  # paint lies on the left
    return _Edge(
        places=every[kept],
        within=(every + INWARD_MM * left)[kept],
        at_contour=(away <= NEAR_MM)[kept].tolist(),
        step_mm=step,
    )


def _stacks(paints: Sequence[Paint], numbers: Sequence[int], edge: _Edge) -> list[tuple[int, ...]]:
    """The paints at each place, from the topmost opaque one up."""
    tree = shapely.STRtree([paint.region for paint in paints])
    points, hits = tree.query(shapely.points(edge.within), predicate="intersects")
    at: list[list[int]] = [[] for _ in edge.within]
    for point, hit in zip(points.tolist(), hits.tolist(), strict=True):
        at[point].append(hit)
    tips = [k for k, each in enumerate(at) if not each]  # in a sharp tip inward leads outside
    here = shapely.points(edge.places[tips])
    points, hits = tree.query(here, predicate="dwithin", distance=INWARD_MM / 2)
    for point, hit in zip(points.tolist(), hits.tolist(), strict=True):
        at[tips[point]].append(hit)
    stacks = []
    for each in at:
        each.sort()
        lowest = max((k for k in each if paints[k].opaque), default=-1)
        stacks.append(tuple(numbers[k] for k in each if k >= lowest))
    return stacks


def _bare(contour: shapely.Geometry, painted: shapely.Geometry) -> Points:
    """Places of the contour without paint: the bleed nearest to them stays bare."""
    line = shapely.boundary(contour)
    step = max(STEP_MM, float(shapely.length(line)) / STEPS_MOST)
    points = shapely.get_coordinates(shapely.segmentize(line, step))
    bare = np.asarray(shapely.distance(painted, shapely.points(points))) > NEAR_MM
    return points[bare]


def _nearest(
    edge: _Edge, stacks: Sequence[tuple[int, ...]], bare: Points, reach: shapely.Geometry
) -> dict[tuple[int, ...], shapely.Geometry]:
    """For each stack the area that is nearest to its places; bare: nearest to them is nothing."""
    kinds = sorted(set(stacks))
    kind = np.array([kinds.index(stack) for stack in stacks])
    if len(kinds) == 1 and not len(bare):
        return {kinds[0]: shapely.envelope(reach)}
    lone = _telling(kind)
    if len(bare):
        away = cKDTree(edge.places).query(bare)[0]
        bare = bare[(away < TELLING * STEP_MM) | (np.arange(len(bare)) % SPARSE == 0)]
    cells = _cells(np.concatenate([edge.places[lone], bare]), reach)
    found: dict[tuple[int, ...], shapely.Geometry] = {}
    for number, stack in enumerate(kinds):
        mine = np.flatnonzero(kind[lone] == number).tolist()
        parts = [cells[k] for k in mine if k in cells]
        found[stack] = shapely.union_all(parts, grid_size=GRID_MM)
    return found


def _telling(kind: NDArray[np.int64]) -> NDArray[np.int64]:
    """Places that are near a change of kind, and a few of the others."""
    change = np.flatnonzero(np.diff(kind))
    near = np.zeros(len(kind), dtype=bool)
    near[::SPARSE] = True
    for k in change.tolist():
        near[max(0, k - TELLING) : k + TELLING + 2] = True
    near[0] = near[-1] = True
    return np.flatnonzero(near)


def _cells(points: Points, reach: shapely.Geometry) -> dict[int, shapely.Geometry]:
    """The area that is nearest to each point; of points that all but coincide, to the first."""
    first = np.sort(np.unique(np.round(points / SAME_MM).astype(int), axis=0, return_index=True)[1])
    low, high = np.array(shapely.bounds(reach)).reshape(2, 2)
    middle, far = (low + high) / 2, 20 * float(np.max(high - low))
    guards = middle + far * np.array(
        [[1, 1.1], [-1.1, 1], [-1, -1.1], [1.1, -1]]
    )  # close all cells
    diagram = Voronoi(np.concatenate([points[first], guards]))
    corners = [diagram.regions[diagram.point_region[k]] for k in range(len(first))]
    owner = np.repeat(np.arange(len(first)), [len(each) for each in corners])
    every = shapely.points(diagram.vertices[np.concatenate(corners)])
    hulls = shapely.convex_hull(shapely.multipoints(every, indices=owner))
    return dict(zip(first.tolist(), hulls, strict=True))
