"""A mark's grey levels as a few numbers: the outline, softened, fitted to a window of pixels.

Ink that spreads alike to all sides, blur, and light that falls off across the window are all
unknowns of the fit, so none of them moves the centre.
"""

from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.special import ndtr

Array = NDArray[np.float64]

WINDOW_MOST = 160  # px across: larger windows are averaged down first
TRIES_MOST = 120  # renderings of one mark
HOPELESS = 0.2  # a start that explains less of the window is none
BLUR_LEAST, BLUR_MOST = 0.5, 20.0  # of a sharp edge: harder ones have no slope to follow
SCALE_MOST = 2.0  # a free size is sought within this factor
FLOOR_PX = 0.02  # what no window of pixels tells: sensor pitch, JPEG blocks, the paper's grain


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkShape:
    """The mark as the shop file has it, mm; `clear_mm` is blank film from its edge."""

    shape: str
    size_mm: float
    line_mm: float
    clear_mm: float

    @property
    def is_lines(self) -> bool:
        """Corner or cross: two bars."""
        return self.shape in {"corner", "cross"}

    @property
    def stroke_mm(self) -> float:
        """Width of what is thinnest."""
        return min(self.line_mm, self.size_mm) if self.is_lines else self.size_mm

    @property
    def area_mm2(self) -> float:
        """Of the solid ink."""
        size, line = self.size_mm, self.stroke_mm
        solid = {"disc": np.pi * size**2 / 4, "square": size**2}
        return float(solid.get(self.shape, 2 * size * line - line**2))

    @property
    def ring_mm(self) -> float:
        """How far round the ink a window may reach: well inside the clear zone."""
        return max(0.75 * self.clear_mm, 0.12 * self.size_mm)

    @property
    def middle_mm(self) -> tuple[float, float]:
        """Centre of the ink's area, from the mark's own centre (that of its bounding box)."""
        if self.shape != "corner":
            return 0.0, 0.0
        half, line = self.size_mm / 2, self.stroke_mm
        bar, rest = self.size_mm * line, (self.size_mm - line) * line
        x = (bar * (line / 2 - half) + rest * line / 2) / (bar + rest)
        return x, x

    @property
    def turns_deg(self) -> tuple[float, ...]:
        """Angles to start from, so that any lie of the sheet is near one."""
        if self.shape == "disc":
            return (0.0,)
        whole = 360 if self.shape == "corner" else 90
        return tuple(float(angle) for angle in range(0, whole, 15))

    def distance_mm(self, x: Array, y: Array) -> Array:
        """How far places lie outside the outline, negative inside; about the mark's centre."""
        half, line = self.size_mm / 2, self.stroke_mm
        if self.shape == "disc":
            return np.hypot(x, y) - half
        if self.shape == "square":
            return _box(x, y, half, half)
        if self.shape == "cross":
            return np.minimum(_box(x, y, line / 2, half), _box(x, y, half, line / 2))
        inward = line / 2 - half
        return np.minimum(_box(x - inward, y, line / 2, half), _box(x, y - inward, half, line / 2))


def _box(x: Array, y: Array, half_x: float, half_y: float) -> Array:
    """Signed distance to a box about the origin."""
    out_x, out_y = np.abs(x) - half_x, np.abs(y) - half_y
    outside: Array = np.hypot(np.maximum(out_x, 0), np.maximum(out_y, 0))
    return outside + np.minimum(np.maximum(out_x, out_y), 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Centre:
    """A mark found: its centre in px, how it lies, and how well the outline explains the window.

    sd_px: of the centre on each axis. explained: share of the window's variation. gain_mm: how
    far the ink spread beyond the outline, each side. scale: of the outline, where it was free.
    """

    x_px: float
    y_px: float
    turn_deg: float
    gain_mm: float
    scale: float
    sd_px: float
    explained: float
    contrast: float


def fit_mark(
    grey: NDArray[np.uint8],
    mark: MarkShape,
    to_mm: Array,
    start_px: tuple[float, float],
    turn_deg: float | None,
    *,
    scale_free: bool = False,
) -> Centre | None:
    """Fit the outline near a place; None where the window is cut off or the fit fails.

    to_mm: (2, 2), px to mm near the place, y of mm upward. turn_deg: where known, else all
    lies are tried, `start_px` then being the middle of the ink. scale_free: size is unknown.
    """
    window = _window(grey, mark, to_mm, start_px)
    if window is None:
        return None
    x, y, level, step_px = window
    soft = 0.7 * step_px * sqrt(abs(float(np.linalg.det(to_mm))))
    if turn_deg is None:
        at, turn_deg = _first_lie(mark, x, y, level, soft)
    else:
        at = (0.0, 0.0)
    inside = _turned(mark, x - at[0], y - at[1], turn_deg, 1.0) < mark.ring_mm
    x, y, level = x[inside], y[inside], level[inside]
    if len(level) < 30:
        return None
    turns = mark.shape != "disc"
    gains = not scale_free or mark.is_lines

    def parts(unknown: Array) -> tuple[float, float, float, float, float, float]:
        """Centre, turn, gain, scale and blur from the row of unknowns."""
        rest = list(unknown[3:])
        turn = turn_deg + (rest.pop(0) if turns else 0.0)
        gain = rest.pop(0) if gains else 0.0
        scale = _within(rest.pop(0), SCALE_MOST) if scale_free else 1.0
        return (
            unknown[0],
            unknown[1],
            turn,
            gain,
            scale,
            soft * (BLUR_LEAST + _within(unknown[2], BLUR_MOST)),
        )

    def ink(unknown: Array) -> Array:
        across, up, turn, gain, scale, blur = parts(unknown)
        apart = _turned(mark, x - across, y - up, turn, scale)
        return np.asarray(ndtr((gain - apart) / blur))

    def left(unknown: Array) -> Array:
        return _residual(ink(unknown), x, y, level)[0]

    first = [at[0], at[1], 0.0] + [0.0] * (turns + gains + scale_free)
    spread = float(np.var(level)) * len(level)
    start = left(np.array(first))
    if spread <= 0 or 1 - float(start @ start) / spread < HOPELESS:
        return None
    size = [soft, soft, 0.3] + [1.0] * turns + [soft] * gains + [0.05] * scale_free
    try:
        best = least_squares(left, first, x_scale=size, method="lm", max_nfev=TRIES_MOST)
        across, up, turn, gain, scale, blur = parts(best.x)
        rest, shade = _residual(ink(best.x), x, y, level)
        covariance = np.linalg.pinv(best.jac.T @ best.jac)
    except (np.linalg.LinAlgError, ValueError, FloatingPointError):
        return None
    explained = 1 - float(rest @ rest) / spread
    variance = float(rest @ rest) / max(len(level) - len(first) - 4, 1)
    pitch = sqrt(abs(float(np.linalg.det(to_mm))))
    # noise of neighbouring pixels goes together once a scanner has sharpened or blurred it
    alike = max(1.0, sqrt(4 * np.pi) * min(blur / (pitch * step_px), 3.0))
    sd_px = alike * sqrt(max(variance * (covariance[0, 0] + covariance[1, 1]) / 2, 0.0)) / pitch
    moved = np.linalg.solve(to_mm, (across, up))
    if not np.isfinite(sd_px) or hypot(across, up) > mark.size_mm:
        return None
    return Centre(
        x_px=start_px[0] + float(moved[0]),
        y_px=start_px[1] + float(moved[1]),
        turn_deg=float(turn),
        gain_mm=float(gain),
        scale=scale,
        sd_px=hypot(sd_px, FLOOR_PX),
        explained=explained,
        contrast=shade,
    )


def _within(unknown: float, most: float) -> float:
    """A factor that stays between 1 / most and most, whatever the search tries."""
    return float(np.exp(np.log(most) * np.tanh(unknown / np.log(most))))


def _turned(mark: MarkShape, x: Array, y: Array, turn_deg: float, scale: float) -> Array:
    """Signed distance to the outline turned and scaled about its own centre, mm."""
    c, s = np.cos(np.radians(turn_deg)) / scale, np.sin(np.radians(turn_deg)) / scale
    return scale * mark.distance_mm(c * x + s * y, c * y - s * x)


def _residual(ink: Array, x: Array, y: Array, level: Array) -> tuple[Array, float]:
    """What a shade of ink on evenly falling light leaves, and how dark the ink is."""
    ground = np.column_stack([np.ones_like(x), x, y, ink])
    weights = np.linalg.solve(ground.T @ ground + 1e-9 * np.eye(4), ground.T @ level)
    rest: Array = level - ground @ weights
    return rest, -float(weights[3])


def _first_lie(
    mark: MarkShape, x: Array, y: Array, level: Array, soft: float
) -> tuple[tuple[float, float], float]:
    """Centre and turn from which to start: the best of a fan, the ink's middle held."""
    middle, best, least = mark.middle_mm, ((0.0, 0.0), 0.0), np.inf
    for turn in mark.turns_deg:
        c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
        at = -(c * middle[0] - s * middle[1]), -(s * middle[0] + c * middle[1])
        apart = _turned(mark, x - at[0], y - at[1], turn, 1.0)
        near = apart < mark.ring_mm
        if np.count_nonzero(near) < 30:
            continue
        ink = np.asarray(ndtr(-apart[near] / (1.5 * soft)))
        rest, _ = _residual(ink, x[near], y[near], level[near])
        worth = float(rest @ rest) / max(float(np.var(level[near])) * len(rest), 1e-9)
        if worth < least:
            best, least = (at, turn), worth
    return best


def _window(
    grey: NDArray[np.uint8], mark: MarkShape, to_mm: Array, at_px: tuple[float, float]
) -> tuple[Array, Array, Array, int] | None:
    """Places (mm about `at_px`, y up) and levels round a place, thinned where there are many."""
    reach_mm = mark.size_mm * (0.75 if mark.is_lines else 0.5) + mark.ring_mm
    if mark.shape == "square":
        reach_mm += 0.21 * mark.size_mm  # to its corners
    to_px = np.linalg.inv(to_mm)
    reach_x, reach_y = (reach_mm * np.hypot(to_px[:, 0], to_px[:, 1])).tolist()
    left, right = int(at_px[0] - reach_x), int(at_px[0] + reach_x) + 1
    top, below = int(at_px[1] - reach_y), int(at_px[1] + reach_y) + 1
    height, width = grey.shape
    left, top, right, below = max(left, 0), max(top, 0), min(right, width), min(below, height)
    if right - left < 6 or below - top < 6:
        return None
    step = max(1, (max(right - left, below - top) + WINDOW_MOST - 1) // WINDOW_MOST)
    level = grey[top:below, left:right].astype(np.float64)
    rows, columns = level.shape[0] // step * step, level.shape[1] // step * step
    level = level[:rows, :columns].reshape(rows // step, step, columns // step, step).mean((1, 3))
    column = left + step * (np.arange(level.shape[1]) + 0.5) - at_px[0]
    row = top + step * (np.arange(level.shape[0]) + 0.5) - at_px[1]
    x = to_mm[0, 0] * column[None, :] + to_mm[0, 1] * row[:, None]
    y = to_mm[1, 0] * column[None, :] + to_mm[1, 1] * row[:, None]
    return x.ravel(), y.ravel(), level.ravel(), step
