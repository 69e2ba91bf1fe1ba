"""Mean and covariance of the error at any place, in closed form.

The error is where the cut lands less where the print lies: what the fit carries there from
the marks, less what the film does there itself, and what moves one copy or all alike.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestplan.marks.corrects import influence
from nestplan.marks.error_model import ErrorModel

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Moments:
    """Errors at n places. mean_mm (n, 2), covariance_mm2 (n, 2, 2)."""

    mean_mm: Array
    covariance_mm2: Array


def moments(model: ErrorModel, marks_mm: Array, places_mm: Array) -> Moments:
    """Errors at places (n, 2) of a frame whose marks (N, 2) stand in the order of their numbers.

    source: Cov = G Cov(marks) G' - cross - cross' + Cov(place), G the influence of the marks.
    """
    return moments_of(model, influence(model.corrects, marks_mm, places_mm), marks_mm, places_mm)


def moments_of(model: ErrorModel, carried: Array, marks_mm: Array, places_mm: Array) -> Moments:
    """The same for any fit, by what it carries (n, 2, N, 2) from the marks to the places."""
    mean = left_over(carried, model.stretched_mm(marks_mm), model.stretched_mm(places_mm))
    mean += model.offset_mm
    covariance = model.mark_noise_mm**2 * np.einsum("kaib,kcib->kac", carried, carried)
    covariance += np.eye(2) * (model.local_noise_mm**2 + model.offset_sd_mm**2)
    for at_marks, at_places in zip(
        model.straight_mm(marks_mm), model.straight_mm(places_mm), strict=True
    ):
        left = left_over(carried, at_marks, at_places)
        covariance += left[:, :, None] * left[:, None, :]
    if model.distortion_mm > 0:
        for axis in (0, 1):
            covariance += model.distortion_mm**2 * _through(
                carried,
                axis,
                agreement(marks_mm, marks_mm, model.distortion_length_mm),
                agreement(places_mm, marks_mm, model.distortion_length_mm),
                np.ones(len(places_mm)),
            )
    if model.tracking_mm_m > 0:
        y0 = min(marks_mm[:, 1].min(), places_mm[:, 1].min())
        there, here = marks_mm[:, 1] - y0, places_mm[:, 1] - y0
        covariance += (model.tracking_mm_m**2 / 1000) * _through(
            carried,
            0,
            np.minimum(there[:, None], there[None, :]),
            np.minimum(here[:, None], there[None, :]),
            here,
        )
    return Moments(mean_mm=mean, covariance_mm2=covariance)


def left_over(carried: Array, at_marks: Array, at_places: Array) -> Array:
    """(n, 2): what the fit makes of shifts (N, 2) at the marks, less those (n, 2) of the film."""
    left: Array = np.einsum("kaib,ib->ka", carried, at_marks) - at_places
    return left


def agreement(some_mm: Array, others_mm: Array, length_mm: float) -> Array:
    """(n, m) correlation of the smooth distortion: exp(-d^2 / (2 l^2))."""
    apart2 = ((some_mm[:, None, :] - others_mm[None, :, :]) ** 2).sum(axis=2)
    result: Array = np.exp(-apart2 / (2 * length_mm**2))
    return result


def _through(carried: Array, axis: int, marks: Array, cross: Array, own: Array) -> Array:
    """(n, 2, 2) covariance that a field on one axis leaves after the fit.

    marks (N, N), cross (n, N), own (n,): its covariance among marks, from place to marks,
    and at each place itself.
    """
    weights = carried[:, :, :, axis]
    left = np.einsum("kai,ij,kcj->kac", weights, marks, weights, optimize=True)
    mixed = np.einsum("kai,ki->ka", weights, cross)
    left[:, :, axis] -= mixed
    left[:, axis, :] -= mixed
    left[:, axis, axis] += own
    result: Array = left
    return result
