"""What all readings of one target have in common: noise of its marks, waves of its film.

It moves many stations together, so it hides behind the figures that are sought and no scatter
of the readings shows it. It is taken from the shop's own figures.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from nestplan.job import Equipment
from nestplan.marks import ErrorModel, error_model
from nestplan.marks.corrects import influence
from nestplan.marks.moments import agreement

Array = NDArray[np.float64]


def uncalibrated(equipment: Equipment) -> ErrorModel:
    """The error model without what a calibration says: that is what is being measured."""
    bare = {"calibration": None}
    return error_model(
        replace(
            equipment,
            printer=equipment.printer.model_copy(update=bare),
            cutter=equipment.cutter.model_copy(update=bare),
        )
    )


def unit_shifts(points_mm: Array) -> Array:
    """(4, n, 2): how a print moves that is a percent longer across, a percent longer along,
    skewed by a mm a metre, turned by a mm a metre.
    """
    x, y = points_mm.T
    none = np.zeros_like(x)
    shifts = [
        (x / 100, none),
        (none, y / 100),
        (y / 1000, none),
        (-y / 1000, x / 1000),
    ]
    return np.array([np.column_stack(each) for each in shifts])


def carried(corrects: str, marks_mm: Array, places_mm: Array) -> Array:
    """(2n, 2N + 2n): from shifts of marks and places of the print to cut less print.

    Rows and columns go x1, y1, x2 …, marks before places.
    """
    n = len(places_mm)
    fit = influence(corrects, marks_mm, places_mm).reshape(2 * n, -1)  # type: ignore[arg-type]
    return np.concatenate([fit, -np.eye(2 * n)], axis=1)


def shared_covariance(model: ErrorModel, marks_mm: Array, places_mm: Array) -> Array:
    """(2n, 2n) covariance of cut less print that the places (n, 2) of one target share, mm².

    What strays from place to place alone is left out: the readings' own scatter tells it.
    """
    points = np.concatenate([marks_mm, places_mm])
    y = points[:, 1]
    film = np.zeros((2 * len(points), 2 * len(points)))
    smooth = model.distortion_mm**2 * agreement(points, points, model.distortion_length_mm)
    read = np.zeros(len(points))
    read[: len(marks_mm)] = model.mark_noise_mm**2
    film += np.kron(smooth + np.diag(read), np.eye(2))
    walk = model.tracking_mm_m**2 / 1000 * np.minimum.outer(y - y.min(), y - y.min())
    film += np.kron(walk, np.diag([1.0, 0.0]))
    across, along, _, _ = unit_shifts(points).reshape(4, -1)
    for shift, sd in (
        (across, model.across_sd_percent),
        (along, model.along_sd_percent),
        (across + along, model.both_sd_percent),
    ):
        film += np.outer(sd * shift, sd * shift)
    through = carried(model.corrects, marks_mm, places_mm)
    result: Array = through @ film @ through.T
    return result
