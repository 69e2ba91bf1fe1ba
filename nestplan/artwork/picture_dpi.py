"""How many pixels to an inch the coarsest picture of a decal's print has, as it will be printed.

Read from the picture that is printed, not from the art: pixels made for effects and bleed
are counted in. What lies outside the print is not.
"""

import io

import numpy as np
import pikepdf
import shapely

from nestplan.artwork.decal import Picture
from nestplan.artwork.pdf.walk import walk


def picture_dpi(picture: Picture, shown: shapely.Geometry) -> float | None:
    """None where all is drawn. shown: where the decal prints, decal mm. raises: Fault."""
    with pikepdf.open(io.BytesIO(picture.pdf)) as pdf:
        if not any(
            isinstance(each, pikepdf.Stream) and each.get("/Subtype") == "/Image"
            for each in pdf.objects
        ):
            return None
        left, bottom, right, top = (float(value) for value in pdf.pages[0].mediabox)
        low_x, low_y, high_x, high_y = picture.box_mm
        across, up = (high_x - low_x) / (right - left), (high_y - low_y) / (top - bottom)
        onto = np.array(
            [[across, 0.0, low_x - across * left], [0.0, up, low_y - up * bottom], [0.0, 0.0, 1.0]]
        )
        pieces = walk(pdf, onto, "the print")
    found = [
        25.4 / piece.scale
        for piece in pieces
        if piece.kind == "picture"
        and not piece.hidden
        and piece.scale > 0
        and len(piece.frame) > 3
        and shapely.intersects(shapely.Polygon(piece.frame), shown)
    ]
    return min(found, default=None)
