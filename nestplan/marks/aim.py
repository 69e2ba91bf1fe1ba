"""What a set of marks is judged by: the mean square error it leaves at each contour point.

Whatever moves marks and film (noise, waves, a wandering film, stretch and skew, their means
too) enters through second moments alone: E|G q - u|^2 = tr(G C G') - 2 tr(G c') + E|u|^2 with
C those of the shifts q at the marks, c those of q with the film's own shift u at the place.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from nestplan.marks.design import Design
from nestplan.marks.error_model import ErrorModel
from nestplan.marks.moments import agreement

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Aim:
    """marks (M, 2, p), places (P, 2, p): rows of the fit. second (2M, 2M): C over all
    candidates, x and y of one beside each other. cross (P, 2, 2M): c. own (P,): E|u|^2.
    """

    marks: Array
    places: Array
    second: Array
    cross: Array
    own: Array

    def of_places(self, kept: NDArray[np.intp]) -> "Aim":
        """The same, judged at some places."""
        return replace(self, places=self.places[kept], cross=self.cross[kept], own=self.own[kept])


def noise_aim(design: Design) -> Aim:
    """Even noise of one on each axis of each mark, and nothing else: f_r of `design`."""
    size, places = 2 * len(design.marks), len(design.places)
    return Aim(
        marks=design.marks,
        places=design.places,
        second=np.eye(size),
        cross=np.zeros((places, 2, size)),
        own=np.zeros(places),
    )


def total_aim(model: ErrorModel, design: Design, marks_mm: Array, places_mm: Array) -> Aim:
    """Everything the model knows, at contour points (P, 2); design: rows of both."""
    size, places = 2 * len(marks_mm), len(places_mm)
    second = np.eye(size) * model.mark_noise_mm**2
    cross = np.zeros((places, 2, size))
    own = np.full(places, 2 * (model.local_noise_mm**2 + model.offset_sd_mm**2))
    waves, length = model.distortion_mm**2, model.distortion_length_mm
    if waves > 0:
        among = waves * agreement(marks_mm, marks_mm, length)
        to_marks = waves * agreement(places_mm, marks_mm, length)
        for axis in (0, 1):
            second[axis::2, axis::2] += among
            cross[:, axis, axis::2] += to_marks
        own += 2 * waves
    walk = model.tracking_mm_m**2 / 1000
    if walk > 0:
        y0 = min(marks_mm[:, 1].min(), places_mm[:, 1].min())
        there, here = marks_mm[:, 1] - y0, places_mm[:, 1] - y0
        second[0::2, 0::2] += walk * np.minimum.outer(there, there)
        cross[:, 0, 0::2] += walk * np.minimum.outer(here, there)
        own += walk * here
    middle = marks_mm.mean(axis=0)  # every fit takes up a shift
    at_marks, at_places = marks_mm - middle, places_mm - middle
    straight = [*model.straight_mm(at_marks), model.stretched_mm(at_marks)]
    felt = [*model.straight_mm(at_places), model.stretched_mm(at_places) - model.offset_mm]
    for seen, there_mm in zip(straight, felt, strict=True):
        second += np.outer(seen.ravel(), seen.ravel())
        cross += there_mm[:, :, None] * seen.ravel()
        own += (there_mm**2).sum(axis=1)
    return Aim(marks=design.marks, places=design.places, second=second, cross=cross, own=own)
