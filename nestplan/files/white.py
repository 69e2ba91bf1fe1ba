"""The white of a print page: a separation of its own, below marks and with the art.

It is named White after ISO 19593-1's processing step and lies in layers that carry that step.
Black is set to overprint it, or it would punch its shape out of the white (ISO 32000-1 8.6.7).
Fields below marks come first on the page. On screens and on printers that do not know the
colour they show as a pale blue.

White of the art comes after the art, whatever the order of the inks: art that came later would
knock it out of its separation. It multiplies, and what stands for it where the
colour is not known is no ink at all: neither a screen nor a device that separates loses any of
the art (ISO 32000-1 11.3.5.2, Multiply; 11.7.3, spot colours). The layer's name says the order.
One colour has one stand-in in a file, so with such white the fields do not show either.
"""

from collections.abc import Iterable, Sequence

import numpy as np
import pikepdf
import shapely
from pikepdf import Array, Dictionary, Name, Pdf, Stream

from nestplan.artwork import Decal
from nestplan.files.art_form import form_name, path_of, turn_over
from nestplan.files.layers import OVER, Layer, Layers, give, over_state
from nestplan.files.separation import separation
from nestplan.geometry.outline import outline_of
from nestplan.job.profile import Space

COLOUR = "White"
PALE = (0.06, 0.0, 0.0, 0.0)  # what the colour looks like without its ink: seen, yet no ink to read
NONE = (0.0, 0.0, 0.0, 0.0)
WHITE = Layer(name="White", tag="WhiteLayer", group="White")
PREFIX = "White"  # of the forms
BLEND = "Multiply"  # the graphics state of white that leaves the art whole


def white_operators(fields_mm: Iterable[shapely.Polygon]) -> str:
    """Operators that paint the fields, page millimetres."""
    paths = ""
    for field in fields_mm:
        rings = [np.asarray(ring.coords)[:-1] for ring in (field.exterior, *field.interiors)]
        paths += f"{path_of(rings)}{'f*' if field.interiors else 'f'}\n"
    return WHITE.around(f"q /{OVER} gs /{COLOUR} cs 1 scn\n{paths}Q\n")


def black_over_white() -> str:
    """Operator after which black leaves the white below it whole."""
    return f"/{OVER} gs\n"


def white_ink(pdf: Pdf, decals: Sequence[Decal], space: Space) -> pikepdf.Object:
    """The colour space of the white ink, one for all of a file."""
    shown = PALE if all(decal.white is None for decal in decals) else NONE
    return pdf.make_indirect(separation(COLOUR, shown, space))


def white_forms(
    pdf: Pdf, decals: Sequence[Decal], white: pikepdf.Object
) -> dict[str, pikepdf.Object]:
    """The white of every decal that has any, by name: `/WhiteN`, or `/WhiteNRowK` a row."""
    # no overprint beside it: what lies below would be multiplied with itself
    blend = pdf.make_indirect(Dictionary(Type=Name.ExtGState, BM=Name.Multiply, OP=False, op=False))
    forms = {}
    for index, decal in enumerate(decals):
        if decal.white is None:
            continue
        for copy in [number for number, _ in decal.printed_rows] or (1,):
            shape = decal.white_shape(copy)
            if not shapely.is_empty(shape):
                form = _form(pdf, shape, blend, white)
                turn_over(form, decal)
                forms[form_name(PREFIX, decal, index, copy)] = form
    return forms


def _form(
    pdf: Pdf, shape: shapely.Geometry, blend: pikepdf.Object, white: pikepdf.Object
) -> pikepdf.Object:
    outline = outline_of(shape)
    said = f"/{BLEND} gs /{COLOUR} cs 1 scn\n{path_of(outline.rings)}f*"
    form = Stream(pdf, said.encode("ascii"))
    form.Type, form.Subtype = Name.XObject, Name.Form
    left, bottom, right, top = outline.bounds_mm
    room = 0.001  # what digits of the path lose
    box = left - room, bottom - room, right + room, top + room
    form.BBox = Array([round(value, 4) for value in box])
    resources = Dictionary(ExtGState=Dictionary(), ColorSpace=Dictionary())
    resources.ExtGState[f"/{BLEND}"] = blend
    resources.ColorSpace[f"/{COLOUR}"] = white
    form.Resources = resources
    return pdf.make_indirect(form)


def give_white(layers: Layers, pages: Iterable[pikepdf.Page], white: pikepdf.Object) -> None:
    """Colour, layer and graphics state that the fields' operators name, on these pages."""
    over = layers.pdf.make_indirect(over_state())
    for page in pages:
        layers.on(page, WHITE)
        give(page, "/ColorSpace", COLOUR, white)
        give(page, "/ExtGState", OVER, over)
