"""The printed words and scale bars of a frame: what a tape measure and an operator look for.

Everything is in page millimetres: x from the left edge of the page, y from the
frame's leading end.
"""

import io

from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from nestplan.files.fonts import BODY, register_fonts
from nestplan.files.one_line import one_line
from nestplan.files.run import Run
from nestplan.marks import SCALE_BAR_MM, Frame

LINE_MM = 0.2  # of a bar; the figure holds from middle to middle of its end ticks
END_TICK_MM, MIDDLE_TICK_MM, TICK_MM = 4.0, 2.0, 1.2
LABEL_MM = 2.4  # size of type; its capitals are 1.75 mm high
LABEL_ABOVE_MM = 2.5  # over the middle tick, under the ends of the end ticks
CAPITAL = 0.729  # height of this type's H per size, 1493 of 2048 in its outline
WORDS_MOST_MM = 3.2  # size of type; read at arm's length
JOB_MOST, ROLL_MOST = 44, 36  # characters of a name; a longer one would shrink the whole line


def bars(run: Run, frame: Frame) -> str:
    """PDF operators for both scale bars of a frame: graduated, the bar itself one path each."""
    across, along = _page_mm(run, frame, frame.slug.across_mm, frame.slug.along_mm)
    turned = (0.0, 1.0, 1.0, 0.0)  # the same bar with x and y exchanged: ticks to the right
    return f"0 G {LINE_MM} w 1 j 1 J\n{_bar(across, (1.0, 0.0, 0.0, 1.0))}{_bar(along, turned)}"


def _bar(at: tuple[float, float], axes: tuple[float, float, float, float]) -> str:
    """One bar from a place on the page along its own axes."""
    end = SCALE_BAR_MM
    said = [f"0 {END_TICK_MM} m 0 0 l {end} 0 l {end} {END_TICK_MM} l S\n"]
    for tenth in range(1, 10):
        far, tall = end * tenth / 10, MIDDLE_TICK_MM if tenth == 5 else TICK_MM
        said.append(f"{far} 0 m {far} {tall} l S\n")
    matrix = " ".join(f"{value:z.4f}" for value in (*axes, *at))
    return f"q {matrix} cm\n{''.join(said)}Q\n"


def words(run: Run) -> bytes:
    """A PDF with a page a frame that holds nothing but the frame's words; its unit is the mm."""
    register_fonts()
    held = io.BytesIO()
    pdf = Canvas(held, initialFontName=BODY, invariant=1)  # type: ignore[arg-type] # stub says float
    for frame in run.marks.frames:
        pdf.setPageSize((run.page_width_mm, frame.length_mm))
        _write(pdf, run, frame)
        pdf.showPage()
    pdf.save()
    return held.getvalue()


def line_of_words(run: Run, frame: Frame) -> str:
    """What a frame says about itself; nothing that differs between two prints of one plan."""
    return "   ·   ".join(
        (
            one_line(run.job.order.name, JOB_MOST),
            f"frame {frame.index} of {len(run.marks.frames)}",
            one_line(run.job.roll.name, ROLL_MOST),
            *([run.job.order.date] if run.job.order.date else []),
            "↓ leading edge",
            f"seed {run.seed}, nestplan {run.version}",
        )
    )


def _write(pdf: Canvas, run: Run, frame: Frame) -> None:
    left, bottom, right, top = frame.slug.text_mm
    line = line_of_words(run, frame)
    size = min(WORDS_MOST_MM, (top - bottom) / 1.3, (right - left) / stringWidth(line, BODY, 1.0))
    ((x, y), across, along) = _page_mm(
        run,
        frame,
        (left, (bottom + top - CAPITAL * size) / 2),
        frame.slug.across_mm,
        frame.slug.along_mm,
    )
    pdf.setFillGray(0)
    pdf.setFont(BODY, size)
    pdf.drawString(x, y, line)
    label = f"{SCALE_BAR_MM:g} mm"
    pdf.setFont(BODY, LABEL_MM)
    pdf.drawCentredString(across[0] + SCALE_BAR_MM / 2, across[1] + LABEL_ABOVE_MM, label)
    pdf.translate(along[0] + LABEL_ABOVE_MM + CAPITAL * LABEL_MM, along[1] + SCALE_BAR_MM / 2)
    pdf.rotate(90)
    pdf.drawCentredString(0, 0, label)


def _page_mm(run: Run, frame: Frame, *places: tuple[float, float]) -> list[tuple[float, float]]:
    """Places of the run as they stand on their frame's page."""
    return [(x - run.page_x0_mm, y - frame.y0_mm) for x, y in places]
