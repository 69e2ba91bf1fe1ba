"""Which seen point is which planned mark, by geometry alone, whichever way the sheet lies.

Every pair of far planned marks is laid on every pair of seen points about as far apart; what
then lies near a planned mark is taken for it, and an affine fit over all such pairs says how
well it goes together. All frames are tried; the best answers come back, each only once.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestplan.fit.maps import design, turned_back
from nestplan.fit.noise import Noise, Residuals, left_by

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

STRETCH_MOST = 0.01  # a print that is larger or smaller by more is another print
NEAR_SHARE, NEAR_MM = 0.012, 8.0  # of the diagonal: how near a first guess must come
MATCHED_MM = 12.0  # a mark misread by less is still taken for that mark
BASES = 24  # planned pairs that are laid on seen ones
KEPT = 40  # guesses looked at closely, a frame
STRAY = 12.0  # log-likelihood that a point costs which is no mark, or misread
ABSENT = 0.5  # and a planned mark that was not seen
LEAST = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pairing:
    """Seen rows and, in the same order, the planned rows of a frame that they are taken for.

    mirrored: whether the sheet was seen in a mirror. left: of an affine fit. stretch: its two
    principal stretches. frame: row of the plan's frames. spare: seen points left over.
    """

    frame: int
    mirrored: bool
    seen: Rows
    planned: Rows
    left: Residuals
    stretch: tuple[float, float]
    spare: int
    absent: int

    @property
    def key(self) -> tuple[int, bool, tuple[tuple[int, int], ...]]:
        """What it says, to be compared."""
        pairs = sorted(zip(self.seen.tolist(), self.planned.tolist(), strict=True))
        return self.frame, self.mirrored, tuple(pairs)

    @property
    def square(self) -> float:
        """Residual square, one mark forgiven where that is dearer than its price."""
        falls, _ = self.left.without()
        return min(self.left.square, self.left.square - float(falls.max()) + 2 * STRAY)

    def plausibility(self, factor2: float) -> float:
        """Log-likelihood, to compare pairings of the same points. factor2: true variance over
        that of the shop's figures. A misread mark costs as much however rough the print is."""
        falls, _ = self.left.without()
        forgiven = (self.left.square - float(falls.max())) / (2 * factor2) + STRAY
        off = min(self.left.square / (2 * factor2), forgiven)
        return -off - STRAY * self.spare - ABSENT * self.absent


def pairings(
    points_mm: Array, frames: Sequence[Array], noise: Noise, *, mirrored: bool
) -> list[Pairing]:
    """The best pairings of seen points with each frame's marks, the best first.

    points_mm: (n, 2) y upward; frames: each (N, 2). mirrored: as if seen in a mirror.
    """
    seen = points_mm * (-1.0, 1.0) if mirrored else points_mm
    found: dict[object, Pairing] = {}
    for number, marks in enumerate(frames):
        for guess in _guesses(marks, seen):
            pairing = _settled(number, marks, seen, guess, noise, mirrored)
            if pairing is not None:
                found.setdefault(pairing.key, pairing)
    return sorted(found.values(), key=lambda each: (-each.plausibility(1.0), each.key))


def paired(
    frame: int,
    marks: Array,
    points_mm: Array,
    seen: Rows,
    planned: Rows,
    noise: Noise,
    *,
    mirrored: bool,
) -> Pairing | None:
    """A given pairing with its residuals; None where it fixes no affine fit."""
    there = (points_mm * (-1.0, 1.0) if mirrored else points_mm)[seen]
    wanted = marks[planned]
    if len(wanted) < LEAST or flat(wanted) or flat(there):
        return None
    back = turned_back(wanted, there).back(there)
    left = left_by(design("affine", wanted), noise.covariance_mm2(wanted), wanted, back)
    return Pairing(
        frame=frame,
        mirrored=mirrored,
        seen=seen,
        planned=planned,
        left=left,
        stretch=stretches(wanted, there),
        spare=len(points_mm) - len(seen),
        absent=len(marks) - len(planned),
    )


def stretches(planned_mm: Array, seen_mm: Array) -> tuple[float, float]:
    """Least and greatest stretch of the affine fit, the least negative where it mirrors."""
    matrix = linear(planned_mm, seen_mm)
    small, large = np.linalg.svd(matrix, compute_uv=False)[::-1].tolist()
    return (small if np.linalg.det(matrix) > 0 else -small), large


def linear(planned_mm: Array, seen_mm: Array) -> Array:
    """(2, 2) linear part of the affine fit of seen to planned points (n, 2)."""
    arm, reach = planned_mm - planned_mm.mean(axis=0), seen_mm - seen_mm.mean(axis=0)
    matrix: Array = np.linalg.lstsq(arm, reach, rcond=None)[0].T
    return matrix


def flat(points_mm: Array) -> bool:
    """Whether points lie in a line, or so nearly that they say nothing across it."""
    if len(points_mm) < LEAST:
        return True
    arm = points_mm - points_mm.mean(axis=0)
    long, wide = np.linalg.svd(arm, compute_uv=False)
    return bool(wide < 0.02 * long or long < 1.0)


def _settled(
    number: int, marks: Array, seen: Array, guess: Array, noise: Noise, mirrored: bool
) -> Pairing | None:
    """Pairs from a guess of where the marks are seen, made better by their own affine fit."""
    expected, reach = guess, NEAR_MM + NEAR_SHARE * _diagonal(marks)
    for _ in range(3):
        planned, there = _near(expected, seen, reach)
        if len(planned) < LEAST or flat(marks[planned]):
            return None
        matrix = linear(marks[planned], seen[there])
        expected = (marks - marks[planned].mean(axis=0)) @ matrix.T + seen[there].mean(axis=0)
        reach = MATCHED_MM
    small, large = stretches(marks[planned], seen[there])
    if small < 1 - 2 * STRETCH_MOST or large > 1 + 2 * STRETCH_MOST:
        return None
    points = seen * (-1.0, 1.0) if mirrored else seen
    return paired(number, marks, points, there, planned, noise, mirrored=mirrored)


def _near(expected: Array, seen: Array, reach_mm: float) -> tuple[Rows, Rows]:
    """Planned and seen rows that are each other's nearest, and near enough."""
    apart = np.hypot(*(expected[:, None, :] - seen[None, :, :]).transpose(2, 0, 1))
    to_seen, to_planned = apart.argmin(axis=1), apart.argmin(axis=0)
    rows = np.arange(len(expected))
    both = (to_planned[to_seen] == rows) & (apart[rows, to_seen] <= reach_mm)
    return rows[both], to_seen[both]


def _guesses(marks: Array, seen: Array) -> list[Array]:
    """Where all planned marks would be seen (N, 2), the guesses that explain most points."""
    near = NEAR_MM + NEAR_SHARE * _diagonal(marks)
    planned, there = marks @ (1, 1j), seen @ (1, 1j)
    between = there[None, :] - there[:, None]
    length = np.abs(between)
    best: list[tuple[int, float, Array]] = []
    for i, j in _bases(marks):
        base = planned[j] - planned[i]
        allowed = STRETCH_MOST * abs(base) + NEAR_MM
        for a, b in np.argwhere(np.abs(length - abs(base)) <= allowed).tolist():
            way = between[a, b] / length[a, b] * abs(base) / base  # turns, does not stretch
            middle = (there[a] + there[b]) / 2
            guess = middle + way * (planned - (planned[i] + planned[j]) / 2)
            apart = np.abs(guess[:, None] - there[None, :]).min(axis=1)
            hit = apart <= near
            best.append((-int(hit.sum()), float(apart[hit].sum()), guess))
    best.sort(key=lambda each: each[:2])
    most = -best[0][0] if best else 0
    kept = [guess for hits, _, guess in best if -hits >= max(LEAST, most - 2)]
    return [np.column_stack([guess.real, guess.imag]) for guess in _apart(kept, near)]


def _apart(guesses: Sequence[Array], near_mm: float) -> list[Array]:
    """The first of guesses that say nearly the same, so that few need a close look."""
    kept: list[Array] = []
    for guess in guesses:
        if all(np.abs(guess - other).max() > near_mm / 4 for other in kept):
            kept.append(guess)
        if len(kept) == KEPT:
            break
    return kept


def _bases(marks: Array) -> list[tuple[int, int]]:
    """Far pairs of planned marks, no mark in too many: one may be missing or misread."""
    n = len(marks)
    apart = np.hypot(*(marks[:, None, :] - marks[None, :, :]).transpose(2, 0, 1))
    pairs = [(i, j) for i in range(n) for j in range(i + 1, n)]
    pairs.sort(key=lambda pair: (-round(float(apart[pair]), 6), pair))
    used, most = np.zeros(n, dtype=int), max(3, 2 * BASES // max(n, 1))
    kept: list[tuple[int, int]] = []
    for i, j in pairs:
        if used[i] < most and used[j] < most and len(kept) < BASES:
            used[[i, j]] += 1
            kept.append((i, j))
    return kept


def _diagonal(marks: Array) -> float:
    return float(np.hypot(*np.ptp(marks, axis=0)))
