"""Every figure the predicted error is made of, gathered from roll, machines and setup."""

from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from nestplan.job import Calibration, Corrects, Equipment

MONTH_DAYS = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ErrorModel:
    """What moves print against cut. Standard deviations are of each axis; sd says so.

    print_noise_mm, sensor_noise_mm, cut_noise_mm: one by one, for each mark and decal.
    distortion: a smooth field on each axis, its correlation exp(-d^2 / (2 l^2)).
    tracking_mm_m: sideways, a random walk along the feed of this deviation after a metre.
    along_percent, across_percent: mean stretch of the print against the cut: the film's (shrinkage
    is negative) less what the cutter still cuts too long.
    skew_mm_m: the same of their skew, mm to the right for a metre along.
    offset_x_mm, offset_y_mm: how far from its place the blade still lands.
    both_sd_percent: a stretch alike in both directions, as heat makes it.
    offset_sd_mm: of the calibrated offset between sensor and blade at its present age.
    """

    corrects: Corrects
    print_noise_mm: float
    sensor_noise_mm: float
    cut_noise_mm: float
    distortion_mm: float
    distortion_length_mm: float
    tracking_mm_m: float
    along_percent: float
    across_percent: float
    along_sd_percent: float
    across_sd_percent: float
    both_sd_percent: float
    skew_mm_m: float
    skew_sd_mm_m: float
    askew_sd_mm_m: float
    offset_x_mm: float
    offset_y_mm: float
    offset_sd_mm: float
    calibration_sd_mm: float
    calibration_wander_mm: float
    calibration_age_days: float

    @property
    def mark_noise_mm(self) -> float:
        """Standard deviation on each axis of where a mark is read against where it was meant."""
        return hypot(self.print_noise_mm, self.sensor_noise_mm)

    @property
    def local_noise_mm(self) -> float:
        """What moves one copy and no other."""
        return hypot(self.print_noise_mm, self.cut_noise_mm)

    def stretched_mm(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n, 2): how mean stretch and skew shift the points of the print."""
        x, y = points_mm.T
        return np.column_stack(
            [
                x * (self.across_percent / 100) + y * (self.skew_mm_m / 1000),
                y * (self.along_percent / 100),
            ]
        )

    @property
    def offset_mm(self) -> NDArray[np.float64]:
        """(2,) how far from its place the blade still lands, everywhere alike."""
        return np.array([self.offset_x_mm, self.offset_y_mm])

    def straight_mm(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """(5, n, 2): shifts of the points by one standard deviation of each straight distortion:
        stretch along, across and both alike, skew, and a sheet loaded askew.
        """
        x, y = points_mm.T
        none = np.zeros_like(x)
        along, across, both = (
            sd / 100 for sd in (self.along_sd_percent, self.across_sd_percent, self.both_sd_percent)
        )
        skew, askew = self.skew_sd_mm_m / 1000, self.askew_sd_mm_m / 1000
        shifts = [
            (none, along * y),
            (across * x, none),
            (both * x, both * y),
            (skew * y, none),
            (-askew * y, askew * x),
        ]
        return np.array([np.column_stack(each) for each in shifts])


def error_model(job: Equipment) -> ErrorModel:
    """The figures of a roll, a setup, its printer and its cutter.

    A device that prints and cuts has one calibration, but its film wanders on both ways.
    """
    roll, setup, printer, cutter = job.roll, job.setup, job.printer, job.cutter
    sensor = cutter.sensor
    assert sensor is not None, "the job room refuses a cutter without a sensor"
    both = [printer] if printer == cutter else [printer, cutter]
    known = [machine.calibration or Calibration() for machine in both]
    own = cutter.calibration or Calibration()
    heat = roll.expansion_ppm_k * 1e-4  # percent a kelvin
    warmer = heat * setup.cut_warmer_k
    return ErrorModel(
        corrects=cutter.corrects,
        print_noise_mm=printer.placement_noise_mm,
        sensor_noise_mm=sensor.repeatability_mm,
        cut_noise_mm=cutter.cut_noise_mm,
        distortion_mm=printer.distortion_mm,
        distortion_length_mm=printer.distortion_length_mm,
        tracking_mm_m=hypot(printer.tracking_mm_m, cutter.tracking_mm_m),
        along_percent=warmer - roll.shrink_along_percent - own.scale_along_percent,
        across_percent=warmer - roll.shrink_across_percent - own.scale_across_percent,
        along_sd_percent=hypot(
            roll.shrink_sd_percent, *(each.scale_along_sd_percent for each in known)
        ),
        across_sd_percent=hypot(
            roll.shrink_sd_percent, *(each.scale_across_sd_percent for each in known)
        ),
        both_sd_percent=heat * setup.cut_warmer_sd_k,
        skew_mm_m=0.0 - own.skew_mm_m,
        skew_sd_mm_m=hypot(*(each.skew_sd_mm_m for each in known)),
        askew_sd_mm_m=cutter.askew_mm_m,
        offset_x_mm=own.offset_x_mm,
        offset_y_mm=own.offset_y_mm,
        offset_sd_mm=hypot(
            own.offset_sd_mm, own.offset_wander_mm * sqrt(own.age_days / MONTH_DAYS)
        ),
        calibration_sd_mm=own.offset_sd_mm,
        calibration_wander_mm=own.offset_wander_mm,
        calibration_age_days=own.age_days,
    )
