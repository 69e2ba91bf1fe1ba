"""Candidate places and contour points in the fit's own terms, and what noise of marks leaves.

With weights w on the candidates, M(w) = sum of w_i J_i' J_i; at a place r the mark noise s
leaves a mean square error of s^2 f_r(w), f_r = tr(J_r M^-1 J_r'). f_r is convex in the weights
and, at a fixed set, convex in the place: its greatest value over any points is on their hull.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError

from nestplan.job import Corrects
from nestplan.marks.corrects import rows

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Design:
    """marks (M, 2, p), places (H, 2, p): rows of the fit, centred and scaled to about one.

    places_at: (H, 2) where those places are, in the same scale.
    """

    marks: Array
    places: Array
    places_at: Array

    @property
    def squares(self) -> Array:
        """(M, p, p) what each candidate adds to the information."""
        added: Array = np.einsum("map,maq->mpq", self.marks, self.marks)
        return added


def design_of(
    corrects: Corrects,
    candidates_mm: Array,
    contours_mm: Array,
    knots_mm: Sequence[float] = (),
    *,
    hull: bool = True,
) -> Design:
    """The design for candidates (M, 2) and contour points (n, 2).

    knots_mm: y of the joints, for strips alone. hull: of the points keep the far ones only, all
    that count for noise; with strips the far ones of each.
    """
    middle = candidates_mm.mean(axis=0)
    scale = float(np.ptp(candidates_mm, axis=0).max()) / 2
    joints = (np.asarray(knots_mm, dtype=float) - middle[1]) / scale
    points = far_points(contours_mm, knots_mm) if hull else contours_mm
    at = (points - middle) / scale
    return Design(
        marks=rows(corrects, (candidates_mm - middle) / scale, joints),
        places=rows(corrects, at, joints),
        places_at=at,
    )


def far_points(points_mm: Array, knots_mm: Sequence[float] = ()) -> Array:
    """Corners of the convex hull of the points, of each strip between joints by itself."""
    inner = np.sort(np.asarray(knots_mm, dtype=float))[1:-1]
    strip = np.searchsorted(inner, points_mm[:, 1])
    return np.concatenate([_hull(points_mm[strip == k]) for k in np.unique(strip)])


def _hull(points_mm: Array) -> Array:
    if len(points_mm) < 4:
        return points_mm
    try:
        corners: Array = points_mm[np.sort(ConvexHull(points_mm).vertices)]
    except QhullError:  # all in line
        return points_mm
    return corners


def noise_left(design: Design, weights: Array) -> Array:
    """(H,) f_r at each place; infinite where the fit is not determined."""
    information = np.einsum("m,map,maq->pq", weights, design.marks, design.marks, optimize=True)
    if np.linalg.cond(information) > 1e12:
        return np.full(len(design.places), np.inf)
    solved = np.linalg.solve(information, design.places.reshape(-1, information.shape[0]).T)
    solved = solved.T.reshape(design.places.shape)
    left: Array = np.einsum("hap,hap->h", solved, design.places)
    return left


def greatest_noise(design: Design, chosen: Sequence[int]) -> float:
    """The greatest f_r of a set of whole marks."""
    weights = np.zeros(len(design.marks))
    weights[list(chosen)] = 1.0
    return float(noise_left(design, weights).max())
