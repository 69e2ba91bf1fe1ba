"""How a picture shows the sheet: px to mm, by resolution, or found from the marks themselves.

From the marks: the layout of each frame is laid on the spots found, by pairs, then a homography
(and, with six marks, one radial lens term) is fitted. What it leaves over tells which frame and
which way round; whatever a homography can do to a sheet, it takes out of the print as well.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

LEAST_FLAT = 3  # marks that fix a scale, with one to spare
LEAST_TILTED = 5  # four fix a homography and leave nothing to test it by
LEAST_LENS = 6
BASES = 10  # pairs of planned marks that are laid on spots
SCALE_OFF = 0.35  # of the scale that the spots' size tells
FIRST_NEAR = (0.06, 0.03, 0.015, 0.008)  # of the diagonal: how near, guess by guess
KEPT = 12  # guesses looked at closely, a layout


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class View:
    """mm = H(undistorted px). centre_px and reach_px make px about 1; lens: the radial term."""

    matrix: Array
    centre_px: tuple[float, float]
    reach_px: float
    lens: float = 0.0

    def to_mm(self, px: Array) -> Array:
        """(n, 2) px to mm, y up."""
        unit = (px - self.centre_px) / self.reach_px
        unit = unit * (1 + self.lens * (unit**2).sum(axis=1, keepdims=True))
        flat = np.column_stack([unit, np.ones(len(unit))]) @ self.matrix.T
        mm: Array = flat[:, :2] / flat[:, 2:]
        return mm

    def slope(self, px: tuple[float, float]) -> Array:
        """(2, 2) d mm / d px at a place."""
        step_px = 0.5
        around = np.array(px) + step_px * np.array([(1, 0), (-1, 0), (0, 1), (0, -1)])
        mm = self.to_mm(around)
        slope: Array = np.column_stack([mm[0] - mm[1], mm[2] - mm[3]]) / (2 * step_px)
        return slope


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Explained:
    """A layout laid on spots: rows of both, the view, and what it leaves over in mm (rms).

    dof: of the residual.
    """

    layout: int
    spots: Rows
    marks: Rows
    view: View
    left_mm: float
    dof: int
    turn_deg: float


def by_resolution(px_per_mm: tuple[float, float], shape: tuple[int, int]) -> View:
    """The view of a flatbed scanner: the origin at the lower left of the picture."""
    height, width = shape
    reach = max(shape) / 2
    across, down = reach / px_per_mm[0], reach / px_per_mm[1]
    middle = width / 2 / px_per_mm[0], height / 2 / px_per_mm[1]
    matrix = np.array([[across, 0, middle[0]], [0, -down, middle[1]], [0, 0, 1.0]])
    return View(matrix=matrix, centre_px=(width / 2, height / 2), reach_px=reach)


def explanations(
    spots_px: Array, px_per_mm: float, shape: tuple[int, int], layouts: Sequence[Array]
) -> list[Explained]:
    """Ways of laying the layouts on the spots, most marks first, then the closest."""
    height, width = shape
    centre, reach = (width / 2, height / 2), max(shape) / 2
    flipped = spots_px * (1.0, -1.0)  # y up, so that no sheet is taken in a mirror
    found: list[Explained] = []
    for number, layout in enumerate(layouts):
        if len(layout) < LEAST_FLAT:
            continue
        seen: set[tuple[tuple[int, int], ...]] = set()
        for guess in _guesses(layout, flipped, px_per_mm):
            pairs = _paired(layout, flipped, guess)
            if pairs is None:
                continue
            marks, there = pairs
            key = tuple(zip(marks.tolist(), there.tolist(), strict=True))
            if key in seen:
                continue
            seen.add(key)
            found.append(fitted(number, layout, spots_px, there, marks, centre, reach))
    return sorted(found, key=lambda each: (-len(each.marks), each.left_mm))


def fitted(
    number: int,
    layout: Array,
    spots_px: Array,
    there: Rows,
    marks: Rows,
    centre: tuple[float, float],
    reach: float,
) -> Explained:
    """Homography, with a lens term where the marks are enough, of spots to planned places."""
    unit, mm = (spots_px[there] - centre) / reach, layout[marks]
    size = float(np.ptp(mm, axis=0).max()) or 1.0
    middle = mm.mean(axis=0)
    wanted = (mm - middle) / size
    lens = len(there) >= LEAST_LENS
    tilt = len(there) >= LEAST_TILTED
    affine = _affine(unit, wanted)
    first = np.concatenate([affine.ravel(), [0.0, 0.0] if tilt else [], [0.0] if lens else []])

    def parts(unknown: Array) -> tuple[Array, float]:
        matrix = np.eye(3)
        matrix[:2] = unknown[:6].reshape(2, 3)
        if tilt:
            matrix[2, :2] = unknown[6:8]
        return matrix, float(unknown[8]) if lens else 0.0

    def left(unknown: Array) -> Array:
        matrix, term = parts(unknown)
        view = View(matrix=matrix, centre_px=(0.0, 0.0), reach_px=1.0, lens=term)
        return np.asarray((view.to_mm(unit) - wanted).ravel())

    best = least_squares(left, first, method="lm" if 2 * len(there) >= len(first) else "trf")
    matrix, term = parts(best.x)
    back = np.array([[size, 0, middle[0]], [0, size, middle[1]], [0, 0, 1.0]])
    dof = 2 * len(there) - len(first)
    turn = np.degrees(np.arctan2(affine[1, 0] + affine[0, 1], affine[0, 0] - affine[1, 1]))
    return Explained(
        layout=number,
        spots=there,
        marks=marks,
        view=View(matrix=back @ matrix, centre_px=centre, reach_px=reach, lens=term),
        left_mm=size * float(np.sqrt((best.fun**2).sum() / max(dof, 1))),
        dof=dof,
        turn_deg=float(turn),
    )


def similarity_view(
    spots_px: Array, layout: Array, centre: tuple[float, float], reach: float
) -> View:
    """One scale, a turn and a shift of paired spots (n, 2) px onto planned places (n, 2) mm.

    The least-squares similarity in complex numbers, z = sum(conj(a) b) / sum |a|² (Umeyama
    1991 without its reflection).
    """
    unit = ((spots_px - centre) / reach) @ (1, -1j)
    mm = layout @ (1, 1j)
    arm, wanted = unit - unit.mean(), mm - mm.mean()
    turn = np.vdot(arm, wanted) / np.vdot(arm, arm).real
    shift = mm.mean() - turn * unit.mean()
    c, s = float(turn.real), float(turn.imag)
    x, y = float(shift.real), float(shift.imag)
    matrix: Array = np.array([[c, s, x], [s, -c, y], [0, 0, 1.0]])
    return View(matrix=matrix, centre_px=centre, reach_px=reach)


def _affine(there: Array, wanted: Array) -> Array:
    """(2, 3) of the affine fit."""
    ground = np.column_stack([there, np.ones(len(there))])
    return np.asarray(np.linalg.lstsq(ground, wanted, rcond=None)[0].T, dtype=np.float64)


def _homography(there: Array, wanted: Array) -> Array:
    """(3, 3) least squares of the linear equations, both sides made about 1 (n ≥ 4)."""
    rows = []
    for (x, y), (u, v) in zip(there.tolist(), wanted.tolist(), strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y, -u])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y, -v])
    matrix: Array = np.linalg.svd(np.array(rows))[2][-1].reshape(3, 3)
    return matrix


def _paired(layout: Array, spots: Array, guess: Array) -> tuple[Rows, Rows] | None:
    """Planned and seen rows that belong together, from where the marks are guessed to be."""
    diagonal = float(np.hypot(*np.ptp(guess, axis=0)))
    shift, size = layout.mean(axis=0), float(np.ptp(layout, axis=0).max())
    planned = (layout - shift) / size
    expected = guess
    for share in FIRST_NEAR:
        apart = np.hypot(*(expected[:, None, :] - spots[None, :, :]).transpose(2, 0, 1))
        to_spot, to_mark = apart.argmin(axis=1), apart.argmin(axis=0)
        rows = np.arange(len(layout))
        both = (to_mark[to_spot] == rows) & (apart[rows, to_spot] <= share * diagonal)
        marks, there = rows[both], to_spot[both]
        if len(marks) < LEAST_FLAT or _in_line(layout[marks]):
            return None
        about, reach = spots[there].mean(axis=0), diagonal / 2
        unit = (spots[there] - about) / reach
        ground = np.column_stack([planned, np.ones(len(planned))])
        if len(marks) < LEAST_TILTED or share == FIRST_NEAR[0]:
            expected = ground @ _affine(planned[marks], unit).T
        else:
            flat = ground @ _homography(planned[marks], unit).T
            if np.abs(flat[:, 2]).min() < 1e-9:
                return None
            expected = flat[:, :2] / flat[:, 2:]
        expected = expected * reach + about
    return marks, there


def _guesses(layout: Array, spots: Array, px_per_mm: float) -> list[Array]:
    """Where all marks of a layout would be, px: the guesses that meet most spots."""
    planned, there = layout @ (1, 1j), spots @ (1, 1j)
    between = there[None, :] - there[:, None]
    length = np.abs(between)
    best: list[tuple[int, float, Array]] = []
    for i, j in _bases(layout):
        base = planned[j] - planned[i]
        ratio = length / (abs(base) * px_per_mm)
        for a, b in np.argwhere(np.abs(ratio - 1) <= SCALE_OFF).tolist():
            guess = there[a] + between[a, b] / base * (planned - planned[i])
            near = FIRST_NEAR[0] * float(np.abs(guess - guess.mean()).max()) * 2
            apart = np.abs(guess[:, None] - there[None, :]).min(axis=1)
            hit = apart <= near
            best.append((-int(hit.sum()), float(apart[hit].sum()) / near, guess))
    best.sort(key=lambda each: each[:2])
    kept: list[Array] = []
    for hits, _, guess in best:
        if -hits < LEAST_FLAT or len(kept) == KEPT:
            break
        near = 0.01 * float(np.abs(guess - guess.mean()).max())
        if all(np.abs(guess - other).max() > near for other in kept):
            kept.append(guess)
    return [np.column_stack([guess.real, guess.imag]) for guess in kept]


def _bases(layout: Array) -> list[tuple[int, int]]:
    """Far pairs of marks, none in too many: a mark may be missing."""
    n = len(layout)
    apart = np.hypot(*(layout[:, None, :] - layout[None, :, :]).transpose(2, 0, 1))
    pairs = sorted(
        ((i, j) for i in range(n) for j in range(i + 1, n)),
        key=lambda pair: (-round(float(apart[pair]), 6), pair),
    )
    used = np.zeros(n, dtype=int)
    kept: list[tuple[int, int]] = []
    for i, j in pairs:
        if max(used[i], used[j]) < 3 and len(kept) < BASES:
            used[[i, j]] += 1
            kept.append((i, j))
    return kept


def _in_line(points: Array) -> bool:
    long, wide = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
    return bool(wide < 0.02 * long)


def affine_left_mm(spots_px: Array, wanted_mm: Array) -> float:
    """Rms in mm, by its degrees of freedom, that an affine fit of paired points leaves."""
    ground = np.column_stack([spots_px - spots_px.mean(axis=0), np.ones(len(spots_px))])
    left = wanted_mm - ground @ np.linalg.lstsq(ground, wanted_mm, rcond=None)[0]
    dof = 2 * len(spots_px) - 6
    return float(np.sqrt((left**2).sum() / max(dof, 1)))
