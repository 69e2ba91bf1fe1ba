"""The white of a decal over its drawing: hatched, with its edge."""

import numpy as np
import shapely

from nestplan.artwork import Decal
from nestplan.files.proof_scale import View
from nestplan.files.proof_sheet import Sheet
from nestplan.files.proof_style import WHITE, WHITE_CASING
from nestplan.geometry.outline import polygons_of

APART_MM = 2.2  # on paper
FINE_MM = 0.03  # on paper
WORDS = {
    "under": "white under the art",
    "over": "white over the art",
    "between": "white between two prints of the art",
}


def draw_white(sheet: Sheet, view: View, decal: Decal) -> None:
    """The white of copy 1, as it lies on the printed side. Lines rise to the right."""
    shape = decal.white_shape(1)
    if shapely.is_empty(shape):
        return
    if decal.mirrored:
        shape = shapely.transform(shape, lambda points: points * (-1.0, 1.0))
    shape = shapely.simplify(shape, FINE_MM * view.denominator)
    left, bottom, right, top = shapely.bounds(shape).tolist()
    step = APART_MM * view.denominator * 2**0.5
    starts = np.arange(left - (top - bottom), right, step)
    lines = shapely.MultiLineString([[(x, bottom), (x + top - bottom, top)] for x in starts])
    drawn = [
        view.ring(shapely.get_coordinates(line))
        for line in shapely.get_parts(shapely.intersection(lines, shape)).tolist()
        if shapely.get_dimensions(line) == 1
    ]
    rings = [
        view.ring(np.asarray(ring.coords)[:, :2])
        for part in polygons_of(shape)
        for ring in (part.exterior, *part.interiors)
    ]
    for stroke in (WHITE_CASING, WHITE):
        for line in (*drawn, *rings):
            sheet.line(line, stroke)


def white_words(decal: Decal, choke: str) -> list[str]:
    """What the facts say of it; nothing where there is none. choke: in words."""
    if decal.white is None:
        return []
    area = f"{decal.white.area_mm2 / 100:.1f} cm² each"
    return [f"hatched: {WORDS[decal.white.order]}, {choke} inside its edge, {area}"]
