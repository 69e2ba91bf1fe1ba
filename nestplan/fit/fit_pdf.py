"""fit.pdf: a page for each frame that was measured. The same fit gives the same bytes."""

import io
from collections.abc import Callable
from dataclasses import dataclass

import pikepdf
from reportlab.pdfgen.canvas import Canvas

from nestplan import figures
from nestplan.files.fonts import BODY, register_fonts
from nestplan.files.one_line import one_line
from nestplan.files.proof_page import draw_footer, draw_header, draw_more, more_pages
from nestplan.files.proof_sheet import Sheet
from nestplan.files.proof_style import PORTRAIT_MM, PT_PER_MM
from nestplan.fit.fit_page import draw_fit_page, plan_fit_page
from nestplan.fit.fit_sheets import Fit
from nestplan.fit.frame_fit import FrameFit

NAME_MOST = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class _Page:
    paper_mm: tuple[float, float]
    title: str
    under: str
    draw: Callable[[Sheet], None]


def fit_pdf(fit: Fit) -> bytes:
    """The pages as the bytes of a PDF, A4."""
    register_fonts()
    pages = [page for each in fit.frames for page in _pages(fit, each)]
    held = io.BytesIO()
    canvas = Canvas(held, initialFontName=BODY, invariant=1, pageCompression=0)  # type: ignore[arg-type] # stub says float
    for number, page in enumerate(pages, start=1):
        wide, tall = page.paper_mm
        canvas.setPageSize((wide * PT_PER_MM, tall * PT_PER_MM))
        sheet = Sheet(canvas=canvas, width_mm=wide, height_mm=tall)
        draw_header(sheet, page.title, page.under, "Fit")
        page.draw(sheet)
        source = f"nestplan {fit.version}, plan {fit.plan.digest[:12]}, {fit.measured.name}"
        draw_footer(sheet, one_line(source), f"page {number} of {len(pages)}")
        canvas.showPage()
    canvas.save()
    return _signed(held.getvalue(), fit)


def _pages(fit: Fit, each: FrameFit) -> list[_Page]:
    made = plan_fit_page(fit.plan, each)
    title = f"Frame {each.frame.index}: {each.verdict}" if each.frame else f"{each.verdict}"
    title = title[0].upper() + title[1:]
    under = f"{one_line(fit.plan.job, NAME_MOST)}: {_words(fit, each)}"
    first = _Page(
        paper_mm=made.page.paper_mm,
        title=title,
        under=under,
        draw=lambda sheet: draw_fit_page(sheet, fit.plan, made),
    )
    info = made.page.info
    more = [
        _Page(
            paper_mm=PORTRAIT_MM,
            title=title,
            under=under,
            draw=lambda sheet, page=page: draw_more(sheet, page),  # type: ignore[misc]  # mypy cannot infer a lambda with a default
        )
        for page in more_pages(info.moved_wide, info.moved_narrow).pages
    ]
    return [first, *more]


def _words(fit: Fit, each: FrameFit) -> str:
    if each.fitted is None or each.frame is None:
        return f"{one_line(fit.measured.name)} against the plan"
    seen, planned = len(each.fitted.rows), len(each.frame.numbers)
    turned = figures.fixed(each.fitted.turn.angle_deg, 1)
    return (
        f"{seen} of {figures.count(planned, 'mark')}, sheet turned by {turned}°; cutter corrects: "
        f"{fit.plan.model.corrects}. Printed side, leading edge below."
    )


def _signed(pages: bytes, fit: Fit) -> bytes:
    """The PDF with a title and no dates."""
    with pikepdf.open(io.BytesIO(pages)) as pdf:
        for page in pdf.pages:
            if "/Trans" in page.obj:
                del page.obj["/Trans"]
        for key in list(pdf.docinfo.keys()):
            del pdf.docinfo[key]
        pdf.docinfo["/Title"] = f"{one_line(fit.plan.job)}: fit"
        pdf.docinfo["/Producer"] = f"nestplan {fit.version}"
        held = io.BytesIO()
        pdf.save(held, deterministic_id=True, object_stream_mode=pikepdf.ObjectStreamMode.generate)
    return held.getvalue()
