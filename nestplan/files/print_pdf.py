"""The print PDF: what goes to the printer, at actual size.

Page n is frame n. The page is the printable width across and the frame's length
along the feed, leading edge at the bottom, as the run's coordinates have it; its
origin is (page_x0_mm, the frame's y0). Words are set by reportlab; pictures, marks
and bars are written here, because their places need more digits than it keeps. All
content is in millimetres under one scale at the head of the page.
"""

import io
from math import ceil

import pikepdf
import shapely
from pikepdf import Array, Dictionary, Name, Pdf, Stream

from nestplan.files.art_form import form_name, named_forms, path_of
from nestplan.files.one_line import one_line
from nestplan.files.run import Run
from nestplan.files.slug import bars, words
from nestplan.files.white import black_over_white, give_white, white_operators
from nestplan.geometry.outline import cos_sin
from nestplan.marks import Frame, needs_white, white_fields

PT_PER_MM = 72 / 25.4  # ISO 32000-1 8.3.2.3
UNITS_MOST = 14_400  # longest side of a page in its own units: PDF Reference 1.7, Appendix C
PDF_VERSION = "1.7"  # ISO 32000-1; UserUnit needs 1.6


def print_pdf(run: Run) -> bytes:
    """All frames of a run, ready to print at actual size; the same run gives the same bytes.

    Each decal's art is in the file once, as the form `/DecalN` (N from 1, in the job's order),
    clipped to its contour and bleed; a copy is one placement of it. Copies that each say their
    own row are placements of `/DecalNRowK`: the same art, and on it the text of row K.
    Marks, bars and words are DeviceGray 0: that is black ink alone by the standard's own
    conversion (ISO 32000-1 10.3.3), so no other colour can blur a mark's edge, and full black
    on a screen too.
    On film that is not white they lie on white fields and overprint them.
    A page longer than 5080 mm gets a UserUnit, which not every reader honours.
    """
    with pikepdf.open(io.BytesIO(words(run))) as pdf:
        forms = named_forms("Decal", pdf, run.artwork.decals)
        for page, frame in zip(pdf.pages, run.marks.frames, strict=True):
            _fill(pdf, page, run, frame, forms)
        if needs_white(run.job.roll):
            give_white(pdf, pdf.pages)
        _describe(pdf, run)
        held = io.BytesIO()
        pdf.save(held, deterministic_id=True, min_version=PDF_VERSION)
    return held.getvalue()


def user_unit(width_mm: float, length_mm: float) -> int:
    """How many 1/72 inch a unit of the page must be, so that the page is not too long."""
    return max(1, ceil(max(width_mm, length_mm) * PT_PER_MM / UNITS_MOST - 1e-9))


def _fill(
    pdf: Pdf, page: pikepdf.Page, run: Run, frame: Frame, forms: dict[str, pikepdf.Object]
) -> None:
    """Size the page and put pictures, marks and bars under its words."""
    placed, used = _pictures(run, frame)
    for name in used:
        page.add_resource(forms[name], Name.XObject, Name(f"/{name}"))
    unit = user_unit(run.page_width_mm, frame.length_mm)
    scale = PT_PER_MM / unit
    white, over = _white(run, frame)
    head = f"q {scale:.12f} 0 0 {scale:.12f} 0 0 cm\n{white}{placed}{over}"
    head += f"{_marks(run, frame)}{bars(run, frame)}"
    content = head.encode("ascii") + page.obj.Contents.read_bytes() + b"\nQ\n"
    page.obj.Contents = Stream(pdf, content)
    whole = Array([0, 0, round(run.page_width_mm * scale, 6), round(frame.length_mm * scale, 6)])
    page.obj.MediaBox = page.obj.TrimBox = page.obj.BleedBox = whole
    if unit > 1:
        page.obj.UserUnit = unit
    if "/Trans" in page.obj:
        del page.obj.Trans


def _pictures(run: Run, frame: Frame) -> tuple[str, list[str]]:
    """Operators that place every copy of a frame, and which forms they name."""
    strip = run.nest.strips[frame.index - 1]
    places = strip.placements.moved(
        run.nest.x0_mm - run.page_x0_mm, frame.strip_y0_mm - frame.y0_mm
    )
    said, used = [], {}
    for (decal, (x, y), angle), copy in zip(places.each(), strip.copy, strict=True):
        name = form_name("Decal", run.artwork.decals[decal], decal, copy)
        used[name] = decal, copy
        c, s = cos_sin(angle)
        turn = f"{c:z.9f} {s:z.9f} {-s:z.9f} {c:z.9f}"
        said.append(f"q {turn} {x:z.6f} {y:z.6f} cm /{name} Do Q\n")
    return "".join(said), sorted(used, key=lambda name: used[name])


def _white(run: Run, frame: Frame) -> tuple[str, str]:
    """Operators for what lies below all else, and for what must not knock it out; often none."""
    if not needs_white(run.job.roll):
        return "", ""
    fields = white_fields(run.marks, frame)
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


def _describe(pdf: Pdf, run: Run) -> None:
    """Title and producer, no dates; and the wish that the print dialog does not scale."""
    for key in list(pdf.docinfo.keys()):
        del pdf.docinfo[key]
    pdf.docinfo["/Title"] = f"{one_line(run.job.order.name)}: print"
    pdf.docinfo["/Producer"] = f"nestplan {run.version}"
    pdf.Root.ViewerPreferences = Dictionary(PrintScaling=Name("/None"))
