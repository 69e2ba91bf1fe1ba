"""No-fit fields: for each pair of shapes and angle between them, where one may not lie.

The sum of one area and the other turned inside out, N = A + (-B), is where B's origin may
not lie around A's. The distance of two pieces is the distance of B's origin from N, so no
shape is grown, no corner rounded, and a hole of N is a legal place like any other. Fields
are exact in float64; `pair_depth.py` looks them up.
"""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256
from math import ceil, frexp

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.geometry.outline import cos_sin, oriented, polygons_of, turn
from nestplan.nest.convex_parts import Area, convex_parts_outside

Points = NDArray[np.float64]

CELLS_ALONG = 40  # of a field's longer side
CELLS_ALONG_MANY = 24  # when there are very many fields
FIELDS_MANY = 3000
GRID_BITS = 33  # sums are joined on a grid of 2^-33 of their size: without one, noise leaves slits
STRAIGHT_SINE = 1e-6  # a corner flatter than this has no side of its own


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Form:
    """A shape as the search sees it: convex parts about its own origin, at angle 0.

    rings: every corner, for extents. key: equal for equal forms.
    """

    parts: tuple[Points, ...]
    corners: Points
    key: bytes

    def box(self, angle_deg: float) -> tuple[float, float, float, float]:
        """(left, bottom, right, top) about the origin, turned by an angle."""
        points = turn(self.corners, angle_deg)
        (left, bottom), (right, top) = points.min(axis=0), points.max(axis=0)
        return float(left), float(bottom), float(right), float(top)

    def __hash__(self) -> int:
        return hash(self.key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Form) and self.key == other.key


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Field:
    """The no-fit field of one pair, with its cells.

    edges: (n, 8) start, way, 1 / length^2, flags of both corners; the inside is on the left.
    cells: (columns * rows, 2) int32; lists: int32 numbers of edges.
    """

    edges: Points
    cells: NDArray[np.int32]
    lists: NDArray[np.int32]
    left_mm: float
    bottom_mm: float
    side_mm: float
    columns: int
    rows: int
    apart_mm: float


def form_of(region: Area) -> Form:
    """The form of an area about the origin of its coordinates."""
    grown, parts = convex_parts_outside(region)
    corners = shapely.get_coordinates(region)
    return Form(parts=tuple(parts), corners=corners, key=sha256(shapely.to_wkb(grown)).digest())


def with_holes_filled(region: Area, least_mm: tuple[float, float]) -> Area:
    """The area without the holes in which nothing of the least extents (w, h) could lie."""
    parts = []
    for polygon in polygons_of(region):
        holes = []
        for hole in polygon.interiors:
            left, bottom, right, top = hole.bounds
            if right - left >= least_mm[0] and top - bottom >= least_mm[1]:
                holes.append(hole)
        parts.append(shapely.Polygon(polygon.exterior, holes))
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)


def no_fit(a: Form, b: Form, angle_deg: float) -> shapely.Geometry:
    """N = A + (-B), B turned by an angle: where the origin of B may not lie about that of A."""
    turned = [-turn(part, angle_deg) for part in b.parts]
    sums = [_sum(p, q) for p in a.parts for q in turned]
    size = float(max(np.ptp(np.concatenate(sums), axis=0)))
    rings = shapely.linearrings(
        np.concatenate(sums), indices=np.repeat(np.arange(len(sums)), [len(s) for s in sums])
    )
    grid = 2.0 ** (frexp(size)[1] - GRID_BITS)
    return shapely.union_all(shapely.polygons(rings), grid_size=grid)


def _sum(p: Points, q: Points) -> Points:
    """Minkowski sum of two convex rings: all edges in the order of their angles."""
    p, q = oriented(p, ccw=True), oriented(q, ccw=True)
    edges = np.concatenate([np.roll(p, -1, axis=0) - p, np.roll(q, -1, axis=0) - q])
    angles = np.arctan2(edges[:, 1], edges[:, 0])
    edges = edges[np.argsort(np.where(angles < 0, angles + 2 * np.pi, angles), kind="stable")]
    start = _lowest(p) + _lowest(q)
    ring: Points = start + np.concatenate([np.zeros((1, 2)), np.cumsum(edges[:-1], axis=0)])
    return ring


def _lowest(ring: Points) -> Points:
    """The lowest corner, the leftmost of several."""
    lowest: Points = ring[np.lexsort((ring[:, 0], ring[:, 1]))[0]]
    return lowest


def edge_rows(region: shapely.Geometry) -> Points:
    """The rows of `Field.edges`; holes too small to be meant are left out."""
    rows = []
    for polygon in polygons_of(region):
        rings = [oriented(np.asarray(polygon.exterior.coords)[:-1], ccw=True)]
        least = 1e-7 * max(np.ptp(rings[0], axis=0))
        for hole in polygon.interiors:
            if shapely.Polygon(hole).area > least * hole.length:
                rings.append(oriented(np.asarray(hole.coords)[:-1], ccw=False))
        rows += [_ring_rows(ring) for ring in rings]
    return np.concatenate(rows)


def _ring_rows(ring: Points) -> Points:
    way = np.roll(ring, -1, axis=0) - ring
    length = np.hypot(*way.T)
    before = np.roll(way, 1, axis=0)
    sine = (before[:, 0] * way[:, 1] - before[:, 1] * way[:, 0]) / (length * np.roll(length, 1))
    flag = np.where(sine > STRAIGHT_SINE, 1.0, np.where(sine < -STRAIGHT_SINE, 0.0, 0.5))
    rows = np.zeros((len(ring), 8))
    rows[:, 0:2] = ring
    rows[:, 2:4] = way
    rows[:, 4] = 1.0 / length**2
    rows[:, 5] = flag
    rows[:, 6] = np.roll(flag, -1)
    return rows


@lru_cache(maxsize=8192)
def pair_field(
    a: Form, b: Form, angle_deg: float, apart_mm: float, cells_along: int = CELLS_ALONG
) -> Field:
    """The field of a pair; kept, because frames and quantities ask for the same pairs again."""
    from nestplan.nest.pair_depth import fill_cells

    edges = edge_rows(no_fit(a, b, angle_deg))
    ends = edges[:, :2]
    low = ends.min(axis=0) - apart_mm
    high = ends.max(axis=0) + apart_mm
    side = float(max(high - low)) / cells_along
    # a hair beyond, so that no point that matters falls off by rounding
    columns, rows = (ceil(float(extent) / side + 1e-6) for extent in high - low)
    cells = np.zeros((columns * rows, 2), dtype=np.int32)
    lists = np.zeros(6 * columns * rows, dtype=np.int32)
    known = (edges, float(low[0]), float(low[1]), side, columns, rows, apart_mm)
    used = fill_cells(*known, cells, lists)
    if used > len(lists):
        lists = np.zeros(used, dtype=np.int32)
        fill_cells(*known, cells, lists)
    return Field(
        edges=edges,
        cells=cells,
        lists=lists[:used].copy(),
        left_mm=float(low[0]),
        bottom_mm=float(low[1]),
        side_mm=side,
        columns=columns,
        rows=rows,
        apart_mm=apart_mm,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Variant:
    """One form at one angle."""

    form: int
    angle_deg: float
    box_mm: tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PairTables:
    """All fields of a task in flat arrays, and which of them each pair of variants needs.

    rows:  (fields, 8) left, bottom, cells per mm, -, apart, columns, rows, first cell.
    spans: (fields, 2) first edge and number of edges.
    codes: (variants, variants) row << 10 | turn.
    turns: (turns, 2) cosine and sine by which a displacement is turned back into the field.
    """

    edges: Points
    cells: NDArray[np.int32]
    lists: NDArray[np.int32]
    rows: Points
    spans: NDArray[np.int32]
    codes: NDArray[np.int32]
    turns: Points


def pair_tables(
    forms: Sequence[Form], variants: Sequence[Variant], apart_mm: NDArray[np.float64], workers: int
) -> PairTables:
    """Fields for every pair of variants that can meet (those with apart_mm >= 0).

    N(A turned by a, B turned by b) is N(A, B turned by b - a) turned by a, and N(B, A) is
    N(A, B) inside out: one field serves all of them.
    """
    turns: dict[float, int] = {}
    keys: dict[tuple[int, int, float], int] = {}
    codes = np.full((len(variants), len(variants)), -1, dtype=np.int32)
    for i, one in enumerate(variants):
        for j, other in enumerate(variants):
            if apart_mm[one.form, other.form] < 0:
                continue
            key, turned = _canonical(one, other)
            row = keys.setdefault(key, len(keys))
            codes[i, j] = row << 10 | turns.setdefault(turned, len(turns))
    along = CELLS_ALONG if len(keys) <= FIELDS_MANY else CELLS_ALONG_MANY

    def build(key: tuple[int, int, float]) -> Field:
        a, b, angle = key
        return pair_field(forms[a], forms[b], angle, float(apart_mm[a, b]), along)

    with ThreadPoolExecutor(max(1, workers)) as pool:
        fields = list(pool.map(build, keys))
    return _flat(fields, codes, np.array([cos_sin(angle) for angle in turns]).reshape(-1, 2))


def _canonical(one: Variant, other: Variant) -> tuple[tuple[int, int, float], float]:
    """Which field a pair of variants shares, and how that field is turned for it."""
    between = round((other.angle_deg - one.angle_deg) % 360.0, 9)
    swapped = one.form > other.form or (one.form == other.form and between > 180.0)
    if not swapped:
        return (one.form, other.form, between), one.angle_deg
    back = round(-between % 360.0, 9)
    return (other.form, one.form, back), (other.angle_deg + 180.0) % 360.0


def _flat(fields: list[Field], codes: NDArray[np.int32], turns: Points) -> PairTables:
    rows = np.zeros((len(fields), 8))
    spans = np.zeros((len(fields), 2), dtype=np.int32)
    cells, lists = [], []
    first_cell = first_edge = first_entry = 0
    for index, field in enumerate(fields):
        corner = (field.left_mm, field.bottom_mm, 1.0 / field.side_mm, 0.0, field.apart_mm)
        rows[index] = (*corner, field.columns, field.rows, first_cell)
        spans[index] = first_edge, len(field.edges)
        cells.append(field.cells + np.array([first_entry, 0], dtype=np.int32))
        lists.append(field.lists + np.int32(first_edge))
        first_cell += len(field.cells)
        first_edge += len(field.edges)
        first_entry += len(field.lists)
    return PairTables(
        edges=np.concatenate([field.edges for field in fields]),
        cells=np.concatenate(cells),
        lists=np.concatenate(lists),
        rows=rows,
        spans=spans,
        codes=codes,
        turns=turns,
    )
