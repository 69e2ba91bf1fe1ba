"""Marks in pairs, error models with one figure or many, and errors drawn by other means."""

import numpy as np

from nestplan.marks.error_model import ErrorModel

CORRECTS = ("none", "turn", "similarity", "affine", "strips")
QUIET = {
    "print_noise_mm": 0.0,
    "sensor_noise_mm": 0.0,
    "cut_noise_mm": 0.0,
    "distortion_mm": 0.0,
    "distortion_length_mm": 300.0,
    "tracking_mm_m": 0.0,
    "along_percent": 0.0,
    "across_percent": 0.0,
    "along_sd_percent": 0.0,
    "across_sd_percent": 0.0,
    "both_sd_percent": 0.0,
    "skew_mm_m": 0.0,
    "skew_sd_mm_m": 0.0,
    "askew_sd_mm_m": 0.0,
    "offset_x_mm": 0.0,
    "offset_y_mm": 0.0,
    "offset_sd_mm": 0.0,
    "calibration_sd_mm": 0.0,
    "calibration_wander_mm": 0.0,
    "calibration_age_days": 0.0,
}
ALL = {
    "print_noise_mm": 0.06,
    "sensor_noise_mm": 0.08,
    "cut_noise_mm": 0.03,
    "distortion_mm": 0.1,
    "tracking_mm_m": 0.2,
    "along_percent": -0.08,
    "across_percent": -0.02,
    "along_sd_percent": 0.02,
    "across_sd_percent": 0.01,
    "both_sd_percent": 0.01,
    "skew_mm_m": 0.4,
    "skew_sd_mm_m": 0.3,
    "askew_sd_mm_m": 0.5,
    "offset_x_mm": 0.05,
    "offset_y_mm": -0.04,
    "offset_sd_mm": 0.08,
}


def model(corrects: str, **figures: float) -> ErrorModel:
    """A model with these figures and no others."""
    return ErrorModel(corrects=corrects, **{**QUIET, **figures})


def pairs(number: int, width_mm: float = 1300.0, length_mm: float = 1500.0) -> np.ndarray:
    """(number, 2) marks in pairs on both edges, evenly along the feed."""
    y = np.linspace(0.0, length_mm, number // 2)
    return np.array([(x, each) for each in y for x in (0.0, width_mm)])


def fitted_shifts(corrects: str, marks: np.ndarray, read: np.ndarray, places: np.ndarray):
    """(d, n, 2): shifts that least squares gives the places for d readings (d, N, 2).

    Shares no code with the product: a complex similarity, the rigid fit by its angle, general
    least squares by numpy, strips as straight lines that bend at the rows of marks.
    """
    middle = marks.mean(axis=0)
    at, to = marks + read, places - middle
    mean = at.mean(axis=1, keepdims=True)
    arm = marks - middle
    if corrects == "none":
        return np.repeat(read[:, :1], len(places), axis=1)
    if corrects in ("turn", "similarity"):
        z = arm @ (1, 1j)
        seen = (at - mean) @ (1, 1j)
        grown = seen @ z.conj() / (abs(z) ** 2).sum()
        if corrects == "turn":
            grown = grown / abs(grown)
        where = grown[:, None] * (to @ (1, 1j))[None, :]
        put = np.stack([where.real, where.imag], axis=2) + mean
        return put - places
    knots = np.unique(arm[:, 1])

    def columns(points: np.ndarray) -> np.ndarray:
        x, y = points.T / 1000
        bends = knots[1:-1] / 1000 if corrects == "strips" else ()
        return np.column_stack([np.ones_like(x), x, y, *(np.maximum(y - k, 0) for k in bends)])

    solved = np.linalg.lstsq(
        columns(arm), read.transpose(1, 0, 2).reshape(len(marks), -1), rcond=None
    )[0]
    return (columns(to) @ solved).reshape(len(places), len(read), 2).transpose(1, 0, 2)
