"""The white fields of a print page: a separation of its own below everything else.

It is named White after ISO 19593-1's processing step and lies in a layer that carries that step.
Black is then set to overprint, or it would punch its shape out of the white (ISO 32000-1 8.6.7).
On screens and on printers that do not know the colour it shows as a pale blue.
"""

from collections.abc import Iterable

import numpy as np
import pikepdf
import shapely

from nestplan.files.art_form import path_of
from nestplan.files.layers import OVER, Layer, Layers, give, over_state
from nestplan.files.separation import separation
from nestplan.job.profile import Space

COLOUR = "White"
PALE = (0.06, 0.0, 0.0, 0.0)  # what the colour looks like without its ink: seen, yet no ink to read
WHITE = Layer(name="White", tag="WhiteLayer", group="White")


def white_operators(fields_mm: Iterable[shapely.Polygon]) -> str:
    """Operators that paint the fields, page millimetres."""
    paths = "".join(
        f"{path_of([np.asarray(field.exterior.coords)[:-1]])}f\n" for field in fields_mm
    )
    return WHITE.around(f"q /{OVER} gs /{COLOUR} cs 1 scn\n{paths}Q\n")


def black_over_white() -> str:
    """Operator after which black leaves the white below it whole."""
    return f"/{OVER} gs\n"


def give_white(layers: Layers, pages: Iterable[pikepdf.Page], space: Space) -> None:
    """Colour, layer and graphics state that the operators name, on these pages."""
    over = layers.pdf.make_indirect(over_state())
    white = layers.pdf.make_indirect(separation(COLOUR, PALE, space))
    for page in pages:
        layers.on(page, WHITE)
        give(page, "/ColorSpace", COLOUR, white)
        give(page, "/ExtGState", OVER, over)
