"""The page without its cut line, as a page of its own; or as a rendering.

The page is carried over as a form: its operators are not touched. Only streams that draw
the cut line or hidden layers are written anew, and there just those operators are left out.
"""

import io
from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import pikepdf
import pypdfium2
from pikepdf import Array, Dictionary, Name, Pdf, Stream
from PIL import Image

from nestplan.artwork.made_bleed.carried import Carried
from nestplan.artwork.pdf.bleed import InkedArea, operators
from nestplan.artwork.pdf.resources import Instruction
from nestplan.artwork.pdf.sheet import Sheet, first_page, opened
from nestplan.artwork.pdf.walk import FILLS, PAGE, STROKES, Piece, SpaceName
from nestplan.artwork.pixel_pdf import image_object, placed
from nestplan.artwork.svg.picture import srgb_profile
from nestplan.faults import Fault

POINTS_PER_MM = 72 / 25.4
RENDERED_PX = 3_500  # longer side of a rendering from which a silhouette is taken
_NOTHING = pikepdf.ContentStreamInstruction([], pikepdf.Operator("n"))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Below:
    """What is drawn before a page. box_mm: all that the new page shows, page mm."""

    box_mm: tuple[float, float, float, float]
    inked: Sequence[InkedArea]
    carried: Carried | None = None

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of the new page."""
        return self.box_mm[2] - self.box_mm[0], self.box_mm[3] - self.box_mm[1]


def page_pdf(
    data: bytes,
    source: str,
    sheet: Sheet,
    mm_per_px: float,
    lines: Iterable[Piece] = (),
    gone: Iterable[Piece] = (),
    below: Below | None = None,
) -> bytes:
    """A PDF page as large as the media box at its final size, upright, the same bytes each time.

    lines: strokes to leave out, their fills stay. gone: pieces to leave out whole. below: what
    is drawn first; the page is then as large as it says.
    """
    with opened(data, source) as pdf:
        _leave_out(pdf, source, lines, gone)
        page = first_page(pdf, source)
        form = page.as_form_xobject(handle_transformations=False)
        form.BBox = Array([round(float(value), 6) for value in page.mediabox])
        blending = page.obj.get("/Group")
        if blending is not None:
            form.Group = blending
        out = Pdf.new()
        left, top, right, bottom = sheet.media
        scale = mm_per_px * POINTS_PER_MM
        width, height = (right - left) * scale, (bottom - top) * scale
        corner = np.array([left * mm_per_px, -bottom * mm_per_px])
        if below is not None:
            width, height = (side * POINTS_PER_MM for side in below.size_mm)
            shift = (corner - below.box_mm[:2]) * POINTS_PER_MM
        place = np.array([[scale, 0, -left * scale], [0, -scale, bottom * scale], [0, 0, 1]])
        if below is not None:
            place = np.array([[1, 0, shift[0]], [0, 1, shift[1]], [0, 0, 1.0]]) @ place
        onto = place @ sheet.onto
        numbers = " ".join(f"{value:z.9f}" for value in onto[:2].T.ravel())
        new = out.add_blank_page(page_size=(100, 100))  # its own limits are those of paper
        new.MediaBox = Array([0, 0, round(width, 5), round(height, 5)])
        art = out.copy_foreign(pdf.make_indirect(form))
        new.Resources = Dictionary(XObject=Dictionary(Page=art))
        if blending is not None:
            new.obj.Group = art.Group
        drawn = "" if below is None else _draw_below(pdf, out, new, below)
        new.Contents = Stream(out, f"{drawn}q {numbers} cm /Page Do Q".encode())
        held = io.BytesIO()
        out.save(held, deterministic_id=True)
    return held.getvalue()


def _draw_below(pdf: Pdf, out: Pdf, new: pikepdf.Page, below: Below) -> str:
    """Put what lies below into the new page's resources; the operators that draw it."""
    said, names = [], dict[SpaceName, str]()
    shift = -np.array(below.box_mm[:2])
    for inked in below.inked:
        name = ""
        if inked.space is not None:
            name = names.setdefault(inked.space, f"/Edge{len(names) + 1}")
        said.append(operators(inked, name, shift, POINTS_PER_MM))
    if names:
        spaces = Dictionary()
        for (stream, given), name in names.items():
            owner = first_page(pdf, "").obj if stream == PAGE else pdf.get_object(stream)
            resources = owner.get("/Resources")
            if resources is None:
                resources = first_page(pdf, "").resources
            spaces[name] = out.copy_foreign(pdf.make_indirect(resources.ColorSpace[given]))
        new.Resources.ColorSpace = spaces
    if below.carried is not None:
        icc = out.make_indirect(Stream(out, srgb_profile(), N=3))
        image = image_object(out, below.carried.ring.colour, Array([Name.ICCBased, icc]))
        there = np.where(below.carried.ring.there, 255, 0).astype(np.uint8)
        image.SMask = image_object(out, there, Name.DeviceGray)
        new.Resources.XObject.Ring = image
        said.insert(0, placed("Ring", below.carried.box_mm, below.box_mm))
    return "".join(said)


def rendered_alpha(pdf: bytes, source: str) -> tuple[Image.Image, float]:
    """Coverage (mode L) of a page of ours, and how many of its pixels make one of its points."""
    try:
        document = pypdfium2.PdfDocument(pdf)
        try:
            page = document[0]
            scale = RENDERED_PX / max(page.get_size())
            bitmap = page.render(scale=scale, fill_color=(0, 0, 0, 0))
            samples = bitmap.to_numpy()
            alpha = np.ascontiguousarray(samples[:, :, 3])
        finally:
            document.close()
    except pypdfium2.PdfiumError as error:
        raise Fault(
            what=f"the page cannot be rendered: {error}",
            where=source,
            do="export it again, or name a drawn contour",
        ) from None
    return Image.fromarray(alpha), scale


def _leave_out(pdf: Pdf, source: str, lines: Iterable[Piece], gone: Iterable[Piece]) -> None:
    """Write anew the streams that draw what must not be printed."""
    whole: dict[tuple[int, int], set[int]] = defaultdict(set)
    stroke: dict[tuple[int, int], set[int]] = defaultdict(set)
    for into, pieces in ((whole, gone), (stroke, lines)):
        for piece in pieces:
            into[piece.at[0]].add(piece.at[1])
    page = first_page(pdf, source)
    for key in {*whole, *stroke}:
        content = page if key == PAGE else pdf.get_object(key)
        instructions = list(pikepdf.parse_content_stream(content))
        text = pikepdf.unparse_content_stream(_without(instructions, whole[key], stroke[key]))
        if isinstance(content, pikepdf.Page):
            content.obj.Contents = pdf.make_indirect(Stream(pdf, text))
        else:
            content.write(text)


def _without(
    instructions: list[Instruction],
    whole: Collection[int],
    stroke: Collection[int],
) -> list[Instruction]:
    """The operators that stay. A path that is not painted still ends: it may be a clip."""
    kept: list[Instruction] = []
    for number, instruction in enumerate(instructions):
        name = str(instruction.operator)
        if number in whole:
            if name in FILLS or name in STROKES:
                kept.append(_NOTHING)
            elif name == '"':  # sets the spacing of the text that follows as well
                kept += [
                    pikepdf.ContentStreamInstruction([value], pikepdf.Operator(what))
                    for value, what in zip(instruction.operands, ("Tw", "Tc"), strict=False)
                ]
                kept.append(pikepdf.ContentStreamInstruction([], pikepdf.Operator("T*")))
            elif name == "'":
                kept.append(pikepdf.ContentStreamInstruction([], pikepdf.Operator("T*")))
        elif number in stroke and name in STROKES:
            fill = {"B": "f", "B*": "f*", "b": "f", "b*": "f*"}.get(name, "n")
            kept.append(pikepdf.ContentStreamInstruction([], pikepdf.Operator(fill)))
        else:
            kept.append(instruction)
    return kept
