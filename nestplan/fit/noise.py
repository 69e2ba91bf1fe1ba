"""How far measured marks scatter about a straight print, by the shop's own figures.

What a fit leaves is judged against this: printing and reading each mark, smooth waves of the
film, and its wandering sideways. With all of it neighbours go together, so sums of squares
are taken after whitening: generalised least squares.
"""

from dataclasses import dataclass, replace
from math import hypot

import numpy as np
from numpy.typing import NDArray

from nestplan.fit.maps import Kind, design
from nestplan.marks import ErrorModel
from nestplan.marks.moments import agreement

Array = NDArray[np.float64]

LEAST_MM = 0.02  # nobody reads a mark better than this
UNCHECKED_MM = 1000.0  # a mark known no better from the others is not checked by them


@dataclass(frozen=True, slots=True, kw_only=True)
class Noise:
    """The plan's error model, and how well the marks were read, on each axis."""

    model: ErrorModel
    reading_mm: float

    @property
    def mark_mm(self) -> float:
        """Standard deviation of a mark by itself: printed and read."""
        return max(hypot(self.model.print_noise_mm, self.reading_mm), LEAST_MM)

    def grown(self, factor: float) -> "Noise":
        """All that the print and its reading do, greater by a factor; the cutter as it is."""
        model = self.model
        return replace(
            self,
            reading_mm=self.reading_mm * factor,
            model=replace(
                model,
                print_noise_mm=model.print_noise_mm * factor,
                distortion_mm=model.distortion_mm * factor,
                tracking_mm_m=model.tracking_mm_m * factor,
            ),
        )

    def covariance_mm2(self, marks_mm: Array) -> Array:
        """(2n, 2n) of the shifts x1, y1, x2 ... of the marks (n, 2)."""
        model = self.model
        field = model.distortion_mm**2 * agreement(marks_mm, marks_mm, model.distortion_length_mm)
        y = marks_mm[:, 1] - marks_mm[:, 1].min()
        walk = model.tracking_mm_m**2 / 1000 * np.minimum(y[:, None], y[None, :])
        alike = field + self.mark_mm**2 * np.eye(len(marks_mm))
        return np.asarray(np.kron(alike, np.eye(2)) + np.kron(walk, np.diag([1.0, 0.0])))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Residuals:
    """What a fit leaves of measured shifts. source: least squares, x' Q x ~ chi-square(dof).

    Q: (2n, 2n), the inverse covariance less what the fit takes up; square: shifts' Q shifts.
    """

    Q: Array
    shifts_mm: Array
    square: float
    dof: int

    def without(self) -> tuple[Array, Array]:
        """(n,) how far `square` falls when each mark is left out, and (n, 2) its own offset.

        source: a shift of one mark added to the fit; Baarda, A testing procedure for use in
        geodetic networks, 1968 (from memory). A mark that nothing checks gets 0 and nan.
        """
        n = len(self.shifts_mm) // 2
        left = (self.Q @ self.shifts_mm).reshape(n, 2)
        falls, offsets = np.zeros(n), np.full((n, 2), np.nan)
        for i in range(n):
            own = self.own(i)
            if self.checked(i):
                offsets[i] = np.linalg.solve(own, left[i])
                falls[i] = float(left[i] @ offsets[i])
        return falls, offsets

    def own(self, mark: int) -> Array:
        """(2, 2) block of one mark."""
        return self.Q[2 * mark : 2 * mark + 2, 2 * mark : 2 * mark + 2]

    def checked(self, mark: int) -> bool:
        """Whether the other marks say anything about this one."""
        return float(np.linalg.eigvalsh(self.own(mark))[0]) > UNCHECKED_MM**-2


def residuals(kind: Kind, noise: Noise, planned_mm: Array, printed_mm: Array) -> Residuals:
    """What the best fit of a kind leaves of marks (n, 2) that were turned back."""
    covariance = noise.covariance_mm2(planned_mm)
    return left_by(design(kind, planned_mm), covariance, planned_mm, printed_mm)


def left_by(columns: Array, covariance: Array, planned_mm: Array, printed_mm: Array) -> Residuals:
    """The same for given columns (2n, p) and covariance (2n, 2n)."""
    inverse = np.linalg.inv(covariance)
    weighed = inverse @ columns
    taken = weighed @ np.linalg.pinv(columns.T @ weighed) @ weighed.T
    shifts = (printed_mm - planned_mm).reshape(-1)
    Q: Array = inverse - (taken + taken.T) / 2
    return Residuals(
        Q=Q,
        shifts_mm=shifts,
        square=max(float(shifts @ Q @ shifts), 0.0),
        dof=columns.shape[0] - columns.shape[1],
    )
