"""How far one piece must stand from another along an axis, exactly.

The exit of a pair at an offset across the axis is the greatest displacement along the axis
at which the two are still nearer than allowed. It is read off the no-fit field: the field
grown by the distance is bounded by shifted edges and by discs round corners.
"""

import numpy as np
from numpy.typing import NDArray

from nestplan.geometry.outline import turn
from nestplan.nest.fields import edge_rows, no_fit
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
        self._tables = np.zeros((many, many, SAMPLES))
        self._starts = np.zeros((many, many, 2))  # of the tables: first abscissa, samples per mm
        fields: dict[float, Floats] = {}
        rows = []
        first = 0
        for i, one in enumerate(pieces.variants):
            for j, other in enumerate(pieces.variants):
                between = (other.angle_deg - one.angle_deg) % 360.0
                if between not in fields:
                    fields[between] = edge_rows(
                        no_fit(pieces.forms[0], pieces.forms[0], between, apart_mm)
                    )
                edges = fields[between]
                start, way = turn(edges[:, 0:2], one.angle_deg), turn(edges[:, 2:4], one.angle_deg)
                if swapped:
                    start, way = start[:, ::-1], way[:, ::-1]
                rows.append(_bounds(start, way, apart_mm))
                self._spans[i, j] = first, first + len(start)
                first += len(start)
        self._rows = np.concatenate(rows)
        for i in range(many):
            for j in range(many):
                self._sample(i, j)

    def _sample(self, i: int, j: int) -> None:
        begin, end = self._spans[i, j]
        corners = self._rows[begin:end, 4]
        low, high = corners.min() - self._apart_mm, corners.max() + self._apart_mm
        x = np.linspace(low, high, SAMPLES)
        self._starts[i, j] = low, (SAMPLES - 1) / (high - low)
        self._tables[i, j] = self.at(i, j, x)

    def at(self, one: int, other: int, offsets_mm: Floats) -> Floats:
        """Exact exits at offsets (k,); -FAR where the two cannot meet."""
        from nestplan.nest.exit_kernel import exits

        found = np.empty(len(offsets_mm))
        begin, end = self._spans[one, other].tolist()
        exits(self._rows, begin, end, self._apart_mm, offsets_mm, found)
        return found

    def slide(
        self, lower: Floats, upper: Floats, pitch_mm: float, phases_mm: Floats, *, exact: bool
    ) -> Floats:
        """Greatest exit between endless files (rows of variant, u, v) at shifts (k,)."""
        from nestplan.nest.exit_kernel import slides

        found = np.empty(len(phases_mm))
        known = (self._rows, self._spans, self._apart_mm, self._tables, self._starts)
        slides(*known, lower, upper, pitch_mm, phases_mm, exact, found)
        return found


def _bounds(start: Floats, way: Floats, apart_mm: float) -> Floats:
    """Rows (n, 6): abscissas between which a shifted edge bounds, ordinate, slope, corner."""
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
