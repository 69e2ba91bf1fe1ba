"""Runs drawn at random from the error model, for what has no closed form: chances of any.

Errors are drawn source by source (marks, film, calibration), never from the closed-form
covariance, so the one can be held against the other.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestplan.marks.corrects import influence
from nestplan.marks.error_model import ErrorModel
from nestplan.marks.moments import agreement, left_over

Array = NDArray[np.float64]

CHUNK = 100  # draws at a time
GRID = 0.7  # pitch of the smooth field's own places, in correlation lengths
JITTER = 1e-9
GRID_MOST = 3_000  # places of that grid; a field finer than this is not drawn


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sheet:
    """A frame's marks (N, 2) and the places (n, 2) looked at; copy: (n,) whose place it is.

    carried: (n, 2, N, 2) what is carried from the marks to the places, where it is not the
    cutter's own fit alone.
    """

    marks_mm: Array
    places_mm: Array
    copy: NDArray[np.intp]
    carried: Array | None = None


def can_draw(model: ErrorModel, sheets: Sequence[Sheet]) -> bool:
    """Whether the smooth field is coarse enough against the frames to be drawn."""
    return model.distortion_mm == 0 or all(
        np.prod([len(_grid(axis, model.distortion_length_mm)) for axis in _all(sheet).T])
        <= GRID_MOST
        for sheet in sheets
    )


def drawn_errors(
    model: ErrorModel, sheets: Sequence[Sheet], *, draws: int, seed: int
) -> Iterator[list[Array]]:
    """Errors (d, n, 2) of every sheet, CHUNK draws at a time.

    One run shares its straight distortions and its calibration; fields and readings are
    drawn anew for every frame, copies' own noise for every copy.
    """
    rng = np.random.default_rng(seed)
    ready = [_Ready(model, sheet) for sheet in sheets]
    for start in range(0, draws, CHUNK):
        d = min(CHUNK, draws - start)
        straight = rng.standard_normal((d, 5))
        offset = model.offset_mm + model.offset_sd_mm * rng.standard_normal((d, 1, 2))
        yield [each.errors(rng, straight) + offset for each in ready]


class _Ready:
    """One sheet with all that does not change from draw to draw."""

    def __init__(self, model: ErrorModel, sheet: Sheet) -> None:
        self._model, self._sheet = model, sheet
        marks, places = sheet.marks_mm, sheet.places_mm
        carried = sheet.carried
        if carried is None:
            carried = influence(model.corrects, marks, places)
        self._mean = left_over(carried, model.stretched_mm(marks), model.stretched_mm(places))
        self._straight = np.array(
            [
                left_over(carried, at_marks, at_places)
                for at_marks, at_places in zip(
                    model.straight_mm(marks), model.straight_mm(places), strict=True
                )
            ]
        )
        self._carry = carried.reshape(2 * len(places), 2 * len(marks)).T
        self._copies, self._copy = np.unique(sheet.copy, return_inverse=True)
        self._waves = (
            _waves(_all(sheet), model.distortion_length_mm) if model.distortion_mm else None
        )

    def errors(self, rng: np.random.Generator, straight: Array) -> Array:
        """(d, n, 2) for d draws of the straight distortions that the run shares."""
        model, d, marks = self._model, len(straight), len(self._sheet.marks_mm)
        film = self._film(rng, d)
        read = film[:, :marks] + model.mark_noise_mm * rng.standard_normal((d, marks, 2))
        carried = (read.reshape(d, -1) @ self._carry).reshape(d, -1, 2)
        own = model.local_noise_mm * rng.standard_normal((d, len(self._copies), 2))
        leaning = (straight @ self._straight.reshape(5, -1)).reshape(d, -1, 2)
        errors: Array = carried - film[:, marks:] + own[:, self._copy] + leaning + self._mean
        return errors

    def _film(self, rng: np.random.Generator, d: int) -> Array:
        """(d, N + n, 2): smooth distortion and sideways walk at marks and places."""
        model, points = self._model, _all(self._sheet)
        film = np.zeros((d, len(points), 2))
        if self._waves is not None:
            for axis in (0, 1):
                heights = rng.standard_normal((d, self._waves.shape[1]))
                film[:, :, axis] = model.distortion_mm * (heights @ self._waves.T)
        if model.tracking_mm_m > 0:
            y, back = np.unique(points[:, 1], return_inverse=True)
            steps = np.sqrt(np.diff(y, prepend=y[0]) / 1000) * model.tracking_mm_m
            walk = (steps * rng.standard_normal((d, len(y)))).cumsum(axis=1)
            film[:, :, 0] += walk[:, back]
        return film


def _all(sheet: Sheet) -> Array:
    return np.concatenate([sheet.marks_mm, sheet.places_mm])


def _grid(values: Array, length_mm: float) -> Array:
    """Places along one axis, a correlation length beyond the ends."""
    low, high = values.min() - length_mm, values.max() + length_mm
    return np.linspace(low, high, int(np.ceil((high - low) / (GRID * length_mm))) + 1)


def _waves(points_mm: Array, length_mm: float) -> Array:
    """(n, r) with W W' the smooth field's correlation, to a thousandth.

    exp(-d^2 / 2 l^2) is a product over the axes, so each is interpolated on its own grid:
    k(x, z) chol(k(z, z))^-T; rows are brought to length 1, for the variance is known.
    """
    sides = []
    for values in points_mm.T:
        grid = _grid(values, length_mm)
        own = np.column_stack([grid, np.zeros_like(grid)])
        at = np.column_stack([values, np.zeros_like(values)])
        root = np.linalg.cholesky(agreement(own, own, length_mm) + JITTER * np.eye(len(grid)))
        sides.append(np.linalg.solve(root, agreement(at, own, length_mm).T).T)
    waves = (sides[0][:, :, None] * sides[1][:, None, :]).reshape(len(points_mm), -1)
    result: Array = waves / np.sqrt((waves**2).sum(axis=1, keepdims=True))
    return result
