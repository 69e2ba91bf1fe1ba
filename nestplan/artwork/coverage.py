"""How much of each ink a copy takes: its picture rendered once, each ink measured where it prints.

The picture is looked at as it is printed, inside contour and bleed. Art in RGB alone is
rendered once and divided into inks pixel by pixel; where process inks or spots are in it each
ink is rendered by itself (see `plates`). Text of rows is left out: a few strokes a copy.
"""

from dataclasses import dataclass
from math import ceil, sqrt

import numpy as np
import pypdfium2
import shapely
from numpy.typing import NDArray

from nestplan.artwork.decal import Decal, Picture
from nestplan.artwork.made_bleed.ring import Grid
from nestplan.artwork.plates import CHANNELS, has_process_inks, plate

PER_MM = 12.0
PIXELS_MOST = 300_000  # of one rendering: enough for a thousandth of the area


@dataclass(frozen=True, slots=True, kw_only=True)
class Coverage:
    """Full ink on one copy, mm², by ink; the mean share over all that is printed times its area.

    area_mm2: contour and bleed. white_mm2: white made from the art, 0 without.
    """

    area_mm2: float
    cyan_mm2: float
    magenta_mm2: float
    yellow_mm2: float
    black_mm2: float
    white_mm2: float

    @property
    def percent(self) -> dict[str, float]:
        """Of the printed area, by ink."""
        each = (self.cyan_mm2, self.magenta_mm2, self.yellow_mm2, self.black_mm2)
        return {name: 100 * mm2 / self.area_mm2 for name, mm2 in zip(CHANNELS, each, strict=True)}


def coverage_of(decal: Decal) -> Coverage:
    """Measured on the decal's picture as it is printed."""
    inked = decal.upright.inked
    area_mm2 = float(shapely.area(inked))
    shares = ink_shares(decal.picture, inked)
    white_mm2 = 0.0 if decal.white is None else decal.white.area_mm2
    cyan, magenta, yellow, black = (area_mm2 * share for share in shares)
    return Coverage(
        area_mm2=area_mm2,
        cyan_mm2=cyan,
        magenta_mm2=magenta,
        yellow_mm2=yellow,
        black_mm2=black,
        white_mm2=white_mm2,
    )


def ink_shares(picture: Picture, inked: shapely.Geometry) -> tuple[float, float, float, float]:
    """Mean share of each ink, 0 to 1, over a region in decal mm."""
    left, bottom, right, top = picture.box_mm
    per_mm = min(PER_MM, sqrt(PIXELS_MOST / ((right - left) * (top - bottom))))
    if not has_process_inks(picture.pdf):
        light = _rendered(picture.pdf, (right - left) * per_mm) / 255.0
        grey = light.max(axis=2)
        inks = [grey - light[..., k] for k in range(3)] + [1.0 - grey]
    else:
        inks = []
        for channel in range(len(CHANNELS)):
            light = _rendered(plate(picture.pdf, channel), (right - left) * per_mm) / 255.0
            inks.append(1.0 - light.mean(axis=2))
    tall, wide = inks[0].shape
    scale = np.array([wide / (right - left), -tall / (top - bottom)])
    onto = shapely.transform(inked, lambda points: (points - (left, top)) * scale)
    x0, y0, x1, y1 = shapely.bounds(onto)
    grid = Grid(
        left=int(x0) - 1, top=int(y0) - 1, width=ceil(x1 - x0) + 3, height=ceil(y1 - y0) + 3
    )
    where = grid.mask(onto)
    pixels = max(1, int(where.sum()))
    cyan, magenta, yellow, black = (float(_on(grid, ink)[where].sum()) / pixels for ink in inks)
    return cyan, magenta, yellow, black


def _on(grid: Grid, ink: NDArray[np.float64]) -> NDArray[np.float64]:
    """The ink on the grid; none beyond the picture."""
    return grid.padded(ink)  # type: ignore[arg-type,return-value]


def _rendered(pdf: bytes, wide_px: float) -> NDArray[np.float64]:
    """The picture on white, (h, w, 3), 0 to 255."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        page = document[0]
        bitmap = page.render(scale=wide_px / page.get_width(), rev_byteorder=True)
        return np.asarray(bitmap.to_numpy()[..., :3], dtype=np.float64)
    finally:
        document.close()
