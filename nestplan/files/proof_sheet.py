"""One page of the proof, drawn in millimetres from its lower left corner."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import hypot
from typing import Literal

from reportlab.lib.colors import HexColor
from reportlab.pdfgen.canvas import Canvas

from nestplan.files.proof_style import BODY_PT, CAP, DROP, INK, PT_PER_MM, Stroke
from nestplan.files.proof_text import font, width_mm

Align = Literal["left", "centre", "right"]
Box = tuple[float, float, float, float]  # left, bottom, right, top
Points = Sequence[tuple[float, float]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sheet:
    """The canvas of one page.

    forms: form XObjects it draws, each with the largest scale, points per unit of the form.
    taken: boxes of labels.
    """

    canvas: Canvas
    width_mm: float
    height_mm: float
    forms: dict[str, float] = field(default_factory=dict)
    taken: list[Box] = field(default_factory=list)

    def text(
        self,
        x_mm: float,
        y_mm: float,
        words: str,
        *,
        size_pt: float = BODY_PT,
        bold: bool = False,
        colour: str = INK,
        align: Align = "left",
    ) -> None:
        """One line of words; y is the baseline, x the left end, middle or right end."""
        if not words:
            return
        shift = {"left": 0.0, "centre": 0.5, "right": 1.0}[align] * width_mm(words, size_pt, bold)
        self.canvas.setFont(font(bold), size_pt)
        self.canvas.setFillColor(HexColor(colour))
        self.canvas.drawString((x_mm - shift) * PT_PER_MM, y_mm * PT_PER_MM, words)

    def label(
        self,
        x_mm: float,
        y_mm: float,
        words: str,
        *,
        size_pt: float = BODY_PT,
        bold: bool = False,
        colour: str = INK,
        align: Align = "left",
    ) -> bool:
        """Words that are left out where others already stand; whether they were drawn."""
        box = text_box(x_mm, y_mm, words, size_pt=size_pt, bold=bold, align=align)
        if not self.take(box):
            return False
        self.text(x_mm, y_mm, words, size_pt=size_pt, bold=bold, colour=colour, align=align)
        return True

    def take(self, box: Box) -> bool:
        """Claim a box for a label; False where another one has it or the page ends."""
        left, bottom, right, top = box
        if left < 0 or bottom < 0 or right > self.width_mm or top > self.height_mm:
            return False
        if any(left < r and right > x and bottom < t and top > b for x, b, r, t in self.taken):
            return False
        self.taken.append(box)
        return True

    def line(self, points: Points, stroke: Stroke, *, closed: bool = False) -> None:
        """A polyline."""
        self._stroke(stroke)
        self.canvas.drawPath(_path(self.canvas, [points], closed), stroke=1, fill=0)

    def area(self, rings: Sequence[Points], fill: str | None, stroke: Stroke | None = None) -> None:
        """An area of closed rings, holes left open."""
        if fill is not None:
            self.canvas.setFillColor(HexColor(fill))
        if stroke is not None:
            self._stroke(stroke)
        path = _path(self.canvas, rings, closed=True)
        self.canvas.drawPath(path, stroke=int(stroke is not None), fill=int(fill is not None))

    def box(self, box: Box, fill: str | None, stroke: Stroke | None = None) -> None:
        """A rectangle."""
        left, bottom, right, top = box
        self.area([[(left, bottom), (right, bottom), (right, top), (left, top)]], fill, stroke)

    def disc(
        self,
        x_mm: float,
        y_mm: float,
        radius_mm: float,
        fill: str | None,
        stroke: Stroke | None = None,
    ) -> None:
        """A disc or, without a fill, a ring."""
        if fill is not None:
            self.canvas.setFillColor(HexColor(fill))
        if stroke is not None:
            self._stroke(stroke)
        self.canvas.circle(
            x_mm * PT_PER_MM,
            y_mm * PT_PER_MM,
            radius_mm * PT_PER_MM,
            stroke=int(stroke is not None),
            fill=int(fill is not None),
        )

    def arrow(self, start: tuple[float, float], end: tuple[float, float], stroke: Stroke) -> None:
        """A line with a solid head at its end."""
        (x0, y0), (x1, y1) = start, end
        reach = hypot(x1 - x0, y1 - y0)
        ux, uy = (x1 - x0) / reach, (y1 - y0) / reach
        head = min(0.75 + 0.7 * stroke.width_pt, reach)
        bx, by = x1 - ux * head, y1 - uy * head
        wing = 0.38 * head
        self.line([start, (bx, by)], stroke)
        self.area(
            [[end, (bx - uy * wing, by + ux * wing), (bx + uy * wing, by - ux * wing)]],
            stroke.colour,
        )

    def form(
        self,
        name: str,
        matrix: tuple[float, float, float, float, float, float],
        stroke: Stroke | None = None,
    ) -> None:
        """Draw a form XObject through a matrix (to points); its lines take the stroke."""
        a, b, c, d, e, f = matrix
        scale = hypot(a, b)
        self.forms[name] = max(scale, self.forms.get(name, 0.0))
        said = f"q {a:.6f} {b:.6f} {c:.6f} {d:.6f} {e:.4f} {f:.4f} cm "
        if stroke is not None:
            red, green, blue = HexColor(stroke.colour).rgb()
            dash = " ".join(f"{on / scale:.4f}" for on in stroke.dash_pt)
            said += f"{red:.4f} {green:.4f} {blue:.4f} RG {stroke.width_pt / scale:.4f} w "
            said += f"[{dash}] 0 d "
        self.canvas.addLiteral(f"{said}/{name} Do Q")

    def _stroke(self, stroke: Stroke) -> None:
        self.canvas.setStrokeColor(HexColor(stroke.colour))
        self.canvas.setLineWidth(stroke.width_pt)
        self.canvas.setDash(list(stroke.dash_pt))


def text_box(
    x_mm: float,
    y_mm: float,
    words: str,
    *,
    size_pt: float,
    bold: bool = False,
    align: Align = "left",
) -> Box:
    """What a line of words covers, descenders included."""
    wide, em = width_mm(words, size_pt, bold), size_pt / PT_PER_MM
    left = x_mm - {"left": 0.0, "centre": 0.5, "right": 1.0}[align] * wide
    return left, y_mm - DROP * em, left + wide, y_mm + CAP * em


def _path(canvas: Canvas, rings: Sequence[Points], closed: bool) -> object:
    path = canvas.beginPath()
    for ring in rings:
        (x, y), *rest = ring
        path.moveTo(x * PT_PER_MM, y * PT_PER_MM)
        for x, y in rest:
            path.lineTo(x * PT_PER_MM, y * PT_PER_MM)
        if closed:
            path.close()
    return path
