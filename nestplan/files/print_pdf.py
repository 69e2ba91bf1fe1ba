"""The print PDF: what goes to the printer, at actual size.

Page n is frame n. The page is the printable width across and the frame's length
along the feed, leading edge at the bottom, as the run's coordinates have it; its
origin is (page_x0_mm, the frame's y0). Words are set by reportlab; pictures, marks
and bars are written here, because their places need more digits than it keeps. All
content is in millimetres under one scale at the head of the page.
"""

import io
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from math import ceil

import pikepdf
import shapely
from pikepdf import Array, ObjectStreamMode, Pdf, Stream

from nestplan.files.art_form import form_name, named_forms, path_of
from nestplan.files.contour_form import Line, contour_forms, contour_lines
from nestplan.files.layers import ART_WHITE, CONTOURS, MARKS, WEED, Layers, give
from nestplan.files.plan_id import plan_id
from nestplan.files.press import describe, output_profile
from nestplan.files.qr import code_operators
from nestplan.files.run import Run
from nestplan.files.slug import bars, words
from nestplan.files.summary import run_digest
from nestplan.files.weed_form import weed_forms, weed_name
from nestplan.files.white import (
    PREFIX,
    black_over_white,
    give_white,
    white_forms,
    white_ink,
    white_operators,
)
from nestplan.geometry.outline import cos_sin
from nestplan.job import white_order
from nestplan.marks import Frame, needs_white, white_fields

PT_PER_MM = 72 / 25.4  # ISO 32000-1 8.3.2.3
UNITS_MOST = 14_400  # longest side of a page in its own units: PDF Reference 1.7, Appendix C
PDF_VERSION = "1.7"  # ISO 32000-1; UserUnit needs 1.6


@dataclass(frozen=True, slots=True, kw_only=True)
class _Copy:
    """A copy on a page. name, white: of its forms; put: brings decal millimetres to the page."""

    decal: int
    name: str
    white: str
    put: str


def print_pdf(run: Run) -> bytes:
    """All frames of a run, ready to print at actual size; the same run gives the same bytes.

    Each decal's art is in the file once, as the form `/DecalN` (N from 1, in the job's order),
    clipped to its contour and bleed; a copy is one placement of it. Copies that each say their
    own row are placements of `/DecalNRowK`: the same art, and on it the text of row K.
    Marks, bars and words are DeviceGray 0: that is black ink alone by the standard's own
    conversion (ISO 32000-1 10.3.3), so no other colour can blur a mark's edge, and full black
    on a screen too.
    On film that is not white they lie on white fields and overprint them.
    White of the art, `/WhiteN`, lies over the art and leaves it as it is, in any order of inks.
    Contours lie over all of it as processing steps (ISO 19593-1), in layers that are off; so do
    weed lines. Contours are whole there: tabs are left by the cut layers.
    A page longer than 5080 mm gets a UserUnit, which not every reader honours.
    """
    digest, space = run_digest(run), output_profile(run.job).space
    with pikepdf.open(io.BytesIO(words(run))) as pdf:
        layers = Layers(pdf)
        ink = white_ink(pdf, run.artwork.decals, space)
        whites = white_forms(pdf, run.artwork.decals, ink)
        if needs_white(run.job.roll):
            give_white(layers, pdf.pages, ink)
        art = named_forms("Decal", pdf, run.artwork.decals)
        lines = contour_lines(run.artwork.decals) if run.job.printer.contours_in_print else []
        contours = contour_forms(pdf, run.artwork.decals, lines, space)
        weeds = weed_forms(pdf, run, space)
        for page, frame in zip(pdf.pages, run.marks.frames, strict=True):
            copies = _copies(run, frame)
            content = _content(run, frame, copies, whites, lines, plan_id(digest))
            if weed_name(frame) in weeds:
                give(page, "/XObject", weed_name(frame), weeds[weed_name(frame)])
                layers.on(page, WEED)
                content = content[0], content[1] + WEED.around(f"/{weed_name(frame)} Do\n")
            _lay(pdf, page, run, frame, content)
            for name in dict.fromkeys(copy.name for copy in copies):
                give(page, "/XObject", name, art[name])
            for name in dict.fromkeys(copy.white for copy in copies if copy.white in whites):
                give(page, "/XObject", name, whites[name])
                layers.on(page, ART_WHITE[white_order(run.job.order)])
            here = {copy.decal for copy in copies}
            for line in lines:
                if line.decal in here:
                    give(page, "/XObject", line.name, contours[line.name])
                    layers.on(page, CONTOURS[line.cut])
            layers.on(page, MARKS)
        layers.finish()
        describe(pdf, run, digest)
        held = io.BytesIO()
        pdf.save(
            held,
            deterministic_id=True,
            min_version=PDF_VERSION,
            object_stream_mode=ObjectStreamMode.generate,
            recompress_flate=True,
        )
    return held.getvalue()


def user_unit(width_mm: float, length_mm: float) -> int:
    """How many 1/72 inch a unit of the page must be, so that the page is not too long."""
    return max(1, ceil(max(width_mm, length_mm) * PT_PER_MM / UNITS_MOST - 1e-9))


def _content(
    run: Run,
    frame: Frame,
    copies: Sequence[_Copy],
    whites: Collection[str],
    lines: Sequence[Line],
    plan: str,
) -> tuple[str, str]:
    """Operators before and after the frame's words, all in page millimetres.

    Marks, words, bars and code are black of one layer; contours come last, over all ink.
    """
    pictures = "".join(f"{copy.put} /{copy.name} Do Q\n" for copy in copies)
    inside = "".join(f"{copy.put} /{copy.white} Do Q\n" for copy in copies if copy.white in whites)
    if inside:
        pictures += ART_WHITE[white_order(run.job.order)].around(inside)
    white, over = _white(run, frame)
    black = f"{over}{_marks(run, frame)}{code_operators(run, frame, plan)}{bars(run, frame)}q\n"
    steps = ""
    for cut, layer in CONTOURS.items():
        names = {line.decal: line.name for line in lines if line.cut == cut}
        kept = (copy for copy in copies if copy.decal in names)
        said = (f"{copy.put} /{names[copy.decal]} Do Q\n" for copy in kept)
        steps += layer.around("".join(said))
    return f"{white}{pictures}/OC /{MARKS.tag} BDC\n{black}", f"Q\nEMC\n{steps}"


def _lay(pdf: Pdf, page: pikepdf.Page, run: Run, frame: Frame, content: tuple[str, str]) -> None:
    """Size the page and put the content round its words."""
    unit = user_unit(run.page_width_mm, frame.length_mm)
    scale = PT_PER_MM / unit
    head = f"q {scale:.12f} 0 0 {scale:.12f} 0 0 cm\n{content[0]}"
    said = head.encode("ascii") + page.obj.Contents.read_bytes() + b"\n"
    page.obj.Contents = Stream(pdf, said + content[1].encode("ascii") + b"Q\n")
    whole = Array([0, 0, round(run.page_width_mm * scale, 6), round(frame.length_mm * scale, 6)])
    page.obj.MediaBox = page.obj.TrimBox = page.obj.BleedBox = whole
    if unit > 1:
        page.obj.UserUnit = unit
    if "/Trans" in page.obj:
        del page.obj.Trans


def _copies(run: Run, frame: Frame) -> list[_Copy]:
    """Every copy of a frame, in the order of the nest."""
    strip = run.nest.strips[frame.index - 1]
    places = strip.placements.moved(
        run.nest.x0_mm - run.page_x0_mm, frame.strip_y0_mm - frame.y0_mm
    )
    said = []
    for (decal, (x, y), angle), copy in zip(places.each(), strip.copy, strict=True):
        c, s = cos_sin(angle)
        turn = f"{c:z.9f} {s:z.9f} {-s:z.9f} {c:z.9f}"
        name = form_name("Decal", run.artwork.decals[decal], decal, copy)
        white = form_name(PREFIX, run.artwork.decals[decal], decal, copy)
        put = f"q {turn} {x:z.6f} {y:z.6f} cm"
        said.append(_Copy(decal=decal, name=name, white=white, put=put))
    return said


def _white(run: Run, frame: Frame) -> tuple[str, str]:
    """Operators for what lies below all else, and for what must not knock it out; often none."""
    if not needs_white(run.job.roll):
        return "", ""
    fields = white_fields(run.marks, frame, white_order(run.job.order))
    shift = run.page_x0_mm, frame.y0_mm
    here = [shapely.transform(field, lambda points: points - shift) for field in fields]
    return white_operators(here), black_over_white()


def _marks(run: Run, frame: Frame) -> str:
    """Operators that fill every mark, one path each."""
    said = ["0 g\n"]
    for mark in frame.marks:
        outline = run.marks.outline.moved(mark.x_mm - run.page_x0_mm, mark.y_mm - frame.y0_mm)
        said.append(f"{path_of(outline.rings)}f*\n")
    return "".join(said)
