"""A station of the target as it looks when the blade is off, for the docs."""

from collections.abc import Callable

import numpy as np

from nestplan.show.canvas import ACCENT, CUT, INK, Canvas
from nestplan.show.demo import Demo
from nestplan.target.station import BOX, PRINTED_MM, X_AT, Y_AT, cut, labels, printed

OFF_MM = (0.3, -0.4)
LINE_PX, SLIT_PX = 2.2, 2.2
RING_MM = 1.1


def station_off(_: Demo) -> bytes:
    """Print in black, slits in red, a ring round the lines that meet."""
    left, bottom, right, top = BOX
    canvas = Canvas(right - left, top - bottom, wide_px=1100)

    def put(point: tuple[float, float]) -> tuple[float, float]:
        return point[0] - left, point[1] - bottom

    for segment in printed():
        canvas.line(np.array([put(point) for point in segment]), px=LINE_PX)
    for slit in cut():
        ends = np.array([put(point) for point in slit]) + OFF_MM
        canvas.line(ends, colour=CUT, px=SLIT_PX)
    for label in labels(5):
        x, y = put((label.x_mm, label.y_mm))
        canvas.words(x, y, label.words, anchor="middle", bold=label.bold)
    meet = PRINTED_MM * OFF_MM[0] / 0.1, PRINTED_MM * OFF_MM[1] / 0.1
    for x, y in (put((X_AT[0] + meet[0], X_AT[1])), put((Y_AT[0], Y_AT[1] + meet[1]))):
        turns = np.linspace(0, 2 * np.pi, 60)
        ring = np.column_stack([np.cos(turns), np.sin(turns)]) * RING_MM + (x, y)
        canvas.line(ring, colour=ACCENT, px=2.5)
    x, y = put((-22.0, 19.0))
    canvas.words(x, y, "black: printed   red: cut   read: x +0.3, y −0.4 mm", colour=INK)
    return canvas.png()


DRAWINGS: dict[str, Callable[[Demo], bytes]] = {"target-station": station_off}
