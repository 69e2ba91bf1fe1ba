"""The guide to a target, one A4 page: what to do, how to read it, what is dangerous."""

import io

from reportlab.pdfgen.canvas import Canvas

from nestplan.figures import fixed
from nestplan.files.fonts import BODY, register_fonts
from nestplan.files.one_line import one_line
from nestplan.files.proof_sheet import Sheet
from nestplan.files.proof_style import (
    ACCENT,
    BODY_PT,
    CLEAR,
    CUT,
    FILM,
    FILM_EDGE,
    GREY,
    HEAD_LINE,
    INK,
    KISS,
    MARGIN_TOP_MM,
    MARGIN_X_MM,
    PAPER,
    PORTRAIT_MM,
    PT_PER_MM,
    SMALL_PT,
    TITLE_PT,
    Stroke,
)
from nestplan.files.proof_text import wrapped
from nestplan.files.proof_words import BLADES, CARRIAGE, FUMES, LAST_WORD, lifting
from nestplan.target.layout import Target
from nestplan.target.station import BOX, LINE_MM, Segment, cut, labels, printed

LINE_STEP_MM = 3.6
TEXT_MM = 104.0  # width of the words; the pictures stand to their right
PICTURE_MM = 70.0
EXAMPLE_MM = (0.3, -0.4)  # where the blade lands in the picture
PRINTED = Stroke(colour=INK, width_pt=LINE_MM * PT_PER_MM)
SLIT = Stroke(colour=CUT, width_pt=0.6)


def guide(target: Target, version: str) -> bytes:
    """The page; the same target gives the same bytes."""
    register_fonts()
    held = io.BytesIO()
    width, height = PORTRAIT_MM
    pdf = Canvas(
        held,
        pagesize=(width * PT_PER_MM, height * PT_PER_MM),
        initialFontName=BODY,  # type: ignore[arg-type] # stub says float
        invariant=1,
    )
    pdf.setTitle("target: guide")
    pdf.setProducer(f"nestplan {version}")
    sheet = Sheet(canvas=pdf, width_mm=width, height_mm=height)
    top = height - MARGIN_TOP_MM - 5
    equipment = target.equipment
    sheet.text(MARGIN_X_MM, top, "Print, cut, read: the target", size_pt=TITLE_PT, bold=True)
    names = f"{equipment.setup.name} · {equipment.roll.name} · target {target.code}"
    sheet.text(MARGIN_X_MM, top - 6, one_line(names), colour=GREY)
    sheet.line([(MARGIN_X_MM, top - 9), (width - MARGIN_X_MM, top - 9)], HEAD_LINE)
    y = _chapters(sheet, target, top - 16)
    right = MARGIN_X_MM + TEXT_MM + 8
    _example(sheet, right, top - 16)
    _map(sheet, target, right, top - 96)
    _cautions(sheet, target, min(y, top - 180) - 4)
    pdf.showPage()
    pdf.save()
    return held.getvalue()


def steps(target: Target) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What to do, chapter by chapter."""
    equipment = target.equipment
    which = "trailing" if equipment.setup.enters == "trailing" else "leading"
    wait = max((stage.lag_s for stage in equipment.setup.stages), default=0.0)
    rest = f", {wait / 3600:.3g} h here" if wait >= 360 else ""
    return (
        (
            "Print",
            (
                f"target-print.pdf at 100 %, no scaling, in the mode the shop uses, on "
                f"{equipment.roll.name}: {target.page_width_mm:.0f} by {target.length_mm:.0f} mm.",
                f"Wait as long as for a job before it is cut{rest}.",
            ),
        ),
        (
            "Cut",
            (
                f"target-cut.svg as a kiss cut, the {which} edge first, marks read as for any "
                "frame. Switch no correction on or off for it: what is measured is what jobs get.",
                "Do not lift or weed the film before it is read.",
            ),
        ),
        (
            "Read the verniers",
            (
                "At every station find on each scale the cut line that runs on straight in its "
                "printed line. The printed figure there is the reading in mm: each line is 0.1. "
                "Where two neighbours fit alike, the reading lies between them: 0.05.",
                "x: + means the cut lies to the right of the print. y: + means it lies toward the "
                "trailing edge. Leading edge towards you, printed side up.",
                "The cross shows whole millimetres. If it is off by more than 1 mm, read it there "
                "to 0.2 mm, set the machine, and print and cut another target.",
            ),
        ),
        (
            "Measure with a tape",
            (
                "From printed cross to printed cross, film flat and at rest, tape straight, to "
                "half a millimetre. Verniers compare cut with print; only a tape tells whether the "
                "print itself is as large as it should be.",
                *(
                    f"{tape.start} to {tape.end}: printed {fixed(tape.length_mm, 1)} mm"
                    for tape in target.tapes
                ),
            ),
        ),
        (
            "Work it out",
            (
                "Fill in target-readings.csv; leave out what you could not read. Then: nestplan "
                f"target {equipment.shop_path.name} target-readings.csv",
                "It writes a new shop file beside the old one. What you then set on the machine, "
                "put to zero there.",
            ),
        ),
    )


def _chapters(sheet: Sheet, target: Target, y: float) -> float:
    for number, (title, said) in enumerate(steps(target), 1):
        sheet.text(MARGIN_X_MM, y, f"{number}  {title}", bold=True, colour=ACCENT, size_pt=8.4)
        y -= LINE_STEP_MM + 0.8
        for words in said:
            for line in wrapped(words, BODY_PT, TEXT_MM - 5):
                sheet.text(MARGIN_X_MM + 5, y, line)
                y -= LINE_STEP_MM
            y -= 0.6
        y -= 2.2
    return y


def _example(sheet: Sheet, left: float, top: float) -> None:
    """A station enlarged or not, with its slits off by EXAMPLE_MM."""
    scale = PICTURE_MM / (BOX[2] - BOX[0])
    middle = left - BOX[0] * scale, top - 4 - BOX[3] * scale

    def put(point: tuple[float, float]) -> tuple[float, float]:
        return middle[0] + point[0] * scale, middle[1] + point[1] * scale

    def moved(segment: Segment) -> list[tuple[float, float]]:
        return [put((x + EXAMPLE_MM[0], y + EXAMPLE_MM[1])) for x, y in segment]

    sheet.box((*put((BOX[0], BOX[1])), *put((BOX[2], BOX[3]))), PAPER, CLEAR)
    for segment in printed():
        sheet.line([put(point) for point in segment], PRINTED)
    for slit in cut():
        sheet.line(moved(slit), SLIT)
    for label in labels(5):
        x, y = put((label.x_mm, label.y_mm))
        points = label.size_mm * scale * PT_PER_MM
        sheet.text(x, y, label.words, size_pt=points, bold=label.bold, align="centre")
    y = put((0.0, BOX[1]))[1] - 4
    x_said, y_said = (f"{value:+.1f}".replace("-", "−") for value in EXAMPLE_MM)
    words = (
        f"Station 5 with the blade off: x {x_said} mm, y {y_said} mm. Black is printed, red is "
        "cut. Only one cut line in each scale runs on in its printed line."
    )
    for line in wrapped(words, SMALL_PT, PICTURE_MM):
        sheet.text(left, y, line, size_pt=SMALL_PT, colour=GREY)
        y -= 2.9


def _map(sheet: Sheet, target: Target, left: float, top: float) -> None:
    """Where the stations stand, and between which the tape is laid."""
    width, length = target.equipment.roll.width_mm, target.length_mm
    denominator = max(width / PICTURE_MM, length / 74.0)

    def put(x: float, y: float) -> tuple[float, float]:
        return left + x / denominator, top - (length - y) / denominator

    sheet.box((*put(0.0, 0.0), *put(width, length)), FILM, FILM_EDGE)
    at = {station.number: put(station.x_mm, station.y_mm) for station in target.stations}
    for tape in target.tapes:
        sheet.line([at[tape.start], at[tape.end]], CLEAR)
    for mark in target.marks:
        sheet.disc(*put(mark.x_mm, mark.y_mm), 0.6, INK)
    for number, (x, y) in at.items():
        sheet.disc(x, y, 2.3, PAPER, KISS)
        sheet.text(x, y - 0.85, str(number), size_pt=SMALL_PT, bold=True, align="centre")
    x, y = put(width / 2, 0.0)
    sheet.text(x, y - 3.4, "↓ leading edge", size_pt=SMALL_PT, align="centre")
    words = "Stations and marks; dashed: where the tape is laid."
    sheet.text(left, y - 7.2, words, size_pt=SMALL_PT, colour=GREY)


def _cautions(sheet: Sheet, target: Target, y: float) -> None:
    right = sheet.width_mm - MARGIN_X_MM
    sheet.line([(MARGIN_X_MM, y), (right, y)], HEAD_LINE)
    y -= 5
    for name, words in (
        ("Blades", BLADES),
        ("Carriage", CARRIAGE),
        ("Fumes", FUMES),
        ("Lifting", lifting(target.equipment.roll)),
    ):
        sheet.text(MARGIN_X_MM, y, name, bold=True)
        for line in wrapped(words, BODY_PT, right - MARGIN_X_MM - 18):
            sheet.text(MARGIN_X_MM + 18, y, line)
            y -= LINE_STEP_MM
    sheet.text(MARGIN_X_MM, y - 0.6, LAST_WORD, bold=True)
