"""The target's print: one page at actual size, as wide as the printable width.

Leading edge at the bottom, black ink alone, so that no second colour blurs a line.
"""

import io

from reportlab.lib.colors import CMYKColorSep
from reportlab.pdfgen.canvas import Canvas

from nestplan.files.fonts import BODY, BODY_BOLD, register_fonts
from nestplan.files.one_line import one_line
from nestplan.files.proof_style import PT_PER_MM
from nestplan.files.white import COLOUR, PALE
from nestplan.marks import clear_radius_mm, needs_white
from nestplan.marks.white import white_disc
from nestplan.target.layout import Station, Target
from nestplan.target.station import BOX, LINE_MM, labels, printed

WORDS_MM = 3.0  # size of the line of words
WORDS_AT_MM = 4.0  # from the leading end
NAME_MOST = 40


def print_sheet(target: Target, version: str) -> bytes:
    """The page to print; the same target gives the same bytes."""
    register_fonts()
    held = io.BytesIO()
    width, length = target.page_width_mm, target.length_mm
    pdf = Canvas(
        held,
        pagesize=(width * PT_PER_MM, length * PT_PER_MM),
        initialFontName=BODY,  # type: ignore[arg-type] # stub says float
        invariant=1,
    )
    pdf.setTitle("target: print")
    pdf.setProducer(f"nestplan {version}")
    pdf.setViewerPreference("PrintScaling", "None")
    pdf.scale(PT_PER_MM, PT_PER_MM)
    pdf.translate(-target.page_x0_mm, 0)
    if needs_white(target.equipment.roll):
        _white(pdf, target)
    pdf.setFillGray(0)
    pdf.setStrokeGray(0)
    for mark in target.marks:
        path = pdf.beginPath()
        for ring in target.outline.moved(mark.x_mm, mark.y_mm).rings:
            (x, y), *rest = ring.tolist()
            path.moveTo(x, y)
            for x, y in rest:
                path.lineTo(x, y)
            path.close()
        pdf.drawPath(path, stroke=0, fill=1)
    pdf.setLineWidth(LINE_MM)
    for station in target.stations:
        _station(pdf, station)
    _words(pdf, target)
    pdf.showPage()
    pdf.save()
    return held.getvalue()


def line_of_words(target: Target) -> str:
    """What the print says about itself."""
    equipment = target.equipment
    return "   ·   ".join(
        (
            f"target {target.code}",
            one_line(equipment.setup.name, NAME_MOST),
            one_line(equipment.roll.name, NAME_MOST),
            "↓ leading edge",
        )
    )


def _white(pdf: Canvas, target: Target) -> None:
    """White below marks, stations and words; what follows overprints it."""
    sensor = target.equipment.cutter.sensor
    assert sensor is not None, "the job room refuses a cutter without a sensor"
    pdf.setFillOverprint(True)
    pdf.setStrokeOverprint(True)
    pdf.setFillColor(CMYKColorSep(*PALE, spotName=COLOUR))
    radius = clear_radius_mm(target.outline, sensor.clear_mm)
    for mark in target.marks:
        path = pdf.beginPath()
        (x, y), *rest = white_disc(mark.x_mm, mark.y_mm, radius).exterior.coords[:-1]
        path.moveTo(x, y)
        for x, y in rest:
            path.lineTo(x, y)
        path.close()
        pdf.drawPath(path, stroke=0, fill=1)
    left, bottom, right, top = BOX
    for station in target.stations:
        corner = station.x_mm + left, station.y_mm + bottom
        pdf.rect(*corner, right - left, top - bottom, stroke=0, fill=1)
    start, end = _words_mm(target)
    pdf.rect(start - 1, WORDS_AT_MM - 1, end - start + 2, WORDS_MM + 2, stroke=0, fill=1)


def _words_mm(target: Target) -> tuple[float, float]:
    """From where to where the line of words may run, between the marks of the leading end."""
    x = [station.x_mm for station in target.stations]
    return min(x) - 20.0, max(x) + 40.0


def _station(pdf: Canvas, station: Station) -> None:
    pdf.saveState()
    pdf.translate(station.x_mm, station.y_mm)
    for (x0, y0), (x1, y1) in printed():
        pdf.line(x0, y0, x1, y1)
    for label in labels(station.number):
        pdf.setFont(BODY_BOLD if label.bold else BODY, label.size_mm)
        pdf.drawCentredString(label.x_mm, label.y_mm, label.words)
    pdf.restoreState()


def _words(pdf: Canvas, target: Target) -> None:
    """Between the two marks of the leading end, as large as there is room."""
    line = line_of_words(target)
    start, end = _words_mm(target)
    wide = float(pdf.stringWidth(line, BODY, 1.0))
    pdf.setFont(BODY, min(WORDS_MM, (end - start) / wide))
    pdf.drawString(start, WORDS_AT_MM, line)
