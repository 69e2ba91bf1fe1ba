"""A decal's print as one PDF form, to be placed as often as the run needs it.

The form is in decal millimetres, so its numbers do not depend on the page. It clips
the picture to the contour grown by the bleed: ink never reaches a neighbour, and a
hole is printed as far in as its edge bleeds. The picture itself is carried over as
it is: vectors stay vectors, a raster is embedded once for the whole document.
"""

import hashlib
import io
from collections.abc import Iterable, Sequence

import numpy as np
import pikepdf
import shapely
from numpy.typing import NDArray
from pikepdf import Array, Dictionary, Name, Pdf, Stream

from nestplan.artwork import Decal, Picture
from nestplan.geometry.outline import outline_of

LAYERS = ("Art", "Row")  # what all copies share, and what one says


def art_forms(pdf: Pdf, decals: Sequence[Decal]) -> list[dict[int, pikepdf.Object]]:
    """The forms of each decal, in order: one for all its copies, or one a row, by number.

    Decals that share a picture share its bytes, and so do the rows of one decal.
    """
    carried: dict[str, pikepdf.Object] = {}

    def shared(picture: Picture) -> pikepdf.Object:
        digest = hashlib.sha256(picture.pdf).hexdigest()
        if digest not in carried:
            carried[digest] = _carried(pdf, picture)
        return carried[digest]

    forms = []
    for decal in decals:
        art = shared(decal.picture)
        if not decal.rows:
            forms.append({1: _clipped(pdf, decal, [(art, decal.picture)])})
            continue
        rows = [(n, (shared(row.picture), row.picture)) for n, row in decal.printed_rows]
        forms.append({n: _clipped(pdf, decal, [(art, decal.picture), row]) for n, row in rows})
    return forms


def form_name(prefix: str, decal: Decal, index: int, copy: int) -> str:
    """Name of the form of a decal's copy: Decal1, or Decal1Row7 where each says its own.

    index: of the decal, from 0. copy: its number, from 1.
    """
    return f"{prefix}{index + 1}{f'Row{copy}' if decal.rows else ''}"


def named_forms(prefix: str, pdf: Pdf, decals: Sequence[Decal]) -> dict[str, pikepdf.Object]:
    """The forms of all decals under their names."""
    return {
        form_name(prefix, decal, index, copy): form
        for index, (decal, forms) in enumerate(zip(decals, art_forms(pdf, decals), strict=True))
        for copy, form in forms.items()
    }


def printed_region(decal: Decal) -> shapely.Geometry:
    """Where a decal puts ink: its contour grown by its bleed, in decal coordinates."""
    return decal.inked


def path_of(rings: Iterable[NDArray[np.float64]]) -> str:
    """PDF operators that draw rings (n, 2), each closed; to be filled or clipped even-odd."""
    said = []
    for ring in rings:
        (x, y), *rest = ring.tolist()
        lines = "".join(f"{x:z.4f} {y:z.4f} l\n" for x, y in rest)
        said.append(f"{x:z.4f} {y:z.4f} m\n{lines}h\n")
    return "".join(said)


def _carried(pdf: Pdf, picture: Picture) -> pikepdf.Object:
    """The picture's page as a form of this document, its whole media box, its blending kept."""
    with pikepdf.open(io.BytesIO(picture.pdf)) as source:
        page = source.pages[0]
        form = page.as_form_xobject()
        form.BBox = Array(list(page.mediabox))
        if "/Group" in page.obj and "/Group" not in form:
            form.Group = page.obj.Group
        return pdf.copy_foreign(form)


def _clipped(
    pdf: Pdf, decal: Decal, layers: Sequence[tuple[pikepdf.Object, Picture]]
) -> pikepdf.Object:
    """Pictures laid on the decal one on the other, inside its bleed."""
    outline = outline_of(printed_region(decal.upright))
    laid = []
    for name, (art, picture) in zip(LAYERS, layers, strict=False):
        matrix = " ".join(f"{value:z.9f}" for value in _onto(art, picture.box_mm))
        laid.append(f"q {matrix} cm /{name} Do Q")
    form = Stream(pdf, f"{path_of(outline.rings)}W* n\n{' '.join(laid)}".encode("ascii"))
    form.Type, form.Subtype = Name.XObject, Name.Form
    form.BBox = Array([round(value, 4) for value in outline.bounds_mm])
    turn_over(form, decal)
    form.Resources = Dictionary(
        XObject=Dictionary(
            {f"/{name}": art for name, (art, _) in zip(LAYERS, layers, strict=False)}
        )
    )
    return pdf.make_indirect(form)


def turn_over(form: pikepdf.Object, decal: Decal) -> None:
    """Let a form that shows a decal upright lie as it is printed: ISO 32000-1 8.10.1, /Matrix."""
    if decal.mirrored:
        form.Matrix = Array([-1, 0, 0, 1, 0, 0])


def _onto(form: pikepdf.Object, box_mm: tuple[float, float, float, float]) -> tuple[float, ...]:
    """The six numbers that lay the form's box, as its own matrix turns it, onto a box.

    source: a form's space is its /Matrix applied to its /BBox, ISO 32000-1 8.10.1.
    """
    left, bottom, right, top = (float(value) for value in form.BBox)
    own = [float(value) for value in form.get("/Matrix", Array([1, 0, 0, 1, 0, 0]))]
    corners = np.array([[left, bottom], [right, bottom], [right, top], [left, top]])
    seen = corners @ np.array([own[0:2], own[2:4]]) + own[4:6]
    low, size = seen.min(axis=0), np.ptp(seen, axis=0)
    across = (box_mm[2] - box_mm[0]) / float(size[0])
    up = (box_mm[3] - box_mm[1]) / float(size[1])
    return (
        across,
        0.0,
        0.0,
        up,
        box_mm[0] - across * float(low[0]),
        box_mm[1] - up * float(low[1]),
    )
