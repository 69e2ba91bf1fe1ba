"""Find blank boxes among printed things, by looking at a raster of them."""

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from shapely.geometry.base import BaseGeometry

from nestplan.geometry.outline import polygons_of

Box = tuple[float, float, float, float]
Cells = NDArray[np.bool_]

CELL_MM = 1.0  # boxes are found to a millimetre: words and bars do not care
REACHES_MM = (50.0, 250.0)  # looked through first round a wished place: most boxes lie there
GROWN_MM = 1.0  # over the half diagonal of a cell and the half cell a raster may be off


class BlankFilm:
    """What is blank on a field of film; boxes that are found and taken are blank no more.

    The raster is made once and only proposes: a place that is handed out is blank by exact
    geometry.
    """

    def __init__(
        self, field_mm: Box, taken: Sequence[shapely.Geometry], larger: Sequence[shapely.Geometry]
    ) -> None:
        """field_mm: (left, bottom, right, top) that boxes stay inside.
        larger: what is taken, grown by GROWN_MM.
        """
        self._left, self._bottom, right, top = field_mm
        columns = max(0, int((right - self._left) // CELL_MM))
        rows = max(0, int((top - self._bottom) // CELL_MM))
        self._tree = shapely.STRtree([each for one in taken for each in polygons_of(one)])
        self._boxes: list[BaseGeometry] = []
        self._cells = np.zeros((rows, columns), dtype=bool)
        if rows and columns:
            self._cells = self._raster(larger, columns, rows)

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
        if self._cells.shape[1] * CELL_MM < width_mm or self._cells.shape[0] * CELL_MM < height_mm:
            return None
        looked_mm = -1.0
        for reach_mm in (*REACHES_MM, np.inf):
            for corner in self._proposed(width_mm, height_mm, toward_mm, looked_mm, reach_mm):
                box = shapely.box(*corner, corner[0] + width_mm, corner[1] + height_mm)
                if not len(self._tree.query(box, predicate="intersects")) and not any(
                    each.intersects(box) for each in self._boxes
                ):
                    return corner
            looked_mm = reach_mm
        return None

    def _proposed(
        self,
        width_mm: float,
        height_mm: float,
        toward_mm: tuple[float, float],
        from_mm: float,
        to_mm: float,
    ) -> list[tuple[float, float]]:
        """Lower left corners of boxes that look blank, farther from a place than from_mm and no
        farther than to_mm, the nearest first.
        """
        wide, high = int(np.ceil(width_mm / CELL_MM)), int(np.ceil(height_mm / CELL_MM))
        rows = self._near(toward_mm[1] - self._bottom, to_mm, self._cells.shape[0] - high, high)
        columns = self._near(toward_mm[0] - self._left, to_mm, self._cells.shape[1] - wide, wide)
        at_row, at_column = np.nonzero(_blank_windows(self._cells[rows, columns], wide, high))
        x = self._left + (columns.start + at_column) * CELL_MM
        y = self._bottom + (rows.start + at_row) * CELL_MM
        off = np.hypot(x - toward_mm[0], y - toward_mm[1])
        order = np.argsort(off, kind="stable")
        order = order[(off[order] > from_mm) & (off[order] <= to_mm)]
        return list(zip(x[order].tolist(), y[order].tolist(), strict=True))

    def _raster(self, larger: Sequence[shapely.Geometry], columns: int, rows: int) -> Cells:
        """(rows, columns) True where a cell is touched; larger areas are drawn first, since a
        hole is drawn blank and may hold smaller ones.
        """
        picture = Image.new("1", (columns, rows))
        draw = ImageDraw.Draw(picture)
        areas = [each for one in larger for each in polygons_of(one)]
        areas.sort(key=lambda area: -area.area)
        for area in areas:
            for ring, ink in ((area.exterior, 1), *((hole, 0) for hole in area.interiors)):
                at = shapely.get_coordinates(ring) - (self._left, self._bottom)
                draw.polygon((at / CELL_MM - 0.5).ravel().tolist(), fill=ink)
        return np.array(picture, dtype=bool)

    @staticmethod
    def _near(at_mm: float, reach_mm: float, last: int, extent: int) -> slice:
        """Cells of all windows that begin near a place; last: where one can begin at most."""
        low, high = np.clip([at_mm - reach_mm, at_mm + reach_mm], 0, last * CELL_MM) / CELL_MM
        return slice(int(low), int(np.ceil(high)) + extent)

    @staticmethod
    def _range(low_mm: float, high_mm: float) -> slice:
        """Cells whose middle lies between two places."""
        first = int(np.ceil(low_mm / CELL_MM - 0.5))
        return slice(max(first, 0), max(int(np.floor(high_mm / CELL_MM - 0.5)) + 1, 0))


def _blank_windows(cells: Cells, wide: int, high: int) -> Cells:
    """True at the lower left cell of every window without a taken cell."""
    return ~_taken_in_a_row(_taken_in_a_row(cells, high).T, wide).T


def _taken_in_a_row(cells: Cells, number: int) -> Cells:
    """Whether one of so many cells along the first axis is taken, for each first of them."""
    span = 1
    while span < number:
        step = min(span, number - span)
        cells = cells[:-step] | cells[step:]
        span += step
    return cells
