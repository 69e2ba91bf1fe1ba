"""Find blank boxes among printed things, by looking at a raster of them."""

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from shapely.geometry.base import BaseGeometry

from nestplan.geometry.outline import polygons_of

Box = tuple[float, float, float, float]

CELL_MM = 1.0  # boxes are found to a millimetre: words and bars do not care
GROWN_MM = 1.0  # over the half diagonal of a cell and the half cell a raster may be off


class BlankFilm:
    """What is blank on a field of film; boxes that are found and taken are blank no more.

    The raster is made once and only proposes: a place that is handed out is blank by exact
    geometry.
    """

    def __init__(self, field_mm: Box, taken: Sequence[BaseGeometry]) -> None:
        """field_mm: (left, bottom, right, top) that boxes stay inside."""
        self._left, self._bottom, right, top = field_mm
        columns = max(0, int((right - self._left) // CELL_MM))
        rows = max(0, int((top - self._bottom) // CELL_MM))
        self._tree = shapely.STRtree(
            [each for one in taken for each in polygons_of(one) if not each.is_empty]
        )
        self._boxes: list[BaseGeometry] = []
        self._cells = np.zeros((rows, columns), dtype=bool)
        if rows and columns:
            self._cells = self._raster(shapely.union_all(list(taken)), columns, rows)

    def take(self, box: Box) -> None:
        """Keep a box for something."""
        left, bottom, right, top = box
        self._boxes.append(shapely.box(*box))
        columns = self._range(left - GROWN_MM - self._left, right + GROWN_MM - self._left)
        rows = self._range(bottom - GROWN_MM - self._bottom, top + GROWN_MM - self._bottom)
        self._cells[rows, columns] = True

    def box(
        self, *, width_mm: float, height_mm: float, toward_mm: tuple[float, float]
    ) -> tuple[float, float] | None:
        """Lower left corner of a blank box, nearest to a wished place; None: there is none.

        toward_mm: the wished lower left corner.
        """
        wide, high = int(np.ceil(width_mm / CELL_MM)), int(np.ceil(height_mm / CELL_MM))
        if self._cells.shape[1] < wide or self._cells.shape[0] < high:
            return None
        at_row, at_column = np.nonzero(_blank_windows(self._cells, wide, high))
        x, y = self._left + at_column * CELL_MM, self._bottom + at_row * CELL_MM
        off = np.hypot(x - toward_mm[0], y - toward_mm[1])
        for best in np.argsort(off, kind="stable").tolist():
            corner = float(x[best]), float(y[best])
            box = shapely.box(*corner, corner[0] + width_mm, corner[1] + height_mm)
            if not len(self._tree.query(box, predicate="intersects")) and not any(
                each.intersects(box) for each in self._boxes
            ):
                return corner
        return None

    def _raster(self, taken: BaseGeometry, columns: int, rows: int) -> NDArray[np.bool_]:
        """(rows, columns) True where a cell is touched; larger areas are drawn first, since a
        hole is drawn blank and may hold smaller ones.
        """
        picture = Image.new("1", (columns, rows))
        draw = ImageDraw.Draw(picture)
        areas = sorted(polygons_of(shapely.buffer(taken, GROWN_MM)), key=lambda area: -area.area)
        for area in areas:
            for ring, ink in ((area.exterior, 1), *((hole, 0) for hole in area.interiors)):
                at = shapely.get_coordinates(ring) - (self._left, self._bottom)
                draw.polygon((at / CELL_MM - 0.5).ravel().tolist(), fill=ink)
        return np.array(picture, dtype=bool)

    @staticmethod
    def _range(low_mm: float, high_mm: float) -> slice:
        """Cells whose middle lies between two places."""
        first = int(np.ceil(low_mm / CELL_MM - 0.5))
        return slice(max(first, 0), max(int(np.floor(high_mm / CELL_MM - 0.5)) + 1, 0))


def _blank_windows(cells: NDArray[np.bool_], wide: int, high: int) -> NDArray[np.bool_]:
    """True at the lower left cell of every window without a taken cell."""
    total = np.zeros((cells.shape[0] + 1, cells.shape[1] + 1), dtype=np.int32)
    total[1:, 1:] = cells.cumsum(axis=0, dtype=np.int32).cumsum(axis=1, dtype=np.int32)
    inside = (
        total[high:, wide:] - total[:-high, wide:] - total[high:, :-wide] + total[:-high, :-wide]
    )
    blank: NDArray[np.bool_] = inside == 0
    return blank
