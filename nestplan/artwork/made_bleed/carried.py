"""Bleed from a rendering, where shapes cannot be grown: a ring of pixels below the art."""

from dataclasses import dataclass

import numpy as np
import pypdfium2
import shapely

from nestplan.artwork.made_bleed.ring import Ring, grid_round, nearest_ring
from nestplan.artwork.made_bleed.wish import BleedWish

CARRIED_DPI = 300.0
CARRIED_MOST_PX = 16_000_000.0
SOUND_ALPHA = 243  # of 255: what is fainter is the rim of an edge
NEAR_MM = 0.3  # paint that ends no farther inside its contour ends at it

Box = tuple[float, float, float, float]  # left, bottom, right, top, page mm


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Carried:
    """A ring of RGB pixels, and the box it fills in page mm."""

    ring: Ring
    box_mm: Box


def carried_ring(
    pdf: bytes, box_mm: Box, areas: shapely.Geometry, wish: BleedWish
) -> Carried | None:
    """The edge of a picture carried out into areas (page mm); None where nothing is to carry.

    pdf: one page that shows the art in box_mm.
    """
    if shapely.is_empty(areas):
        return None
    width, height = box_mm[2] - box_mm[0], box_mm[3] - box_mm[1]
    per_mm = min(CARRIED_DPI / 25.4, (CARRIED_MOST_PX / (width * height)) ** 0.5)
    document = pypdfium2.PdfDocument(pdf)
    try:
        bitmap = document[0].render(scale=per_mm * 25.4 / 72, fill_color=(0, 0, 0, 0))
        samples = np.array(bitmap.to_numpy()[..., [2, 1, 0, 3]])
    finally:
        document.close()
    corner = np.array([box_mm[0], box_mm[3]])
    onto = np.array([samples.shape[1] / width, -samples.shape[0] / height])

    def px(region: shapely.Geometry) -> shapely.Geometry:
        return shapely.transform(region, lambda points: (points - corner) * onto)

    grid = grid_round(px(shapely.union(areas, wish.contour)))
    seen = grid.padded(np.ascontiguousarray(samples))
    inside = grid.mask(px(wish.contour))
    ring = nearest_ring(
        np.ascontiguousarray(seen[..., :3]),
        (seen[..., 3] >= SOUND_ALPHA) & inside,
        grid.mask(px(areas)),
        inside,
        grid,
        stretch=1.0,
        near_px=max(3.0, NEAR_MM * per_mm),
        how=wish.how,
    )
    if ring is None:
        return None
    rows, columns = ring.there.shape
    low = corner + np.array([ring.column, ring.row + rows]) / onto
    high = corner + np.array([ring.column + columns, ring.row]) / onto
    return Carried(ring=ring, box_mm=(float(low[0]), float(low[1]), float(high[0]), float(high[1])))
