"""check.pdf: what a check found, each finding with the plan beside what the files have.

On the left the contours and marks as the summary places them; on the right the print as it is
rendered, with the rings of the cut layer over it. An orange frame marks the element.
"""

import io
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pikepdf
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from nestplan import __version__, figures
from nestplan.check import Finding, Findings
from nestplan.check.cut_layer import CutLayer, read_cut_layer
from nestplan.check.folder import PRINT, cut_name, summary_bytes
from nestplan.check.pdf_content import Unreadable
from nestplan.check.pdf_pages import PdfFile, read_pdf
from nestplan.check.picture import opened, page_of
from nestplan.check.said import SUMMARY, Said, read_said
from nestplan.files.fonts import BODY, register_fonts
from nestplan.files.one_line import one_line
from nestplan.files.proof_page import draw_footer, draw_header
from nestplan.files.proof_sheet import Sheet
from nestplan.files.proof_style import (
    FAINT,
    FILM,
    GREY,
    HAIRLINE,
    INK,
    MARGIN_X_MM,
    PAPER,
    PORTRAIT_MM,
    PT_PER_MM,
    SMALL_PT,
    Stroke,
)
from nestplan.files.proof_text import fitted, wrapped
from nestplan.show.finding_spot import Box, Spot, planned_rings, spot_of

CHECK_PDF, CHECK_JSON = "check.pdf", "check.json"
PICTURES_MOST = 60
ROW_MM, PLAIN_MM, TOP_MM, BOTTOM_MM = 62.0, 21.0, 30.0, 18.0
PICTURE_MM = (60.0, 39.5)
PIXELS_ACROSS = 700.0
FLAG = Stroke(colour="#C85A00", width_pt=1.2)
PLANNED = Stroke(colour=INK, width_pt=0.5)
CUT = Stroke(colour="#1769AA", width_pt=0.6)

Row = tuple[Finding, Spot | None]


class Evidence:
    """The files that pictures are made of, as far as they can be read."""

    def __init__(self, folder: Path) -> None:
        self.said: Said | None = read_said(summary_bytes(folder), str(folder / SUMMARY))[0]
        self.layers: dict[int, CutLayer] = {}
        self.print: PdfFile | None = None
        for frame in self.said.frames if self.said else ():
            name = cut_name(frame.index)
            if self.said is not None and (folder / name).is_file():
                data = (folder / name).read_bytes()
                self.layers[frame.index] = read_cut_layer(data, name, self.said, frame)
        try:
            self.print = read_pdf((folder / PRINT).read_bytes())
        except (OSError, Unreadable):
            return


def findings_pdf(findings: Findings, folder: Path) -> bytes:
    """The pages as the bytes of a PDF, A4; the same findings give the same bytes."""
    register_fonts()
    evidence = Evidence(folder)
    rows: list[Row] = []
    for number, finding in enumerate(findings.found):
        pictured = evidence.said is not None and number < PICTURES_MOST
        spot = spot_of(evidence.said, finding) if pictured and evidence.said else None
        rows.append((finding, spot))
    pages = _pages(rows)
    held = io.BytesIO()
    canvas = Canvas(held, initialFontName=BODY, invariant=1)  # type: ignore[arg-type] # stub says float
    wide, tall = PORTRAIT_MM
    for index, page in enumerate(pages, start=1):
        canvas.setPageSize((wide * PT_PER_MM, tall * PT_PER_MM))
        sheet = Sheet(canvas=canvas, width_mm=wide, height_mm=tall)
        number = len(findings.found)
        title = figures.count(number, "finding") if number else "Nothing found against the plan"
        holds = figures.count(len(findings.holds), "claim holds", "claims hold")
        job = one_line(evidence.said.job, 60) if evidence.said else folder.name
        draw_header(sheet, title, f"{job}: {holds}", "Check")
        if index == 1 and not number:
            _claims(sheet, findings.holds)
        y = tall - TOP_MM
        for finding, spot in page:
            _row(sheet, y, finding, spot, evidence)
            y -= ROW_MM if spot else PLAIN_MM
        draw_footer(sheet, f"nestplan {__version__}", f"page {index} of {len(pages)}")
        canvas.showPage()
    canvas.save()
    return _signed(held.getvalue())


def _pages(rows: Sequence[Row]) -> list[list[Row]]:
    pages: list[list[Row]] = [[]]
    room = PORTRAIT_MM[1] - TOP_MM - BOTTOM_MM
    left = room
    for row in rows:
        need = ROW_MM if row[1] else PLAIN_MM
        if need > left:
            pages.append([])
            left = room
        pages[-1].append(row)
        left -= need
    return pages


def _claims(sheet: Sheet, holds: Sequence[str]) -> None:
    y = sheet.height_mm - TOP_MM
    for claim in holds:
        for line in wrapped(claim, 7.2, sheet.width_mm - 2 * MARGIN_X_MM):
            sheet.text(MARGIN_X_MM, y, line)
            y -= 3.9


def _row(sheet: Sheet, y: float, finding: Finding, spot: Spot | None, evidence: Evidence) -> None:
    """Words above, the two pictures below, from y downward."""
    edge = sheet.width_mm - MARGIN_X_MM
    sheet.line([(MARGIN_X_MM, y + 4.5), (edge, y + 4.5)], HAIRLINE)
    sheet.text(MARGIN_X_MM, y, str(finding.kind.number), bold=True, colour=FLAG.colour)
    room = edge - MARGIN_X_MM - 12
    sheet.text(MARGIN_X_MM + 12, y, fitted(finding.kind.sentence, 7.2, room, True), bold=True)
    for k, (name, words) in enumerate(
        (("where", finding.where), ("found", finding.found), ("meant", finding.meant)), start=1
    ):
        sheet.text(MARGIN_X_MM, y - 3.9 * k, name, size_pt=SMALL_PT, colour=GREY)
        sheet.text(MARGIN_X_MM + 12, y - 3.9 * k, fitted(one_line(words), 7.2, room))
    if spot is None or evidence.said is None:
        return
    bottom = y - 14 - PICTURE_MM[1]
    for x, draw, words in (
        (MARGIN_X_MM + 12, _planned, "as planned"),
        (MARGIN_X_MM + 12 + PICTURE_MM[0] + 6, _found, found_words(spot.frame.index, evidence)),
    ):
        box = x, bottom, x + PICTURE_MM[0], bottom + PICTURE_MM[1]
        sheet.canvas.saveState()
        path = sheet.canvas.beginPath()
        path.rect(*(v * PT_PER_MM for v in (x, bottom, *PICTURE_MM)))
        sheet.canvas.clipPath(path, stroke=0, fill=0)
        sheet.box(box, FILM)
        draw(sheet, box, spot, evidence)
        _outline(sheet, box, spot, [_corners(spot.element, 1.0)], FLAG)
        sheet.canvas.restoreState()
        sheet.box(box, None, HAIRLINE)
        sheet.text(x, bottom - 2.4, words, size_pt=SMALL_PT, colour=GREY)


def found_words(frame: int, evidence: Evidence) -> str:
    """What the picture of what was found shows; what could not be read is not in it."""
    layer, file = evidence.layers.get(frame), evidence.print
    printed = file is not None and frame <= len(file.pages)
    drawn = layer is not None and (layer.paths or layer.marks)
    return (
        f"{'print as rendered' if printed else 'no print to show'}, "
        f"{'cut layer in blue' if drawn else 'no cut layer to show'}"
    )


def _planned(sheet: Sheet, box: Box, spot: Spot, evidence: Evidence) -> None:
    said, frame = evidence.said, spot.frame
    assert said is not None, "a spot was found in it"
    for place in frame.placements:
        if np.hypot(*np.subtract((place.x_mm, place.y_mm), _middle(spot.window))) < 2000:
            rings = planned_rings(said, frame, place.decal, place.copy_)
            _outline(sheet, box, spot, rings, PLANNED, PAPER)
    half = said.marks.size_mm / 2
    for mark in frame.marks:
        square = mark.x_mm - half, mark.y_mm - half, mark.x_mm + half, mark.y_mm + half
        if said.marks.shape == "disc":
            (x, y), scale = (
                _onto(box, spot, np.array([[mark.x_mm, mark.y_mm]]))[0],
                _scale(box, spot),
            )
            sheet.disc(float(x), float(y), half * scale, INK)
        else:
            _outline(sheet, box, spot, [_corners(square, 0.0)], PLANNED, FAINT)


def _found(sheet: Sheet, box: Box, spot: Spot, evidence: Evidence) -> None:
    said, frame = evidence.said, spot.frame
    assert said is not None, "a spot was found in it"
    file = evidence.print
    if file is not None and frame.index <= len(file.pages):
        page = file.pages[frame.index - 1]
        left, bottom, right, top = spot.window
        x0, y0 = said.page_x0_mm, frame.y0_mm
        view = left - x0, bottom - y0, right - x0, top - y0
        try:
            with (
                opened(file.data) as document,
                page_of(document, page.number, page.width_mm, page.length_mm) as rendered,
            ):
                window = rendered.window(view, PIXELS_ACROSS / (right - left))
        except Unreadable:
            window = None
        if window is not None and window.pixels.size > 4:
            rows, columns = window.pixels.shape[:2]
            low = window.top_mm - rows / window.along
            corners = np.array(
                [[window.left_mm, low], [window.left_mm + columns / window.across, window.top_mm]]
            )
            (ax, ay), (bx, by) = _onto(box, spot, corners + (x0, y0)).tolist()
            sheet.canvas.drawImage(
                ImageReader(window.image().copy()),
                *(v * PT_PER_MM for v in (ax, ay, bx - ax, by - ay)),
            )
    layer = evidence.layers.get(frame.index)
    for path in layer.paths if layer else ():
        _outline(sheet, box, spot, [path.ring], CUT)
    for mark in layer.marks if layer else ():
        _outline(sheet, box, spot, mark.rings, CUT)


def _outline(
    sheet: Sheet,
    box: Box,
    spot: Spot,
    rings: Sequence[np.ndarray],
    stroke: Stroke,
    fill: str | None = None,
) -> None:
    """Rings of the run on the picture; those that do not reach it are left out."""
    left, bottom, right, top = spot.window
    points = np.vstack(list(rings))
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    if x1 < left or x0 > right or y1 < bottom or y0 > top:
        return
    put = [[(float(x), float(y)) for x, y in _onto(box, spot, ring)] for ring in rings]
    sheet.area(put, fill, stroke)


def _onto(box: Box, spot: Spot, points: np.ndarray) -> np.ndarray:
    left, bottom = spot.window[:2]
    moved: np.ndarray = (points - (left, bottom)) * _scale(box, spot) + (box[0], box[1])
    return moved


def _scale(box: Box, spot: Spot) -> float:
    return (box[2] - box[0]) / (spot.window[2] - spot.window[0])


def _middle(box: Box) -> tuple[float, float]:
    return (box[0] + box[2]) / 2, (box[1] + box[3]) / 2


def _corners(box: Box, around: float) -> np.ndarray:
    left, bottom, right, top = box
    left, bottom, right, top = left - around, bottom - around, right + around, top + around
    return np.array([[left, bottom], [right, bottom], [right, top], [left, top]])


def _signed(pages: bytes) -> bytes:
    """The PDF with a title and no dates."""
    with pikepdf.open(io.BytesIO(pages)) as pdf:
        for page in pdf.pages:
            if "/Trans" in page.obj:
                del page.obj["/Trans"]
        for key in list(pdf.docinfo.keys()):
            del pdf.docinfo[key]
        pdf.docinfo["/Title"] = "check"
        pdf.docinfo["/Producer"] = f"nestplan {__version__}"
        held = io.BytesIO()
        pdf.save(held, deterministic_id=True)
    return held.getvalue()
