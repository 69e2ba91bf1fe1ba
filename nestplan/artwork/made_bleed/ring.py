"""A ring of pixels round art of pixels: each takes the colour of the nearest sound one.

Pixel coordinates as in `artwork/pixels.py`; a grid may begin outside the picture.
"""

from dataclasses import dataclass
from math import ceil, sqrt
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation, distance_transform_edt

from nestplan.geometry.outline import polygons_of

GRID_MOST = 24_000_000  # pixels of a grid; a coarser one is taken for larger art
UNDER_PX = 2  # how far the ring reaches below the art, so that no seam shows

Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ring:
    """Pixels of a ring on the grid of their picture.

    colour: (h, w) or (h, w, n). there: (h, w), which of them are meant. column, row: of its
    first pixel, in pixels of the picture; may be negative.
    """

    colour: NDArray[np.uint8]
    there: Mask
    column: int
    row: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grid:
    """Where the pixels of a ring lie: `frame` columns and rows more than the picture has."""

    left: int
    top: int
    width: int
    height: int

    def padded(self, values: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """A picture's values on the grid; 0 beyond it, and cut off where the grid ends."""
        out = np.zeros((self.height, self.width, *values.shape[2:]), dtype=values.dtype)
        rows = slice(max(0, -self.top), min(self.height, values.shape[0] - self.top))
        columns = slice(max(0, -self.left), min(self.width, values.shape[1] - self.left))
        out[rows, columns] = values[
            rows.start + self.top : rows.stop + self.top,
            columns.start + self.left : columns.stop + self.left,
        ]
        return out

    def mask(self, region_px: shapely.Geometry) -> Mask:
        """The pixels whose middle lies in a region, holes left out."""
        flips = np.zeros((self.height, self.width + 1), dtype=np.int32)
        for part in polygons_of(region_px):
            for ring in (part.exterior, *part.interiors):
                points = shapely.get_coordinates(ring) - (self.left + 0.5, self.top + 0.5)
                self._flip(flips, points[:-1], points[1:])
        return (np.cumsum(flips[:, :-1], axis=1) & 1).astype(bool)

    def _flip(
        self, flips: NDArray[np.int32], starts: NDArray[np.float64], ends: NDArray[np.float64]
    ) -> None:
        """Count, at each pixel, the edges that run between it and its left neighbour's middle."""
        low = np.minimum(starts[:, 1], ends[:, 1])
        first = np.ceil(low).astype(int)
        number = np.ceil(np.maximum(starts[:, 1], ends[:, 1])).astype(int) - first
        edge = np.repeat(np.arange(len(starts)), number)
        row = np.arange(len(edge)) - np.repeat(np.cumsum(number) - number, number) + first[edge]
        along = (row - starts[edge, 1]) / (ends - starts)[edge, 1]
        x = starts[edge, 0] + along * (ends - starts)[edge, 0]
        column = np.clip(np.ceil(x).astype(int), 0, self.width)
        there = (row >= 0) & (row < self.height)
        np.add.at(flips, (row[there], column[there]), 1)


def grid_round(region_px: shapely.Geometry) -> Grid:
    """The grid that holds a region and a little more."""
    left, top, right, bottom = shapely.bounds(region_px).tolist()
    first = np.floor([left, top]).astype(int) - 3
    size = np.ceil([right, bottom]).astype(int) + 3 - first
    return Grid(left=int(first[0]), top=int(first[1]), width=int(size[0]), height=int(size[1]))


def nearest_ring(
    colour: NDArray[np.uint8],
    sound: Mask,
    wanted: Mask,
    contour: Mask,
    grid: Grid,
    *,
    stretch: float,
    near_px: float,
    how: Literal["edge", "mirror"],
) -> Ring | None:
    """The ring on a grid; None where there is nothing to make.

    colour: on the grid. sound: pixels whose colour can be trusted. wanted: the contour and its
    bleed. contour: the contour. stretch: height of a pixel in its widths. near_px: art that
    ends no farther inside the contour counts as ending there.
    """
    if not sound.any() or sound.all():
        return None
    sampling = (stretch, 1.0)
    away, at = distance_transform_edt(~sound, sampling=sampling, return_indices=True)
    beyond = distance_transform_edt(~contour, sampling=sampling)
    inside = distance_transform_edt(contour, sampling=sampling)
    made = wanted & ~sound & (away - beyond <= near_px) & (inside <= near_px)
    if not (made & ~contour).any():
        return None
    there = binary_dilation(made, iterations=UNDER_PX) & (made | sound)
    rows, columns = at
    if how == "mirror":
        here = np.indices(sound.shape)
        seen = np.clip(
            2 * at - here, 0, np.array(sound.shape).reshape(2, 1, 1) - 1
        )  # as far inside the edge as it is outside
        good = sound[seen[0], seen[1]] & ~sound
        rows, columns = np.where(good, seen[0], rows), np.where(good, seen[1], columns)
    drawn = binary_dilation(there, iterations=2)  # renderers blend in what lies beside a mask
    shown = np.where(
        drawn.reshape(*drawn.shape, *(1,) * (colour.ndim - 2)), colour[rows, columns], 0
    )
    kept = np.flatnonzero(drawn.any(axis=1)), np.flatnonzero(drawn.any(axis=0))
    box = slice(kept[0][0], kept[0][-1] + 1), slice(kept[1][0], kept[1][-1] + 1)
    return Ring(
        colour=np.ascontiguousarray(shown[box].astype(np.uint8)),
        there=np.ascontiguousarray(there[box]),
        column=grid.left + int(kept[1][0]),
        row=grid.top + int(kept[0][0]),
    )


def coarser(contour_mm: shapely.Geometry, reach_mm: float, pixel_mm: float) -> int:
    """By which whole factor pixels must be larger, so that a grid is not too large."""
    left, bottom, right, top = shapely.bounds(contour_mm).tolist()
    sides = [(high - low + 2 * reach_mm) / pixel_mm for low, high in ((left, right), (bottom, top))]
    return max(1, ceil(sqrt(sides[0] * sides[1] / GRID_MOST)))


def edge_share(ring: Ring, grid: Grid, contour: Mask) -> float:
    """Of the pixels just outside the contour, the share that the ring has."""
    just = binary_dilation(contour, iterations=2) & ~binary_dilation(contour)
    there = np.zeros_like(contour)
    row, column = ring.row - grid.top, ring.column - grid.left
    height, width = ring.there.shape
    there[row : row + height, column : column + width] = ring.there
    return float((just & there).sum() / max(1, just.sum()))
