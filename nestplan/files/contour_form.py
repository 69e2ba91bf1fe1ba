"""The contours in the print PDF: hairlines in a colour of their own that overprint.

The colours are named as the processing steps that ISO 19593-1 has for such cuts: PartialCutting
does not go through (our reading of it), Cutting does. The cutter follows its own file: these
lines are for eyes, and for machines that look for the steps.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import pikepdf
from pikepdf import Array, Dictionary, Name, Pdf, Stream

from nestplan.artwork import Decal
from nestplan.files.art_form import path_of, turn_over
from nestplan.files.layers import CONTOURS, OVER, over_state
from nestplan.files.separation import Process, separation
from nestplan.geometry.outline import Outline
from nestplan.job import Cut
from nestplan.job.profile import Space

LINE_MM = 0.1
LOOKS: dict[Cut, Process] = {  # ours: seen on art of any colour, unlike each other in grey
    "kiss": (0.75, 0.0, 0.35, 0.0),
    "through": (0.0, 0.55, 0.9, 0.25),
}


@dataclass(frozen=True, slots=True)
class Line:
    """An upright contour of a decal (an index), the kind of its cut, and its form's name."""

    decal: int
    cut: Cut
    name: str
    outline: Outline


def contour_lines(decals: Sequence[Decal]) -> list[Line]:
    """Every contour of every decal, in the job's order: its own, then that of its backing."""
    lines = []
    for index, decal in enumerate(decals):
        lines.append(Line(index, decal.cut, f"Contour{index + 1}", decal.upright.contour))
        backing = decal.upright.backing
        if backing is not None:
            lines.append(Line(index, "through", f"Backing{index + 1}", backing))
    return lines


def contour_forms(
    pdf: Pdf, decals: Sequence[Decal], lines: Sequence[Line], space: Space
) -> dict[str, pikepdf.Object]:
    """A form for each, by name, in decal millimetres; it strokes every ring."""
    over = pdf.make_indirect(over_state())
    inks = {
        cut: pdf.make_indirect(separation(colour_of(cut), LOOKS[cut], space))
        for cut in dict.fromkeys(line.cut for line in lines)
    }
    forms = {line.name: _form(pdf, line, over, inks[line.cut]) for line in lines}
    for line in lines:
        turn_over(forms[line.name], decals[line.decal])
    return forms


def colour_of(cut: Cut) -> str:
    """The name of the separation: the step's own."""
    kind = CONTOURS[cut].kind
    assert kind is not None
    return kind


def _form(pdf: Pdf, line: Line, over: pikepdf.Object, ink: pikepdf.Object) -> pikepdf.Object:
    colour = colour_of(line.cut)
    said = f"/{OVER} gs /{colour} CS 1 SCN {LINE_MM} w 1 j\n{path_of(line.outline.rings)}S"
    form = Stream(pdf, said.encode("ascii"))
    form.Type, form.Subtype = Name.XObject, Name.Form
    left, bottom, right, top = line.outline.bounds_mm
    room = LINE_MM
    box = left - room, bottom - room, right + room, top + room
    form.BBox = Array([round(value, 4) for value in box])
    resources = Dictionary(ExtGState=Dictionary(), ColorSpace=Dictionary())
    resources.ExtGState[f"/{OVER}"] = over
    resources.ColorSpace[f"/{colour}"] = ink
    form.Resources = resources
    return pdf.make_indirect(form)
