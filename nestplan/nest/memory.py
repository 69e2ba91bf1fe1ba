"""The memory one searching thread works in: arrays, and the header of their addresses."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestplan.nest import kernel, pair_depth
from nestplan.nest.fields import PairTables
from nestplan.nest.pieces import Pieces, Places

DEPTH_MM = 5e-8  # overlap that counts as none; the verifier allows twenty times as much
BIG = 2.2  # times the median extent: pieces larger than this are always looked at
HASH_CELL = 1.2  # times the median extent
LAPS_A_PIECE = 64  # overlapping pairs that can be listed; more are only counted

# settings of the search, each the best of those measured
PUSHES = 30  # rounds of pushing apart before single pieces are moved
WIDE_TRIES, NEAR_TRIES = 24, 12  # places tried for a piece: all over the strip, near by
REFINED = 3  # of them are followed downhill
VERTEX_SHARE = 0.3  # of the wide ones lie on the edge of another piece's field


class Memory:
    """Arrays of one thread; the compiled functions are handed `header`."""

    def __init__(self, pieces: Pieces, tables: PairTables, *, stop: NDArray[np.int64]) -> None:
        every = len(pieces.kinds)
        self.ints = np.zeros(kernel.WHOLE, dtype=np.int64)
        self.reals = np.zeros(kernel.REAL, dtype=np.float64)
        self.order = np.zeros(every, dtype=np.int32)
        self._stop = stop
        self._rooms = pieces.rooms_mm
        self._boxes = np.array([variant.box_mm for variant in pieces.variants])
        self._lying = np.zeros((every, 4), dtype=np.float64)
        self._as_ints = self._lying.view(np.int64)

        reach = _reach_mm(self._boxes, pieces.kinds)
        median = float(np.median(reach[: pieces.movable]))
        big = reach > BIG * median
        self._lying[pieces.movable :, :2] = pieces.fixed_mm
        self._as_ints[pieces.movable :, 2] = pieces.kinds[pieces.movable :, 0]
        self._as_ints[:, 3] = np.where(big, -1, 0)

        cell_mm = HASH_CELL * median
        columns = int(pieces.width_mm / cell_mm) + 1
        rows = int(pieces.length_likely_mm / cell_mm) + 1
        self._arrays = self._laid_out(pieces, tables, np.flatnonzero(big), columns * rows)
        self.header = np.zeros(pair_depth.HEADER, dtype=np.int64)
        for slot, array in self._arrays.items():
            assert array.flags.c_contiguous
            self.header[slot] = array.ctypes.data
        self.address = int(self.header.ctypes.data)

        small = reach[~big]
        self.reals[kernel.CELL] = cell_mm
        self.reals[kernel.REACH] = float(small.max(initial=0.0)) + float(pieces.apart_mm.max())
        self.ints[kernel.COLUMNS], self.ints[kernel.CELL_ROWS] = columns, rows
        self.ints[kernel.BIGS] = int(big.sum())
        self._set_known(pieces)

    def _laid_out(
        self, pieces: Pieces, tables: PairTables, big: NDArray[np.intp], cells: int
    ) -> dict[int, NDArray[Any]]:
        """Every array by its slot in the header; kept, because the header has only addresses."""
        every = len(pieces.kinds)
        sizes = _sizes(pieces)
        return {
            pair_depth.EDGES: tables.edges,
            pair_depth.CELLS: tables.cells,
            pair_depth.LISTS: tables.lists,
            pair_depth.ROWS: tables.rows,
            pair_depth.SPANS: tables.spans,
            pair_depth.CODES: tables.codes,
            pair_depth.TURNS: tables.turns,
            pair_depth.REACHES: tables.reaches,
            pair_depth.BOXES: self._boxes,
            pair_depth.ROOMS: self._rooms,
            pair_depth.KINDS: pieces.kinds,
            pair_depth.PIECES: self._lying,
            pair_depth.WEIGHTS: np.outer(sizes, sizes),
            pair_depth.SIZES: sizes,
            pair_depth.HEADS: np.full(cells, -1, dtype=np.int32),
            pair_depth.NEXTS: np.full(every, -1, dtype=np.int32),
            pair_depth.PREVS: np.full(every, -1, dtype=np.int32),
            pair_depth.BIG: big.astype(np.int32),
            pair_depth.NEAR: np.zeros((every, kernel.NEAR_BYTES // 8), dtype=np.float64),
            pair_depth.ORDER: self.order,
            pair_depth.MARKS: np.zeros(every, dtype=np.int32),
            pair_depth.LAPS: np.zeros(2 * LAPS_A_PIECE * every, dtype=np.int32),
            pair_depth.LAP_DEPTHS: np.zeros(LAPS_A_PIECE * every, dtype=np.float64),
            pair_depth.ACTIVE: np.zeros(every * (every - 1) + 2, dtype=np.int32),
            pair_depth.SAVED: np.zeros((every, 4), dtype=np.float64),
            pair_depth.PUSH: np.zeros((every, 2), dtype=np.float64),
            pair_depth.PICKS: np.zeros((REFINED, 4), dtype=np.float64),
            pair_depth.INTS: self.ints,
            pair_depth.REALS: self.reals,
            pair_depth.STOP: self._stop,
        }

    def _set_known(self, pieces: Pieces) -> None:
        ints, reals = self.ints, self.reals
        ints[kernel.MOVABLE] = pieces.movable
        ints[kernel.ALL] = len(pieces.kinds)
        ints[kernel.VARIANTS] = len(pieces.variants)
        ints[kernel.LAP_ROOM] = LAPS_A_PIECE * len(pieces.kinds)
        ints[kernel.PUSHES] = PUSHES
        ints[kernel.WIDE_TRIES], ints[kernel.NEAR_TRIES] = WIDE_TRIES, NEAR_TRIES
        ints[kernel.REFINED] = REFINED
        reals[kernel.TOLERANCE] = DEPTH_MM
        reals[kernel.VERTEX_SHARE] = VERTEX_SHARE

    @property
    def stopped(self) -> bool:
        """Whether somebody asked to stop."""
        return bool(self._stop[0])

    @property
    def movable(self) -> int:
        """Pieces that may be moved: the first rows of everything."""
        return int(self.ints[kernel.MOVABLE])

    def lay(self, places: Places, length_mm: float) -> None:
        """Lay the movable pieces, moved into a strip of a length where they stick out."""
        n = self.movable
        box = self._boxes[places.variant]
        room = self._rooms[places.variant]
        self._lying[:n, 0] = np.clip(places.x_mm, room[:, 0], room[:, 1])
        self._lying[:n, 1] = np.maximum(np.minimum(places.y_mm, length_mm - box[:, 3]), -box[:, 1])
        self._as_ints[:n, 2] = places.variant
        self.reals[kernel.LENGTH] = length_mm
        self.ints[kernel.STAGE] = 0
        kernel.rehash(self.address)

    def places(self) -> Places:
        """Where the movable pieces lie now."""
        n = self.movable
        return Places(
            x_mm=self._lying[:n, 0].copy(),
            y_mm=self._lying[:n, 1].copy(),
            variant=self._as_ints[:n, 2].copy(),
        )

    def legal(self) -> bool:
        """Whether nothing overlaps as it lies."""
        return int(kernel.list_laps(self.address, self.reals[kernel.TOLERANCE])[0]) == 0

    def span_mm(self, places: Places) -> tuple[float, float]:
        """Lowest and highest y of the pieces."""
        box = self._boxes[places.variant]
        return float((places.y_mm + box[:, 1]).min()), float((places.y_mm + box[:, 3]).max())


def _sizes(pieces: Pieces) -> NDArray[np.float32]:
    """(every,) root of each piece's area, 1 for the median one and for what cannot move."""
    forms = [pieces.variants[first].form for first in pieces.kinds[:, 0].tolist()]
    areas = np.array([pieces.forms[form].region.area for form in forms])
    sizes: NDArray[np.float32] = np.sqrt(
        areas / np.median(areas[: pieces.movable]), dtype=np.float32
    )
    sizes[pieces.movable :] = 1.0
    return sizes


def _reach_mm(boxes: NDArray[np.float64], kinds: NDArray[np.int32]) -> NDArray[np.float64]:
    """Greatest reach of each piece from its centre, over all its variants."""
    reach = np.abs(boxes).max(axis=1)
    return np.array([reach[first : first + many].max() for first, many in kinds.tolist()])
