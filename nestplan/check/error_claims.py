"""The predicted errors against their own model, and the chances between what bounds them."""

from collections.abc import Sequence
from math import hypot, sqrt

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nestplan.check.cut_copy import pose_of
from nestplan.check.error_model import chance_off, mean_and_covariance
from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.outlines import Contour, Points
from nestplan.check.said import SUMMARY, Said, SaidFrame
from nestplan.figures import count, fixed

Array = NDArray[np.float64]

MONTH_DAYS = 30.0  # in which the offset wanders by its figure
BEYOND = 0.05  # of a 95 % radius
NEAR_PART = 0.02  # of a radius: its points of the contour need not be ours
NEAR_MM = 2e-4  # radii are written to a ten-thousandth
CHANCE_PART, LEAST_CHANCE = 1.25, 1e-6
POINTS_EACH = 40  # of a contour at most, for the sum that bounds a chance from above
SIMPLE_PART = 0.02  # of a contour's size: its hull may be simplified by so much
PARAMETERS = {"none": 1, "turn": 2, "similarity": 2}  # marks that a fit needs; the others three


def error_claims(said: Said, contours: Sequence[Contour]) -> list[Claim]:
    """Every copy's 95 % radius, the run's, the chance of a white edge and the least bleed."""
    frames = [_Frame(said, frame, contours) for frame in said.frames if _fitted(said, frame)]
    if not frames:
        return []
    number = sum(len(frame.radius) for frame in frames)
    return [
        Claim(
            says=f"the 95 % radius of {count(number, 'copy', 'copies')} follows from the marks "
            "and the model",
            against=tuple(finding for frame in frames for finding in frame.radii()),
        ),
        Claim(
            says="the errors and chances of the run follow from those of its copies",
            against=tuple(_run(said, frames)),
        ),
    ]


def _fitted(said: Said, frame: SaidFrame) -> bool:
    return bool(frame.placements) and len(frame.marks) >= PARAMETERS.get(
        said.marks.model.corrects, 3
    )


def _points(contour: Contour) -> Points:
    """Corners of the contour's hull and the middles of its sides."""
    return _round(contour.region)


def _backing_points(contour: Contour) -> Points | None:
    """The same of the backing, where the print reaches it."""
    return _round(contour.footprint) if contour.backing and contour.beyond_mm > 0 else None


def _round(region: BaseGeometry) -> Points:
    hull = shapely.convex_hull(region)
    size = max(hull.bounds[2] - hull.bounds[0], hull.bounds[3] - hull.bounds[1])
    corners = shapely.get_coordinates(shapely.simplify(hull, SIMPLE_PART * size))[:-1]
    return np.concatenate([corners, (corners + np.roll(corners, 1, axis=0)) / 2])


class _Frame:
    """A frame's copies at the point of their contour that is worst.

    radius, mean, covariance: one row a copy, in the order of the summary. lines: mean,
    covariance and the print beyond the cut of every line that print reaches over: contours,
    then backings.
    """

    def __init__(self, said: Said, frame: SaidFrame, contours: Sequence[Contour]) -> None:
        self.index = frame.index
        marks = sorted(frame.marks, key=lambda mark: mark.mark)
        at = np.array([(mark.x_mm, mark.y_mm) for mark in marks])
        self.radius = np.array([place.error_p95_mm for place in frame.placements])
        inner = [_points(contour) for contour in contours]
        outer = [_backing_points(contour) for contour in contours]
        lines, backed = [], []
        each = []
        for place in frame.placements:
            k, pose = place.decal - 1, pose_of(place)
            line = _worst(said, at, pose.put(inner[k]))
            lines.append((*line, said.decals[k].bleed_mm))
            further = outer[k]
            if further is not None:
                backing = _worst(said, at, pose.put(further))
                backed.append((*backing, contours[k].beyond_mm))
                line = max(line, backing, key=_expected_square)
            each.append(line)
        self.mean = np.array([mean for mean, _ in each])
        self.covariance = np.array([covariance for _, covariance in each])
        self.line_mean = np.array([mean for mean, _, _ in (*lines, *backed)])
        self.line_covariance = np.array([covariance for _, covariance, _ in (*lines, *backed)])
        self.bleed = np.array([bleed for _, _, bleed in (*lines, *backed)])

    def outside(self, bleed_mm: Array | float) -> Array:
        """Chance of each line's worst point to be off by more."""
        radii = np.broadcast_to(np.asarray(bleed_mm, dtype=float), self.bleed.shape)
        return chance_off(self.line_mean, self.line_covariance, np.maximum(radii, 1e-9))

    def beyond(self, radius_mm: Array | float) -> Array:
        """Chance of each copy's worst point to be off by more."""
        radii = np.broadcast_to(np.asarray(radius_mm, dtype=float), self.radius.shape)
        return chance_off(self.mean, self.covariance, np.maximum(radii, 1e-9))

    def radii(self) -> list[Finding]:
        """One finding for all copies whose radius holds more or less than 95 %."""
        slack = NEAR_MM + NEAR_PART * self.radius
        wide = self.beyond(self.radius + slack) > BEYOND
        narrow = self.beyond(self.radius - slack) < BEYOND
        wrong = int((wide | narrow & (self.radius > slack)).sum())
        if not wrong:
            return []
        worst = int(np.abs(self.beyond(self.radius) - BEYOND).argmax())
        share = 100 * (1 - self.beyond(self.radius)[worst])
        return [
            Finding(
                kind=Kind.ERROR_WRONG,
                where=f"{SUMMARY}: frame {self.index}, error_p95_mm",
                found=f"{count(wrong, 'copy', 'copies')}; the worst holds {fixed(share, 1)} % "
                f"within {fixed(self.radius[worst], 4)} mm",
                meant="95 %",
            )
        ]


def _worst(said: Said, marks: Points, places: Points) -> tuple[Array, Array]:
    """Mean and covariance at the place with the greatest expected square."""
    mean, covariance = mean_and_covariance(said.marks.model, marks, places)
    k = int(((mean**2).sum(axis=1) + np.trace(covariance, axis1=1, axis2=2)).argmax())
    return mean[k], covariance[k]


def _expected_square(error: tuple[Array, Array]) -> float:
    mean, covariance = error
    return float((mean**2).sum() + np.trace(covariance))


def _run(said: Said, frames: Sequence[_Frame]) -> list[Finding]:
    marks, against = said.marks, []

    def wrong(key: str, found: str, meant: str) -> None:
        where = f"{SUMMARY}: marks.{key}"
        against.append(Finding(kind=Kind.ERROR_WRONG, where=where, found=found, meant=meant))

    model = marks.model
    age = sqrt(model.calibration_age_days / MONTH_DAYS)
    offset = hypot(model.calibration_sd_mm, model.calibration_wander_mm * age)
    if abs(model.offset_sd_mm - offset) > NEAR_MM:
        wrong("model.offset_sd_mm", f"{fixed(model.offset_sd_mm, 4)} mm", f"{fixed(offset, 4)} mm")
    greatest = max(float(frame.radius.max()) for frame in frames)
    if abs(marks.error_worst_mm - greatest) > NEAR_MM:
        wrong("error_worst_mm", f"{fixed(marks.error_worst_mm, 4)} mm", f"{fixed(greatest, 4)} mm")

    def share_beyond(radius_mm: float) -> float:
        return float(np.concatenate([frame.beyond(radius_mm) for frame in frames]).mean())

    p95, slack = marks.error_p95_mm, NEAR_MM + NEAR_PART * marks.error_p95_mm
    if share_beyond(p95 + slack) > BEYOND or (p95 > slack and share_beyond(p95 - slack) < BEYOND):
        share = f"{fixed(100 * (1 - share_beyond(p95)), 1)} % of the cuts within {fixed(p95, 4)} mm"
        wrong("error_p95_mm", share, "95 %")
    bled = [frame for frame in frames if (frame.bleed > 0).any()]
    if bled and marks.chance_outside_bleed is not None:
        each = np.concatenate([f.outside(f.bleed)[f.bleed > 0] for f in bled])
        said_chance = marks.chance_outside_bleed
        if not _between(each, said_chance, said_chance):
            bounds = f"{each.max():.2g} to {min(1.0, POINTS_EACH * each.sum()):.2g}"
            wrong("chance_outside_bleed", f"{said_chance:.2g}", bounds)
    elif bool(bled) != (marks.chance_outside_bleed is not None):
        wrong("chance_outside_bleed", str(marks.chance_outside_bleed), "nothing without bleed")
    counted = [(f, f.bleed > 0 if bled else f.bleed >= 0) for f in frames]
    each = np.concatenate([f.outside(marks.bleed_least_mm)[some] for f, some in counted])
    if not _between(each, marks.model.chance_limit, marks.model.chance_limit):
        found = f"{fixed(marks.bleed_least_mm, 4)} mm leave one copy {each.max():.2g}"
        wrong("bleed_least_mm", found, f"{marks.model.chance_limit:g} for any")
    return against


def _between(each: Array, low: float, high: float) -> bool:
    """Whether a chance of any lies between that of the worst copy and the sum over all."""
    return bool(
        each.max() <= CHANCE_PART * high + LEAST_CHANCE
        and low <= CHANCE_PART * POINTS_EACH * each.sum() + LEAST_CHANCE
    )
