"""The 95 % radius over a whole frame, for a map."""

import numpy as np
from numpy.typing import NDArray

from nestplan.marks.error_model import ErrorModel
from nestplan.marks.mark_plan import Frame
from nestplan.marks.moments import moments
from nestplan.marks.predict import marks_mm
from nestplan.marks.radius import radius_within

Array = NDArray[np.float64]


def error_field(model: ErrorModel, frame: Frame, x_mm: Array, y_mm: Array) -> Array:
    """(len(y), len(x)) 95 % radius in mm, as if a copy had a point at every (x, y)."""
    across, along = np.meshgrid(x_mm, y_mm)
    places = np.column_stack([across.ravel(), along.ravel()])
    errors = moments(model, marks_mm(frame), places)
    return radius_within(errors.mean_mm, errors.covariance_mm2).reshape(across.shape)
