"""The white fields of a print page: a separation of its own below everything else.

It is named White after ISO 19593-1's processing step and lies in a layer that carries that step.
Black is then set to overprint, or it would punch its shape out of the white (ISO 32000-1 8.6.7).
On screens and on printers that do not know the colour it shows as a pale blue.
"""

from collections.abc import Iterable

import numpy as np
import pikepdf
import shapely
from pikepdf import Array, Dictionary, Name, Pdf

from nestplan.files.art_form import path_of

COLOUR = "White"
PALE = (0.06, 0.0, 0.0, 0.0)  # what the colour looks like without its ink: seen, yet no ink to read


def white_operators(fields_mm: Iterable[shapely.Polygon]) -> str:
    """Operators that paint the fields, page millimetres."""
    paths = "".join(
        f"{path_of([np.asarray(field.exterior.coords)[:-1]])}f\n" for field in fields_mm
    )
    return f"/OC /WhiteStep BDC\nq /Overprint gs /White cs 1 scn\n{paths}Q\nEMC\n"


def black_over_white() -> str:
    """Operator after which black leaves the white below it whole."""
    return "/Overprint gs\n"


def give_white(pdf: Pdf, pages: Iterable[pikepdf.Page]) -> None:
    """Colour, layer and graphics state that the operators name, on these pages."""
    tint = Dictionary(
        FunctionType=2, Domain=Array([0, 1]), C0=Array([0, 0, 0, 0]), C1=Array([*PALE]), N=1
    )
    space = Array([Name.Separation, Name(f"/{COLOUR}"), Name.DeviceCMYK, tint])
    layer = pdf.make_indirect(
        Dictionary(
            Type=Name.OCG,
            Name=COLOUR,
            GTS_Metadata=Dictionary(GTS_ProcStepsGroup=Name("/White")),
        )
    )
    pdf.Root.OCProperties = Dictionary(
        OCGs=Array([layer]), D=Dictionary(Order=Array([layer]), ON=Array([layer]))
    )
    over = pdf.make_indirect(Dictionary(Type=Name.ExtGState, OP=True, op=True, OPM=1))
    white = pdf.make_indirect(space)
    for page in pages:
        resources = page.obj.Resources
        for kind, name, thing in (
            ("/ColorSpace", "/White", white),
            ("/Properties", "/WhiteStep", layer),
            ("/ExtGState", "/Overprint", over),
        ):
            if kind not in resources:
                resources[kind] = Dictionary()
            resources[kind][name] = thing
