"""fit.pdf: a page for each frame that was measured. The same fit gives the same bytes."""

import io

import pikepdf

from nestplan import figures
from nestplan.files.fonts import register_fonts
from nestplan.files.one_line import one_line
from nestplan.files.proof_sheets import Page, drawn, moved
from nestplan.fit.fit_page import draw_fit_page, plan_fit_page
from nestplan.fit.fit_sheets import Fit
from nestplan.fit.frame_fit import FrameFit

KIND = "Fit"
NAME_MOST = 40


def fit_pdf(fit: Fit) -> bytes:
    """The pages as the bytes of a PDF, A4."""
    register_fonts()  # words are measured while pages are planned
    pages = [page for each in fit.frames for page in _pages(fit, each)]
    source = f"nestplan {fit.version}, plan {fit.plan.digest[:12]}, {fit.measured.name}"
    return _signed(drawn(pages, one_line(source)).pdf, fit)


def _pages(fit: Fit, each: FrameFit) -> list[Page]:
    made = plan_fit_page(fit.plan, each)
    title = f"Frame {each.frame.index}: {each.verdict}" if each.frame else f"{each.verdict}"
    title = title[0].upper() + title[1:]
    under = f"{one_line(fit.plan.job, NAME_MOST)}: {_words(fit, each)}"
    first = Page(
        paper_mm=made.page.paper_mm,
        title=title,
        under=under,
        draw=lambda sheet: draw_fit_page(sheet, fit.plan, made),
        kind=KIND,
    )
    return [first, *moved(made.page.info, title, under, KIND)]


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
