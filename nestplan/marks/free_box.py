"""Find a blank box of a given size among printed things, by looking at a raster of them."""

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

CELL_MM = 1.0  # boxes are found to a millimetre: words and bars do not care


def free_box(
    *,
    field_mm: tuple[float, float, float, float],
    taken: BaseGeometry,
    width_mm: float,
    height_mm: float,
    toward_mm: tuple[float, float],
) -> tuple[float, float] | None:
    """Lower left corner of a blank box, nearest to a wished place; None where there is none.

    field_mm: (left, bottom, right, top) the box must stay inside. taken: what it must not
    touch. toward_mm: the wished lower left corner. A cell counts as taken when anything
    comes within its half diagonal, so a found box is truly blank.
    """
    left, bottom, right, top = field_mm
    columns = int((right - left) // CELL_MM)
    rows = int((top - bottom) // CELL_MM)
    wide, high = int(np.ceil(width_mm / CELL_MM)), int(np.ceil(height_mm / CELL_MM))
    if columns < wide or rows < high:
        return None
    blank = _blank_windows(_taken_cells(taken, left, bottom, columns, rows), wide, high)
    at_row, at_column = np.nonzero(blank)
    if len(at_row) == 0:
        return None
    x, y = left + at_column * CELL_MM, bottom + at_row * CELL_MM
    best = int(np.argmin(np.hypot(x - toward_mm[0], y - toward_mm[1])))
    return float(x[best]), float(y[best])


def _taken_cells(
    taken: BaseGeometry, left: float, bottom: float, columns: int, rows: int
) -> NDArray[np.bool_]:
    """(rows, columns) True where a cell is touched."""
    cells = np.zeros((rows, columns), dtype=bool)
    if taken.is_empty:
        return cells
    near = shapely.buffer(taken, CELL_MM * 0.75)  # over the half diagonal, 0.71 of a cell
    shapely.prepare(near)
    x = left + (np.arange(columns) + 0.5) * CELL_MM
    y = bottom + (np.arange(rows) + 0.5) * CELL_MM
    grid_x, grid_y = np.meshgrid(x, y)
    return np.asarray(shapely.contains_xy(near, grid_x, grid_y), dtype=bool)


def _blank_windows(cells: NDArray[np.bool_], wide: int, high: int) -> NDArray[np.bool_]:
    """True at the lower left cell of every window without a taken cell."""
    total = np.zeros((cells.shape[0] + 1, cells.shape[1] + 1), dtype=np.int64)
    total[1:, 1:] = cells.cumsum(axis=0).cumsum(axis=1)
    inside = (
        total[high:, wide:] - total[:-high, wide:] - total[high:, :-wide] + total[:-high, :-wide]
    )
    blank: NDArray[np.bool_] = inside == 0
    return blank
