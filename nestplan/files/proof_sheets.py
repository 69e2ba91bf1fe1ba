"""Pages one after another, each with its title and its footer, as the bytes of a PDF."""

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

from reportlab.pdfgen.canvas import Canvas

from nestplan.files.fonts import BODY
from nestplan.files.proof_page import Info, draw_footer, draw_header, draw_more, more_pages
from nestplan.files.proof_sheet import Sheet
from nestplan.files.proof_style import PORTRAIT_MM, PT_PER_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A page still to be drawn. kind: what stands at the right of its title."""

    paper_mm: tuple[float, float]
    title: str
    under: str
    draw: Callable[[Sheet], None]
    kind: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """pdf: the pages, without a title yet. forms: those of each page, as its sheet has them."""

    pdf: bytes
    forms: list[dict[str, float]]


def drawn(pages: Sequence[Page], source: str) -> Drawn:
    """The pages in order, numbered. source: what they were made from, one line. The same pages
    give the same bytes. Fonts are registered by whoever plans the pages."""
    held = io.BytesIO()
    canvas = Canvas(held, initialFontName=BODY, invariant=1, pageCompression=0)  # type: ignore[arg-type] # stub says float
    forms: list[dict[str, float]] = []
    for number, page in enumerate(pages, start=1):
        wide, tall = page.paper_mm
        canvas.setPageSize((wide * PT_PER_MM, tall * PT_PER_MM))
        sheet = Sheet(canvas=canvas, width_mm=wide, height_mm=tall)
        draw_header(sheet, page.title, page.under, page.kind)
        page.draw(sheet)
        draw_footer(sheet, source, f"page {number} of {len(pages)}")
        forms.append(sheet.forms)
        canvas.showPage()
    canvas.save()
    return Drawn(pdf=held.getvalue(), forms=forms)


def moved(info: Info, title: str, under: str, kind: str) -> list[Page]:
    """Pages for the blocks that found no room."""
    return [
        Page(
            paper_mm=PORTRAIT_MM,
            title=title,
            under=under,
            draw=partial(draw_more, page=page),
            kind=kind,
        )
        for page in more_pages(info.moved_wide, info.moved_narrow).pages
    ]
