"""shift.svg: the picture of the day for a screen, mm throughout."""

from collections.abc import Sequence

import svgwrite

from nestplan.files.proof_style import BODY_PT, INK, PAPER, PT_PER_MM, Stroke
from nestplan.shift.picture import Box, Point, draw_day, picture_height_mm
from nestplan.shift.plan_day import ShiftPlan

WIDTH_MM = 297.0
EDGE_MM = 8.0


class SvgSurface:
    """A drawing whose y is turned over here and nowhere else."""

    def __init__(self, width_mm: float, height_mm: float) -> None:
        self.height_mm = height_mm
        self.drawing = svgwrite.Drawing(
            size=(f"{width_mm:g}mm", f"{height_mm:g}mm"),
            viewBox=f"0 0 {width_mm:g} {height_mm:g}",
            debug=False,
        )
        self.drawing.add(self.drawing.rect((0, 0), (width_mm, height_mm), fill=PAPER))

    def text(
        self,
        x_mm: float,
        y_mm: float,
        words: str,
        *,
        size_pt: float = BODY_PT,
        bold: bool = False,
        colour: str = INK,
    ) -> None:
        """A line of words; y is the baseline."""
        self.drawing.add(
            self.drawing.text(
                words,
                insert=(_mm(x_mm), _mm(self.height_mm - y_mm)),
                fill=colour,
                font_size=_mm(size_pt / PT_PER_MM),
                font_family="sans-serif",
                font_weight="bold" if bold else "normal",
            )
        )

    def line(self, points: Sequence[Point], stroke: Stroke) -> None:
        """A polyline."""
        at = [(_mm(x), _mm(self.height_mm - y)) for x, y in points]
        self.drawing.add(self.drawing.polyline(at, fill="none", **_stroked(stroke)))

    def box(self, box: Box, fill: str | None, stroke: Stroke | None = None) -> None:
        """A rectangle."""
        left, bottom, right, top = box
        more = {} if stroke is None else _stroked(stroke)
        self.drawing.add(
            self.drawing.rect(
                (_mm(left), _mm(self.height_mm - top)),
                (_mm(max(right - left, 0)), _mm(top - bottom)),
                fill=fill or "none",
                **more,
            )
        )


def picture_svg(plan: ShiftPlan) -> bytes:
    """The day, UTF-8."""
    height_mm = picture_height_mm(plan) + 2 * EDGE_MM
    surface = SvgSurface(WIDTH_MM, height_mm)
    draw_day(surface, plan, (EDGE_MM, EDGE_MM, WIDTH_MM - EDGE_MM, height_mm - EDGE_MM))
    head = '<?xml version="1.0" encoding="UTF-8"?>\n'
    return f"{head}{surface.drawing.tostring()}\n".encode()


def _stroked(stroke: Stroke) -> dict[str, str | float]:
    dash = {}
    if stroke.dash_pt:
        dash = {"stroke_dasharray": ",".join(f"{_mm(on / PT_PER_MM):g}" for on in stroke.dash_pt)}
    return {"stroke": stroke.colour, "stroke_width": _mm(stroke.width_pt / PT_PER_MM), **dash}


def _mm(value: float) -> float:
    return round(value, 3)
