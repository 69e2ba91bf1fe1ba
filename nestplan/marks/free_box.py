"""Find a blank box of a given size among printed things, by looking at a raster of them."""

import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from shapely.geometry.base import BaseGeometry

from nestplan.geometry.outline import polygons_of

CELL_MM = 1.0  # boxes are found to a millimetre: words and bars do not care
GROWN_MM = 1.0  # over the half diagonal of a cell and the half cell a raster may be off


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
    touch. toward_mm: the wished lower left corner. The raster only proposes: the place
    returned is blank by exact geometry.
    """
    left, bottom, right, top = field_mm
    columns = int((right - left) // CELL_MM)
    rows = int((top - bottom) // CELL_MM)
    wide, high = int(np.ceil(width_mm / CELL_MM)), int(np.ceil(height_mm / CELL_MM))
    if columns < wide or rows < high:
        return None
    blank = _blank_windows(_taken_cells(taken, left, bottom, columns, rows), wide, high)
    at_row, at_column = np.nonzero(blank)
    x, y = left + at_column * CELL_MM, bottom + at_row * CELL_MM
    for best in np.argsort(np.hypot(x - toward_mm[0], y - toward_mm[1]), kind="stable").tolist():
        corner = float(x[best]), float(y[best])
        box = shapely.box(*corner, corner[0] + width_mm, corner[1] + height_mm)
        if not shapely.intersects(taken, box):
            return corner
    return None


def _taken_cells(
    taken: BaseGeometry, left: float, bottom: float, columns: int, rows: int
) -> NDArray[np.bool_]:
    """(rows, columns) True where a cell is touched; larger areas are drawn first, since a hole
    is drawn blank and may hold smaller ones.
    """
    picture = Image.new("1", (columns, rows))
    draw = ImageDraw.Draw(picture)
    areas = sorted(polygons_of(shapely.buffer(taken, GROWN_MM)), key=lambda area: -area.area)
    for area in areas:
        for ring, ink in ((area.exterior, 1), *((hole, 0) for hole in area.interiors)):
            corners = (np.asarray(ring.coords)[:, :2] - (left, bottom)) / CELL_MM - 0.5
            draw.polygon([(float(a), float(b)) for a, b in corners], fill=ink)
    return np.asarray(picture, dtype=bool)


def _blank_windows(cells: NDArray[np.bool_], wide: int, high: int) -> NDArray[np.bool_]:
    """True at the lower left cell of every window without a taken cell."""
    total = np.zeros((cells.shape[0] + 1, cells.shape[1] + 1), dtype=np.int32)
    total[1:, 1:] = cells.cumsum(axis=0, dtype=np.int32).cumsum(axis=1, dtype=np.int32)
    inside = (
        total[high:, wide:] - total[:-high, wide:] - total[high:, :-wide] + total[:-high, :-wide]
    )
    blank: NDArray[np.bool_] = inside == 0
    return blank
