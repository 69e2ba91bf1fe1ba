"""The predicted error of every copy of a run, and the chance that any shows a white edge.

A copy whose cut is shifted by e keeps its cut inside its print while |e| <= bleed, whatever
its shape; so a copy is outside its bleed when |e| is greater at any point of its contour.
A copy without bleed has no print to run out of: it counts for errors, not for the chance.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestplan.artwork import Decal
from nestplan.marks.chance import Looked, chance_outside, falls_to, least_bleed
from nestplan.marks.contour_points import copy_points, decal_points
from nestplan.marks.draws import Sheet
from nestplan.marks.error_model import ErrorModel
from nestplan.marks.mark_plan import Frame
from nestplan.marks.moments import moments
from nestplan.marks.radius import chance_beyond, radius_within
from nestplan.nest import Nest

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FrameErrors:
    """What is predicted for one frame.

    p95_mm: (n,) 95 % radius of each copy, at the point of its contour where the mean square of
    the error is greatest.
    worst_mm: (n, 2) that point, run coordinates.
    """

    p95_mm: Array
    worst_mm: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RunErrors:
    """What is predicted for a run.

    p95_mm: 95 % of all cuts lie within it. worst_mm: the greatest 95 % radius of a copy.
    chance: that any copy falls outside its bleed; None where none has a bleed.
    bleed_least_mm: on every decal with a bleed, it makes that chance `limit`.
    chance_draws, bleed_draws: runs drawn for the two; 0: upper bounds by summing chances.
    """

    model: ErrorModel
    frames: tuple[FrameErrors, ...]
    p95_mm: float
    worst_mm: float
    limit: float
    chance: float | None
    chance_draws: int
    bleed_least_mm: float
    bleed_draws: int

    @property
    def worst(self) -> tuple[int, int]:
        """Frame and row of the copy with the greatest error, from 0."""
        frame = int(np.argmax([each.p95_mm.max() for each in self.frames]))
        return frame, int(self.frames[frame].p95_mm.argmax())


def predict(
    model: ErrorModel, decals: tuple[Decal, ...], nest: Nest, frames: Sequence[Frame], limit: float
) -> RunErrors:
    """Errors of a run whose marks are placed. limit: the chance for which bleed is asked."""
    looked = [_looked(model, decals, nest, frame) for frame in frames]
    worst = [each.only(_worst_of_each(each)) for each in looked]
    said = [
        FrameErrors(
            p95_mm=radius_within(each.errors.mean_mm, each.errors.covariance_mm2),
            worst_mm=each.sheet.places_mm,
        )
        for each in worst
    ]
    mean = np.concatenate([each.errors.mean_mm for each in worst])
    spread = np.concatenate([each.errors.covariance_mm2 for each in worst])
    bled = [each.only(each.bleed_mm > 0) for each in looked]
    bled = [each for each in bled if len(each.bleed_mm)]
    chance, chance_draws = chance_outside(model, bled) if bled else (None, 0)
    bleed, bleed_draws = least_bleed(model, bled or looked, limit)
    return RunErrors(
        model=model,
        frames=tuple(said),
        p95_mm=falls_to(
            0.05, lambda r: float(chance_beyond(mean, spread, np.full(len(mean), r)).mean())
        ),
        worst_mm=max(float(frame.p95_mm.max()) for frame in said),
        limit=limit,
        chance=chance,
        chance_draws=chance_draws,
        bleed_least_mm=bleed,
        bleed_draws=bleed_draws,
    )


def _looked(model: ErrorModel, decals: tuple[Decal, ...], nest: Nest, frame: Frame) -> Looked:
    """The points of all contours of a frame, with their errors."""
    shapes = nest.strips[frame.index - 1].placements.shape.tolist()
    at = copy_points(decals, nest, frame, model.distortion_length_mm)
    numbers = [len(each) for each in at]
    beyond_mm = [decal_points(decal, model.distortion_length_mm)[1] for decal in decals]
    sheet = Sheet(
        marks_mm=marks_mm(frame),
        places_mm=np.concatenate(at),
        copy=np.repeat(np.arange(len(at)), numbers),
    )
    return Looked(
        sheet=sheet,
        errors=moments(model, sheet.marks_mm, sheet.places_mm),
        bleed_mm=np.concatenate([beyond_mm[shape] for shape in shapes]),
    )


def marks_mm(frame: Frame) -> Array:
    """(N, 2) a frame's marks in the order of their numbers."""
    marks = sorted(frame.marks, key=lambda mark: mark.number)
    return np.array([(mark.x_mm, mark.y_mm) for mark in marks])


def _worst_of_each(looked: Looked) -> NDArray[np.bool_]:
    """(n,) True at the one place of each copy that has the greatest mean square error."""
    errors, copy = looked.errors, looked.sheet.copy
    square = (errors.mean_mm**2).sum(axis=1) + np.trace(errors.covariance_mm2, axis1=1, axis2=2)
    order = np.lexsort((-square, copy))
    worst = np.zeros(len(copy), dtype=bool)
    worst[order[np.unique(copy[order], return_index=True)[1]]] = True
    return worst
