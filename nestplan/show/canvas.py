"""A picture in millimetres of film: outlines, lines and words, written as SVG, rendered to PNG.

x runs across the film, y along the feed and up, as on the proof.
"""

from importlib.resources import as_file, files

import numpy as np
import resvg_py
import shapely
import svgwrite
from numpy.typing import NDArray

from nestplan.geometry.outline import polygons_of

INK, GREY, RULE = "#1B2530", "#5F6B76", "#C4CBD1"
FILM, PAPER = "#ECEFF1", "#FFFFFF"
CUT, SAFE, ACCENT = "#B23A1E", "#D9E8F3", "#1F5F8B"
TINTS = ("#C9DCEB", "#F2D9B8", "#DCE6D2", "#EBCFC7", "#D8D3E6", "#F0E6B6", "#CFE3E0", "#E6D8CE")

WIDE_PX = 1400
TYPE = 15.0  # size of words, px


class Canvas:
    """width_mm by height_mm of film, drawn so wide; everything is given in millimetres."""

    def __init__(self, width_mm: float, height_mm: float, *, wide_px: int = WIDE_PX) -> None:
        self._scale = wide_px / width_mm
        self._high_px = height_mm * self._scale
        size = (f"{wide_px}px", f"{self._high_px:.1f}px")
        self._drawing = svgwrite.Drawing(size=size, viewBox=f"0 0 {wide_px} {self._high_px:.1f}")
        self._drawing.add(self._drawing.rect(size=("100%", "100%"), fill=PAPER))

    def px_mm(self, px: float) -> float:
        """How many millimetres of film so many pixels are."""
        return px / self._scale

    def area(
        self,
        region: shapely.Geometry,
        *,
        fill: str = "none",
        line: str = "none",
        px: float = 1.2,
        dash: str = "",
        opacity: float = 1.0,
    ) -> None:
        """An area with its holes."""
        data = " ".join(
            self._ring(np.asarray(ring.coords)[:-1])
            for polygon in polygons_of(region)
            for ring in (polygon.exterior, *polygon.interiors)
        )
        if not data:
            return
        style = {"stroke_dasharray": dash} if dash else {}
        path = self._drawing.path(
            d=data, fill=fill, stroke=line, stroke_width=px, fill_rule="evenodd", **style
        )
        path["fill-opacity"] = opacity
        self._drawing.add(path)

    def line(
        self, points_mm: NDArray[np.float64], *, colour: str = INK, px: float = 1.5, dash: str = ""
    ) -> None:
        """A line through points (n, 2)."""
        style = {"stroke_dasharray": dash} if dash else {}
        points = [self._at(point) for point in points_mm]
        self._drawing.add(
            self._drawing.polyline(points, fill="none", stroke=colour, stroke_width=px, **style)
        )

    def dot(self, x_mm: float, y_mm: float, *, colour: str = INK, px: float = 4.0) -> None:
        """A point."""
        self._drawing.add(self._drawing.circle(self._at((x_mm, y_mm)), r=px, fill=colour))

    def words(
        self,
        x_mm: float,
        y_mm: float,
        text: str,
        *,
        colour: str = INK,
        anchor: str = "start",
        bold: bool = False,
    ) -> None:
        """Words on a base line."""
        self._drawing.add(
            self._drawing.text(
                text,
                insert=self._at((x_mm, y_mm)),
                fill=colour,
                font_size=f"{TYPE}px",
                font_family="DejaVu Sans",
                font_weight="bold" if bold else "normal",
                text_anchor=anchor,
            )
        )

    def png(self) -> bytes:
        """The picture."""
        fonts = files("nestplan.files").joinpath("fonts")
        names = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf")
        with as_file(fonts) as folder:
            return bytes(
                resvg_py.svg_to_bytes(
                    svg_string=self._drawing.tostring(),
                    background="white",
                    skip_system_fonts=True,
                    font_files=[str(folder / name) for name in names],
                )
            )

    def _at(self, point: tuple[float, float] | NDArray[np.float64]) -> tuple[float, float]:
        x, y = (float(value) for value in point)
        return round(x * self._scale, 2), round(self._high_px - y * self._scale, 2)

    def _ring(self, ring: NDArray[np.float64]) -> str:
        points = " L ".join("{} {}".format(*self._at(point)) for point in ring)
        return f"M {points} Z"
