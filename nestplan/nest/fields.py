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
from math import ceil, frexp
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nestplan.geometry.outline import cos_sin, oriented, polygons_of, turn
from nestplan.geometry.same import SAME_MM
from nestplan.nest.convex_parts import Area, convex_parts_outside

Points = NDArray[np.float64]

CELLS_ALONG = 40  # of a field's longer side
CELLS_ALONG_MANY = 24  # when there are very many fields
FIELDS_MANY = 3000
GRID_BITS = 36  # a field lies on a grid of 2^-36 of its size: without one, noise leaves slits
LINE_BYTES = 64
STRAIGHT_SINE = 1e-6  # a corner flatter than this has no side of its own


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """A shape as the search sees it, about its own origin, at angle 0; equal by its outline."""

    wkb: bytes

    @property
    def region(self) -> Area:
        """The area."""
        return _area(shapely.from_wkb(self.wkb))

    def box(self, angle_deg: float) -> tuple[float, float, float, float]:
        """(left, bottom, right, top) about the origin, turned by an angle."""
        points = turn(shapely.get_coordinates(self.region), angle_deg)
        (left, bottom), (right, top) = points.min(axis=0), points.max(axis=0)
        return float(left), float(bottom), float(right), float(top)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Field:
    """The no-fit field of one pair, with its cells.

    corners: (n, 4) place from the box's lowest corner, 1 / length^2 of the edge to the next
           row, flag; the inside is on the left. Each ring ends with its first corner again.
    cells: (columns * rows,) uint32; lists: uint16 numbers of corners where edges begin.
    box_mm: (2, 2) lowest and highest corner of the cells that matter.
    """

    corners: Points
    cells: NDArray[np.uint32]
    lists: NDArray[np.uint16]
    box_mm: Points
    side_mm: float
    columns: int
    apart_mm: float


def form_of(region: Area) -> Form:
    """The form of an area about the origin of its coordinates."""
    return Form(wkb=shapely.to_wkb(region))


def no_fit(a: Form, b: Form, angle_deg: float, apart_mm: float = 0.0) -> Area:
    """N = A + (-B), B turned by an angle: where the origin of B may not lie about that of A.

    apart_mm: holes in which the other cannot lie that far from their sides are left out.
    """
    parts_a = _parts(_filled(a, b.box(angle_deg), apart_mm))
    parts_b = _parts(_filled(b, a.box(-angle_deg), apart_mm))
    sums: list[shapely.Polygon] = []
    for p in parts_a:
        for q in parts_b:
            rings = shapely.linearrings(_sums(p, -turn(q, angle_deg)))
            sums.extend(np.atleast_1d(np.asarray(shapely.polygons(rings))))
    left, bottom, right, top = shapely.total_bounds(sums)
    grid = 2.0 ** (frexp(max(right - left, top - bottom))[1] - GRID_BITS)
    joined = shapely.union_all(sums)
    if not _holds(joined, sums):
        joined = shapely.union_all(sums, grid_size=grid)  # slower, and never seen to fail
    return _area(shapely.set_precision(joined, grid))


def _holds(joined: BaseGeometry, sums: list[shapely.Polygon]) -> bool:
    """Whether a union holds what was joined, by a third of the corners.

    The quick union of hundreds of overlapping areas now and then drops a piece in silence
    (GEOS 3.14.1; about one pair in two hundred).
    """
    corners = shapely.points(shapely.get_coordinates(sums)[::3])
    shapely.prepare(joined)
    return bool(shapely.dwithin(joined, corners, SAME_MM).all())


def _area(region: object) -> Area:
    assert isinstance(region, shapely.Polygon | shapely.MultiPolygon)
    return region


def _filled(form: Form, other_box: tuple[float, float, float, float], apart_mm: float) -> Form:
    """The form without the holes that are too small for another's box."""
    wide = other_box[2] - other_box[0] + 2 * apart_mm - SAME_MM
    high = other_box[3] - other_box[1] + 2 * apart_mm - SAME_MM
    region = form.region
    polygons = []
    for polygon in polygons_of(region):
        boxes = [(hole, hole.bounds) for hole in polygon.interiors]
        holes = [hole for hole, (x0, y0, x1, y1) in boxes if x1 - x0 >= wide and y1 - y0 >= high]
        polygons.append(shapely.Polygon(polygon.exterior, holes))
    filled = _area(shapely.union_all(polygons))
    return form if filled.equals_exact(region) else form_of(filled)


@lru_cache(maxsize=1024)
def _parts(form: Form) -> tuple[Points, ...]:
    """Convex parts by their number of corners: arrays (parts, corners, 2)."""
    _, parts = convex_parts_outside(form.region)
    counts = sorted({len(part) for part in parts})
    return tuple(np.array([part for part in parts if len(part) == k]) for k in counts)


def _sums(p: Points, q: Points) -> Points:
    """Minkowski sums (m * n, j + k, 2) of convex rings (m, j, 2) and (n, k, 2).

    The edges of a sum are those of both rings in the order of their angles.
    """
    (m, j, _), (n, k, _) = p.shape, q.shape
    edges = np.empty((m, n, j + k, 2))
    edges[:, :, :j] = (np.roll(p, -1, axis=1) - p)[:, np.newaxis]
    edges[:, :, j:] = (np.roll(q, -1, axis=1) - q)[np.newaxis]
    angles = np.arctan2(edges[..., 1], edges[..., 0])
    order = np.argsort(np.where(angles < 0, angles + 2 * np.pi, angles), axis=2, kind="stable")
    edges = np.take_along_axis(edges, order[..., np.newaxis], axis=2)
    rings: Points = np.cumsum(edges, axis=2) - edges
    rings += (_lowest(p)[:, np.newaxis] + _lowest(q)[np.newaxis])[:, :, np.newaxis]
    return rings.reshape(m * n, j + k, 2)


def _lowest(rings: Points) -> Points:
    """The lowest corner of each ring, the leftmost of several."""
    y = rings[..., 1]
    level = y == y.min(axis=1, keepdims=True)
    lowest = np.where(level, rings[..., 0], np.inf).argmin(axis=1)
    corners: Points = rings[np.arange(len(rings)), lowest]
    return corners


def edge_rows(region: shapely.Geometry) -> Points:
    """Edges (n, 8) of an area: start, way, 1 / length^2, flags of both corners, inside left."""
    return np.concatenate(_rings_rows(region))


def _rings_rows(region: shapely.Geometry) -> list[Points]:
    """`edge_rows` ring by ring; holes too small to be meant are left out."""
    rows = []
    for polygon in polygons_of(region):
        rings = [oriented(np.asarray(polygon.exterior.coords)[:-1], ccw=True)]
        least = 1e-7 * max(np.ptp(rings[0], axis=0))
        for hole in polygon.interiors:
            if shapely.Polygon(hole).area > least * hole.length:
                rings.append(oriented(np.asarray(hole.coords)[:-1], ccw=False))
        rows += [_ring_rows(ring) for ring in rings]
    return rows


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
    from nestplan.nest.pair_depth import EDGES_MOST, FIRST_MOST, fill_cells

    rings = _rings_rows(no_fit(a, b, angle_deg, apart_mm))
    edges = np.concatenate(rings)
    names = np.arange(len(edges)) + np.repeat(np.arange(len(rings)), [len(r) for r in rings])
    assert names[-1] < EDGES_MOST, "outlines are simplified to far fewer corners"
    ends = edges[:, :2]
    low = ends.min(axis=0) - apart_mm
    high = ends.max(axis=0) + apart_mm
    used = FIRST_MOST + 1
    while used > FIRST_MOST:
        side = float(max(high - low)) / cells_along
        # a hair beyond, so that no point that matters falls off by rounding
        columns, rows = (ceil(float(extent) / side + 1e-6) for extent in high - low)
        cells = np.zeros(columns * rows, dtype=np.uint32)
        lists = np.zeros(0, dtype=np.uint16)
        known = (edges, names, float(low[0]), float(low[1]), side, columns, rows, apart_mm)
        used = fill_cells(*known, cells, lists)
        lists = np.zeros(used, dtype=np.uint16)
        used = fill_cells(*known, cells, lists)
        cells_along = cells_along * 3 // 4
    return Field(
        corners=np.concatenate([_closed(ring, low) for ring in rings]),
        cells=cells,
        lists=lists[:used].copy(),
        box_mm=np.array([low, high]),
        side_mm=side,
        columns=columns,
        apart_mm=apart_mm,
    )


def _closed(ring: Points, low: Points) -> Points:
    """The corners of a ring as `Field.corners` has them."""
    corners = np.column_stack([ring[:, :2] - low, ring[:, 4:6]])
    return np.concatenate([corners, corners[:1] * [1.0, 1.0, 0.0, 1.0]])


# A run nests the same shapes many times: for every frame, with lanes and without.
TABLES_REMEMBERED = 6  # of a run's kinds of frame: they hold all fields of a task once more
_tables: dict[tuple[object, ...], "PairTables"] = {}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Variant:
    """One form at one angle."""

    form: int
    angle_deg: float
    box_mm: tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PairTables:
    """All fields of a task in flat arrays, and which of them each pair of variants needs.

    rows:  (fields, 8) lowest corner and extents of the box, cells per mm, apart; and as int32
           in the last two places, columns, first cell, first entry of lists, first corner.
    spans: (fields, 2) first corner and number of corners.
    reaches: (variants, variants, 4) left, right, bottom, top of the field round the first: a
           second beyond that is out of reach. Left above right where the two never meet.
    codes: (variants, variants) row << 10 | turn.
    turns: (turns, 2) cosine and sine by which a displacement is turned back into the field.
    """

    edges: Points
    cells: NDArray[np.uint32]
    lists: NDArray[np.uint16]
    rows: Points
    spans: NDArray[np.int32]
    codes: NDArray[np.int32]
    turns: Points
    reaches: Points


def pair_tables(
    forms: Sequence[Form], variants: Sequence[Variant], apart_mm: NDArray[np.float64], workers: int
) -> PairTables:
    """Fields for every pair of variants that can meet (those with apart_mm >= 0).

    N(A turned by a, B turned by b) is N(A, B turned by b - a) turned by a, and N(B, A) is
    N(A, B) inside out: one field serves all of them.
    """
    lying = tuple((variant.form, variant.angle_deg) for variant in variants)
    asked = (*forms, lying, apart_mm.tobytes())
    if asked not in _tables:
        made = _tables_of(forms, variants, apart_mm, workers)
        if len(_tables) >= TABLES_REMEMBERED:
            _tables.clear()
        _tables[asked] = made
    return _tables[asked]


def _tables_of(
    forms: Sequence[Form],
    variants: Sequence[Variant],
    apart_mm: NDArray[np.float64],
    workers: int,
) -> PairTables:
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
        apart = float(apart_mm[a, b])
        return pair_field(forms[a], forms[b], angle, apart, along)

    with ThreadPoolExecutor(max(1, workers)) as pool:
        fields = list(pool.map(build, keys))
    return _flat(fields, codes, np.array([cos_sin(angle) for angle in turns]).reshape(-1, 2))


def _reaches(fields: list[Field], codes: NDArray[np.int32], turns: Points) -> Points:
    """`PairTables.reaches`, a hair beyond so that rounding hides nothing."""
    reaches = np.zeros((*codes.shape, 4))
    reaches[..., 0] = 1.0
    for i, j in np.argwhere(codes >= 0).tolist():
        (left, bottom), (right, top) = fields[codes[i, j] >> 10].box_mm
        c, s = turns[codes[i, j] & 1023]
        x = np.array([left, right, right, left])
        y = np.array([bottom, bottom, top, top])
        across, along = c * x - s * y, s * x + c * y
        reaches[i, j] = across.min(), across.max(), along.min(), along.max()
    return reaches + 1e-9 * np.array([-1.0, 1.0, -1.0, 1.0])


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
    numbers = rows.view(np.int32)
    sizes = np.array([(len(f.cells), len(f.lists), len(f.corners)) for f in fields])
    firsts = np.cumsum(sizes, axis=0) - sizes
    for index, field in enumerate(fields):
        low, high = field.box_mm
        rows[index, :6] = (*low, *(high - low), 1.0 / field.side_mm, field.apart_mm)
        numbers[index, 12:] = (field.columns, *firsts[index])
    return PairTables(
        edges=_in_lines(np.concatenate([field.corners for field in fields])),
        cells=_in_lines(np.concatenate([field.cells for field in fields])),
        lists=_in_lines(np.concatenate([field.lists for field in fields])),
        rows=_in_lines(rows),
        spans=np.column_stack([firsts[:, 2], sizes[:, 2]]).astype(np.int32),
        codes=codes,
        turns=turns,
        reaches=_in_lines(_reaches(fields, codes, turns)),
    )


def _in_lines(array: NDArray[Any]) -> NDArray[Any]:
    """A copy that begins where a cache line does, so that no row lies in two without need."""
    room = np.zeros(array.nbytes + LINE_BYTES, dtype=np.uint8)
    start = -room.ctypes.data % LINE_BYTES
    copy = room[start : start + array.nbytes].view(array.dtype).reshape(array.shape)
    copy[...] = array
    return copy
