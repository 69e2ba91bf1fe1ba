"""Round scales, and a piece of the run laid on the page at one of them."""

from dataclasses import dataclass
from math import cos, radians, sin

import numpy as np
from numpy.typing import NDArray

from nestplan.files.proof_style import PT_PER_MM

# the steps of a scale ruler; ISO 5455:1979 has the 1, 2, 5 among them
STEPS = (1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.5, 8.0)
DECADES = (1, 10, 100, 1000, 10000)
ROUND = tuple(step * decade for decade in DECADES for step in STEPS if decade * step != 1.25)


def round_scale(least: float) -> float:
    """The first round denominator that is not below the least; 1 at least: nothing is enlarged.

    least: denominator at which the drawing fits exactly.
    """
    for denominator in ROUND:
        if denominator >= least - 1e-9:
            return denominator
    return least


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """Run coordinates on a page: run point (x0, y0) lies at (page_x, page_y), 1:denominator."""

    x0_mm: float
    y0_mm: float
    page_x_mm: float
    page_y_mm: float
    denominator: float

    def at(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """Where a point of the run lies on the page."""
        return self.x(x_mm), self.y(y_mm)

    def x(self, x_mm: float) -> float:
        """Page x of a run x."""
        return self.page_x_mm + (x_mm - self.x0_mm) / self.denominator

    def y(self, y_mm: float) -> float:
        """Page y of a run y."""
        return self.page_y_mm + (y_mm - self.y0_mm) / self.denominator

    def box(self, box: tuple[float, float, float, float]) -> tuple[float, float, float, float]:
        """Where a rectangle of the run lies on the page."""
        return self.x(box[0]), self.y(box[1]), self.x(box[2]), self.y(box[3])

    def ring(self, points_mm: NDArray[np.float64]) -> list[tuple[float, float]]:
        """Where points (n, 2) of the run lie on the page."""
        return [self.at(x, y) for x, y in points_mm.tolist()]

    def matrix(
        self, x_mm: float, y_mm: float, angle_deg: float
    ) -> tuple[float, float, float, float, float, float]:
        """From decal millimetres to points, for a copy that lies at (x, y) turned by the angle."""
        grow = PT_PER_MM / self.denominator
        c, s = grow * cos(radians(angle_deg)), grow * sin(radians(angle_deg))
        x, y = self.at(x_mm, y_mm)
        return c, s, -s, c, x * PT_PER_MM, y * PT_PER_MM
