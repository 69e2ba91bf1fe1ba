"""White ink made from a decal's own art: its silhouette inside the bleed, choked inwards.

The silhouette is that of the picture as it is printed, made bleed and the text of rows
counted in: where it is at least half opaque in a rendering. Art that fills contour and bleed
gives just that area, whatever the pixels.
"""

from dataclasses import replace
from math import sqrt

import pypdfium2
import shapely
from PIL import Image

from nestplan.artwork.decal import Decal, DecalWhite, Picture
from nestplan.artwork.pixels import alpha_region
from nestplan.faults import Note
from nestplan.figures import fixed, short
from nestplan.geometry.offset import grown
from nestplan.geometry.outline import polygons_of
from nestplan.job.job_file import White

PER_MM = 24.0  # pixels: edges are then found within 0.02 mm
PIXELS_MOST = 16_000_000  # of one rendering
SIMPLE_PX = 0.2
SPECK_MM2 = 0.01  # less is no dot of any printer
LOST_MM2 = 0.5  # of art too narrow for white that a person should hear of


def with_white(decal: Decal, order: White, choke_mm: float, where: str) -> tuple[Decal, list[Note]]:
    """The decal with its white, and what a person should know. decal: upright."""
    if order == "none":
        return decal, []
    inked = decal.inked
    art = art_shape(decal.picture, inked)
    shapes = [art]
    if decal.rows:
        texts = (art_shape(row.picture, inked) for row in decal.rows)
        shapes = [shapely.union(art, text) for text in texts]
    choked = tuple(_choked(shape, choke_mm) for shape in shapes)
    white = DecalWhite(order=order, choke_mm=choke_mm, shapes=choked)
    notes = []
    key = f"{where}, white"
    area_mm2 = sum(float(shapely.area(each)) for each in choked)
    if area_mm2 == 0:
        text = "no white is left of the art: it is nowhere so wide, or nowhere half opaque"
        notes.append(Note(level="look", where=key, text=text))
    elif choke_mm > 0:
        back = grown(choked[0], choke_mm + 0.02)
        lost_mm2 = float(shapely.area(shapely.difference(shapes[0], back)))
        if lost_mm2 > LOST_MM2:
            text = (
                f"{fixed(lost_mm2, 1)} mm² of the art is narrower than {short(2 * choke_mm)} mm or "
                "ends in points: it has no white, look at the hatching on the proof"
            )
            notes.append(Note(level="look", where=key, text=text))
    return replace(decal, white=white), notes


def art_shape(picture: Picture, inked: shapely.Geometry) -> shapely.Geometry:
    """Where a picture is at least half opaque, inside what is printed of it; decal mm."""
    left, bottom, right, top = picture.box_mm
    width, height = right - left, top - bottom
    per_mm = min(PER_MM, sqrt(PIXELS_MOST / (width * height)))
    document = pypdfium2.PdfDocument(picture.pdf)
    try:
        page = document[0]
        bitmap = page.render(
            scale=per_mm * width / page.get_width(),
            fill_color=(255, 255, 255, 0),
            rev_byteorder=True,
        )
        alpha = bitmap.to_numpy()[..., 3].copy()
    finally:
        document.close()
    tall, wide = alpha.shape
    pixel_x, pixel_y = width / wide, height / tall
    found = alpha_region(Image.fromarray(alpha))
    mm = shapely.transform(found, lambda p: p * (pixel_x, -pixel_y) + (left, top))
    pixel_mm = max(pixel_x, pixel_y)
    mm = shapely.make_valid(shapely.simplify(mm, SIMPLE_PX * pixel_mm))
    bare = shapely.difference(inked, mm)
    if shapely.is_empty(grown(bare, -pixel_mm)):
        return inked
    art: shapely.Geometry = shapely.intersection(mm, inked)
    return art


def _choked(shape: shapely.Geometry, choke_mm: float) -> shapely.Geometry:
    """The shape drawn in all round, holes widened; what is left without specks."""
    inner = grown(shape, -choke_mm) if choke_mm > 0 else shape
    parts = [part for part in polygons_of(inner) if part.area >= SPECK_MM2]
    return shapely.MultiPolygon(parts)
