"""The decals' real art inside the proof: one form a decal, however often it is drawn.

The pages are drawn first and name forms of a decal: `ArtN`, the picture as it is
printed, and `LineN`, the contour, stroked in whatever style the page has set; where a
backing goes round it, `BackingN` too. All are in decal millimetres. Here they are put in.
"""

import io
from collections.abc import Mapping, Sequence

import pikepdf
import shapely
from pikepdf import Array, Dictionary, Name, ObjectStreamMode, Pdf, Stream

from nestplan.artwork import Decal
from nestplan.files.art_form import form_name, named_forms, path_of, turn_over
from nestplan.files.proof_raster import lighter
from nestplan.files.proof_style import PT_PER_MM
from nestplan.geometry.outline import Outline, outline_of

FINE_MM = 0.02  # the drawn contour may be simplified by less than any printer's dot
STROKE_ROOM = 0.1  # of a decal's size: how far a stroke may stand out past its line


def art_name(decal: Decal, index: int, copy: int | None = None) -> str:
    """Name of the form that draws a copy's picture, the first one's where none is named.

    index: counts from 0; copies count from 1.
    """
    return form_name("Art", decal, index, copy or min(decal.numbers, default=1))


def line_name(decal: int) -> str:
    """Name of the form that strokes a decal's contour; decal counts from 0."""
    return f"Line{decal + 1}"


def backing_name(decal: int) -> str:
    """Name of the form that strokes the backing round a decal; decal counts from 0."""
    return f"Backing{decal + 1}"


def with_art(
    pages: bytes,
    forms: Sequence[Mapping[str, float]],
    decals: Sequence[Decal],
    about: Mapping[str, str],
) -> bytes:
    """The pages with the forms they name; same bytes for the same input.

    forms: the names that page n draws, each with its largest scale in points per mm.
    about: all that the file says of itself; no dates.
    """
    with pikepdf.open(io.BytesIO(pages)) as pdf:
        light = [
            lighter(decal, PT_PER_MM / _largest(forms, art_name(decal, index)))
            for index, decal in enumerate(decals)
        ]
        made = named_forms("Art", pdf, light)
        made |= {
            line_name(k): _line(pdf, decal.upright.contour, decal) for k, decal in enumerate(decals)
        }
        made |= {
            backing_name(k): _line(pdf, backing, decal)
            for k, decal in enumerate(decals)
            if (backing := decal.upright.backing) is not None
        }
        for page, names in zip(pdf.pages, forms, strict=True):
            for name in sorted(names):
                page.add_resource(made[name], Name.XObject, Name(f"/{name}"))
            if "/Trans" in page.obj:
                del page.obj["/Trans"]
        for key in list(pdf.docinfo.keys()):
            del pdf.docinfo[key]
        for key, words in about.items():
            pdf.docinfo[key] = words
        held = io.BytesIO()
        pdf.save(held, deterministic_id=True, object_stream_mode=ObjectStreamMode.generate)
    return held.getvalue()


def _largest(forms: Sequence[Mapping[str, float]], name: str) -> float:
    """The largest scale at which a decal is drawn, by the form of its first copy."""
    return max(names.get(name, 0.0) for names in forms)


def _line(pdf: Pdf, outline: Outline, decal: Decal) -> pikepdf.Object:
    """A cut line as a path that takes the stroke of the page."""
    simple = outline_of(shapely.simplify(outline.region, FINE_MM))
    left, bottom, right, top = outline.bounds_mm
    room = STROKE_ROOM * max(right - left, top - bottom)
    form = Stream(pdf, f"{path_of(simple.rings)}S".encode("ascii"))
    form.Type, form.Subtype = Name.XObject, Name.Form
    box = left - room, bottom - room, right + room, top + room
    form.BBox = Array([round(value, 4) for value in box])
    form.Resources = Dictionary()
    turn_over(form, decal)
    return pdf.make_indirect(form)
