"""How far one piece must stand from another along an axis, exactly.

The exit of a pair at an offset across the axis is the greatest displacement along the axis
at which the two are still nearer than allowed. It is read off the no-fit field: the field
grown by the distance is bounded by shifted edges and by discs round corners.
"""

from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from nestplan.geometry.outline import turn
from nestplan.nest.fields import Form, edge_rows, no_fit
from nestplan.nest.pieces import Pieces

Floats = NDArray[np.float64]

SAMPLES = 600  # of a table; the last word is always computed exactly
FAR = 1e9


class Exits:
    """Exits of every ordered pair of variants of one shape along one axis.

    swapped: the axis is x and offsets are along y, instead of the other way round.
    """

    def __init__(self, pieces: Pieces, apart_mm: float, *, swapped: bool) -> None:
        many = len(pieces.variants)
        self._apart_mm = apart_mm
        self._spans = np.zeros((many, many, 2), dtype=np.int64)
        self._reach = np.zeros((many, many, 2))  # least and greatest offset at which two can meet
        rows = []
        first = 0
        for i, one in enumerate(pieces.variants):
            for j, other in enumerate(pieces.variants):
                between = (other.angle_deg - one.angle_deg) % 360.0
                edges = _field_edges(pieces.forms[0], between, apart_mm)
                start, way = turn(edges[:, 0:2], one.angle_deg), turn(edges[:, 2:4], one.angle_deg)
                if swapped:
                    start, way = start[:, ::-1], way[:, ::-1]
                rows.append(exit_rows(start, way, apart_mm))
                self._spans[i, j] = first, first + len(start)
                self._reach[i, j] = start[:, 0].min() - apart_mm, start[:, 0].max() + apart_mm
                first += len(start)
        self._rows = np.concatenate(rows)

    @cached_property
    def _sampled(self) -> tuple[Floats, Floats]:
        """Tables (i, j, SAMPLES) of exits, and first offset and samples per mm of each."""
        shape = self._spans.shape[:2]
        tables, starts = np.zeros((*shape, SAMPLES)), np.zeros((*shape, 2))
        for i, j in np.ndindex(shape):
            low, high = self._reach[i, j]
            starts[i, j] = low, (SAMPLES - 1) / (high - low)
            tables[i, j] = self.at(i, j, np.linspace(low, high, SAMPLES))
        return tables, starts

    def can_meet(self, one: int, other: int, offsets_mm: Floats) -> NDArray[np.bool_]:
        """Whether the other, at such offsets, meets the one anywhere along the axis."""
        low, high = self._reach[one, other]
        meets: NDArray[np.bool_] = (offsets_mm >= low) & (offsets_mm <= high)
        return meets

    @cached_property
    def _unsampled(self) -> tuple[Floats, Floats]:
        """The same without samples: two to a table, so that they tell its reach."""
        low, high = self._reach[:, :, 0], self._reach[:, :, 1]
        return np.zeros((*low.shape, 2)), np.stack([low, 1.0 / (high - low)], axis=2)

    def at(self, one: int, other: int, offsets_mm: Floats) -> Floats:
        """Exact exits at offsets (k,); -FAR where the two cannot meet."""
        begin, end = self._spans[one, other].tolist()
        return exits_at(self._rows[begin:end], self._apart_mm, offsets_mm)

    def slide(
        self, lower: Floats, upper: Floats, pitch_mm: float, phases_mm: Floats, *, exact: bool
    ) -> Floats:
        """Greatest exit between endless files (rows of variant, u, v) at shifts (k,)."""
        from nestplan.nest.exit_kernel import slides

        found = np.empty(len(phases_mm))
        # exact slides need no tables, only to what offset two pieces meet
        tables, starts = self._unsampled if exact else self._sampled
        known = (self._rows, self._spans, self._apart_mm, tables, starts)
        slides(*known, lower, upper, pitch_mm, phases_mm, exact, found)
        return found


@lru_cache(maxsize=256)
def _field_edges(form: Form, between_deg: float, apart_mm: float) -> Floats:
    """Edges of the no-fit field of a form and itself, turned by an angle."""
    edges = edge_rows(no_fit(form, form, between_deg, apart_mm))
    edges.flags.writeable = False
    return edges


def exits_at(rows: Floats, apart_mm: float, offsets_mm: Floats) -> Floats:
    """Exits at offsets (k,), -FAR where none, from the rows of one field."""
    from nestplan.nest.exit_kernel import exits

    found = np.empty(len(offsets_mm))
    exits(rows, apart_mm, offsets_mm, found)
    return found


def exit_rows(start: Floats, way: Floats, apart_mm: float) -> Floats:
    """What bounds a field of these edges, each (n, 2), grown by a distance.

    Rows (n, 6): abscissas between which a shifted edge bounds, ordinate, slope, corner."""
    length = np.hypot(*way.T)
    normal = np.column_stack([-way[:, 1], way[:, 0]]) / length[:, np.newaxis]
    normal *= np.where(normal[:, 1:] < 0, -1.0, 1.0)
    begin = start + apart_mm * normal
    backward = way[:, 0] < 0
    begin = np.where(backward[:, np.newaxis], begin + way, begin)
    wide = np.abs(way[:, 0])
    level = wide > 1e-12 * length
    rows = np.zeros((len(start), 6))
    rows[:, 0] = np.where(level, begin[:, 0], 1.0)
    rows[:, 1] = np.where(level, begin[:, 0] + wide, 0.0)  # an upright edge bounds nothing
    rows[:, 2] = begin[:, 1]
    rows[:, 3] = np.where(level, way[:, 1] / np.where(level, way[:, 0], 1.0), 0.0)
    rows[:, 4:6] = start
    return rows
