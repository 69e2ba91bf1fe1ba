"""The weed lines of a frame in the print PDF: hairlines in a layer of their own, off like contours.

They part the film and not the liner, so their step and colour are those of a kiss cut
(ISO 19593-1); what they are for, the layer's name says.
"""

import pikepdf
from pikepdf import Array, Dictionary, Name, Pdf, Stream

from nestplan.files.art_form import path_of
from nestplan.files.contour_form import LINE_MM, LOOKS, colour_of
from nestplan.files.layers import OVER, over_state
from nestplan.files.run import Run
from nestplan.files.separation import separation
from nestplan.job.profile import Space
from nestplan.marks import Frame


def weed_name(frame: Frame) -> str:
    """Of the form that strokes a frame's weed lines."""
    return f"Weed{frame.index}"


def weed_forms(pdf: Pdf, run: Run, space: Space) -> dict[str, pikepdf.Object]:
    """A form for each frame that has weed lines, by name, in page millimetres."""
    forms: dict[str, pikepdf.Object] = {}
    if not (run.cut.extras.weed_lines and run.job.printer.contours_in_print):
        return forms
    ink = pdf.make_indirect(separation(colour_of("kiss"), LOOKS["kiss"], space))
    over = pdf.make_indirect(over_state())
    for frame, cut in zip(run.marks.frames, run.cut.frames, strict=True):
        said = []
        for stroke in cut.strokes:
            if stroke.kind == "weed":
                path = path_of([stroke.points_mm - (run.page_x0_mm, frame.y0_mm)])
                said.append(path if stroke.closed else path.removesuffix("h\n"))
        if said:
            forms[weed_name(frame)] = _form(pdf, run, frame, "".join(said), ink, over)
    return forms


def _form(
    pdf: Pdf, run: Run, frame: Frame, path: str, ink: pikepdf.Object, over: pikepdf.Object
) -> pikepdf.Object:
    colour = colour_of("kiss")
    said = f"/{OVER} gs /{colour} CS 1 SCN {LINE_MM} w 1 j\n{path}S"
    form = Stream(pdf, said.encode("ascii"))
    form.Type, form.Subtype = Name.XObject, Name.Form
    left, right = -run.page_x0_mm, run.job.roll.width_mm - run.page_x0_mm
    form.BBox = Array([round(value, 4) for value in (left, 0.0, right, frame.length_mm)])
    form.Resources = Dictionary(
        ExtGState=Dictionary({f"/{OVER}": over}), ColorSpace=Dictionary({f"/{colour}": ink})
    )
    return pdf.make_indirect(form)
