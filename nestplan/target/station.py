"""One station of the target: a cross for tape and eye, and a vernier on each axis.

A vernier reads by coincidence: printed lines stand 2.0 mm apart, cut lines 1.9 mm. Where the
blade lands off by d, the two lines number d / 0.1 meet; the printed scale says d at that line.
Its reach is 1 mm either way; the cross beside it, with ticks a millimetre apart, shows whether
more than that is wrong. Everything is in millimetres from the station's middle.
"""

from dataclasses import dataclass

PRINTED_MM, CUT_MM = 2.0, 1.9  # pitch of the lines
STEP_MM = PRINTED_MM - CUT_MM
EACH_SIDE = 10  # lines on each side of zero
REACH_MM = EACH_SIDE * STEP_MM
LINE_MM = 0.15  # printed; as fine as a roll printer holds for sure
SCALE_MM = (-6.0, 0.0)  # printed lines run between these, from the line where the two meet
LONGER_MM = 2.0  # so much longer are the lines that carry a figure
SLIT_MM = (-1.0, 5.0)  # cut lines overlap the printed ones by a millimetre
FIGURES_MM = 9.2  # from the line where the two meet to the middle of the figures
ARM_MM = 8.0  # of the cross
TICKS = 5  # on each side of it, a millimetre apart
X_AT = (0.0, -20.0)  # middle of the scale that reads x
Y_AT = (39.0, 0.0)  # and y
BOX = (-24.0, -26.0, 46.0, 24.0)  # left, bottom, right, top: all of it, with a little air

Segment = tuple[tuple[float, float], tuple[float, float]]

CROSS: tuple[Segment, Segment] = (
    ((-ARM_MM, 0.0), (ARM_MM, 0.0)),
    ((0.0, -ARM_MM), (0.0, ARM_MM)),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """Words, the middle of their baseline at a place."""

    x_mm: float
    y_mm: float
    words: str
    size_mm: float
    bold: bool = False


def printed() -> list[Segment]:
    """Every line that is printed."""
    lines: list[Segment] = [*CROSS]
    for tick in range(-TICKS, TICKS + 1):
        if tick:
            half = 1.2 if abs(tick) == TICKS else 0.7
            lines += [((tick, -half), (tick, half)), ((-half, tick), (half, tick))]
    for number in range(-EACH_SIDE, EACH_SIDE + 1):
        low, high = SCALE_MM
        low -= LONGER_MM if number % 5 == 0 else 0.0
        lines += _both(number * PRINTED_MM, -high, -low)
    return lines


def cut() -> list[Segment]:
    """Every slit, in cutting order: the cross, then both scales from - to +."""
    pairs = [
        _both(number * CUT_MM, -SLIT_MM[0], -SLIT_MM[1])
        for number in range(-EACH_SIDE, EACH_SIDE + 1)
    ]
    return [*CROSS, *(x for x, _ in pairs), *(y for _, y in pairs)]


def labels(number: int) -> list[Label]:
    """The station's number and the figures of its scales."""
    said = [Label(x_mm=-15.0, y_mm=9.0, words=str(number), size_mm=9.0, bold=True)]
    for line in range(-EACH_SIDE, EACH_SIDE + 1, 5):
        words = f"{line * STEP_MM:+.1f}".replace("-", "−") if line else "0"
        at = line * PRINTED_MM
        said.append(Label(x_mm=at, y_mm=X_AT[1] + FIGURES_MM - 0.6, words=words, size_mm=2.2))
        said.append(Label(x_mm=Y_AT[0] - FIGURES_MM - 2.6, y_mm=at - 0.8, words=words, size_mm=2.2))
    said.append(Label(x_mm=-22.4, y_mm=X_AT[1] - 4.2, words="x", size_mm=3.4, bold=True))
    said.append(Label(x_mm=Y_AT[0] + 3.2, y_mm=-23.2, words="y", size_mm=3.4, bold=True))
    return said


def _both(at: float, start: float, end: float) -> tuple[Segment, Segment]:
    """A line of the x scale, and the same of the y scale.

    start, end: how far it reaches, toward the figures positive. The figures of the x scale stand
    above it, those of the y scale to its left.
    """
    x: Segment = ((X_AT[0] + at, X_AT[1] + start), (X_AT[0] + at, X_AT[1] + end))
    y: Segment = ((Y_AT[0] - start, Y_AT[1] + at), (Y_AT[0] - end, Y_AT[1] + at))
    return x, y
