"""From run coordinates to SVG: the one place where y is turned over.

SVG counts y downward (SVG 1.1, section 7.3), the run counts it upward from the
leading edge of the film. x is left alone, so that a mark has the same x in the SVG,
in the summary and on a tape laid at the left edge of the film.
"""

from typing import Protocol

import numpy as np
from numpy.typing import NDArray


class Stretch(Protocol):
    """A length of film from y0_mm on: a frame, a target."""

    @property
    def y0_mm(self) -> float:
        """Its leading end."""

    @property
    def length_mm(self) -> float:
        """From its leading to its trailing end."""


def turned_over(points_mm: NDArray[np.float64], frame: Stretch) -> NDArray[np.float64]:
    """Points (n, 2) of the run as they stand in the SVG of their frame, mm; a fresh array.

    x_svg = x, y_svg = frame length - (y - y0): the far end of the frame is at the top.
    """
    return np.column_stack([points_mm[:, 0], frame.length_mm - (points_mm[:, 1] - frame.y0_mm)])
