"""Simple fits of measured marks: from where something was planned to where it is printed.

All are least squares. Before any of them the measured points are turned back as a whole
(`turned_back`), so that what is fitted is small and a turn may be taken to first order.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from nestplan.job import Corrects
from nestplan.marks.corrects import knots_mm, rows

Array = NDArray[np.float64]
Kind = Literal["shift", "turn", "similarity", "affine", "strips"]

KINDS: tuple[Kind, ...] = ("shift", "turn", "similarity", "affine", "strips")
STEPS = 40  # of the way back; shifts of a hundredth come down to a nanometre in six


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """How the measured sheet lay: angle, and the middles of the marks as planned and as seen."""

    angle_deg: float
    planned_mm: tuple[float, float]
    seen_mm: tuple[float, float]

    def back(self, seen_mm: Array) -> Array:
        """Measured points (n, 2) in run coordinates: turned and shifted, nothing else."""
        z = (seen_mm - self.seen_mm) @ (1, 1j) * np.exp(-1j * np.radians(self.angle_deg))
        return np.column_stack([z.real, z.imag]) + self.planned_mm


def turned_back(planned_mm: Array, seen_mm: Array) -> Turn:
    """The rigid fit of seen to planned points, both (n, 2); any angle.

    source: Kabsch, Acta Cryst. A32 (1976) 922; in two dimensions the angle of sum(conj(a) b).
    """
    planned, seen = planned_mm.mean(axis=0), seen_mm.mean(axis=0)
    arm, reach = (planned_mm - planned) @ (1, 1j), (seen_mm - seen) @ (1, 1j)
    angle = float(np.degrees(np.angle(np.vdot(arm, reach))))
    return Turn(
        angle_deg=angle,
        planned_mm=(float(planned[0]), float(planned[1])),
        seen_mm=(float(seen[0]), float(seen[1])),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Map:
    """A fit: shifts of the plane, linear in `figures`. knots_mm: joints, for strips alone."""

    kind: Kind
    middle_mm: Array
    scale_mm: float
    knots_mm: Array
    figures: Array

    def shift_mm(self, points_mm: Array) -> Array:
        """(n, 2): how far each planned point was moved by the print."""
        knots = (self.knots_mm - self.middle_mm[1]) / self.scale_mm
        design = rows(_form(self.kind), (points_mm - self.middle_mm) / self.scale_mm, knots)
        shifts: Array = design @ self.figures
        return shifts

    def at(self, points_mm: Array) -> Array:
        """(n, 2): where planned points are printed."""
        return points_mm + self.shift_mm(points_mm)

    def back(self, points_mm: Array) -> Array:
        """(n, 2): what must be asked for so that it comes to lie at the points.

        By repetition; every shift here is a small share of its distance, so it comes to rest.
        """
        asked = points_mm
        for _ in range(STEPS):
            before, asked = asked, points_mm - self.shift_mm(asked)
            if np.abs(asked - before).max(initial=0.0) < 1e-10:
                break
        return asked


def fit_map(kind: Kind, planned_mm: Array, printed_mm: Array) -> Map:
    """Least squares over marks (n, 2) that were turned back."""
    middle, scale, knots = planned_mm.mean(axis=0), _scale(planned_mm), _knots(kind, planned_mm)
    columns = design(kind, planned_mm)
    figures = np.linalg.pinv(columns) @ (printed_mm - planned_mm).reshape(-1)
    return Map(kind=kind, middle_mm=middle, scale_mm=scale, knots_mm=knots, figures=figures)


def design(kind: Kind, planned_mm: Array) -> Array:
    """(2n, p): what each figure of a fit does to x and y of each mark, centred and scaled."""
    middle, scale = planned_mm.mean(axis=0), _scale(planned_mm)
    knots = (_knots(kind, planned_mm) - middle[1]) / scale
    each = rows(_form(kind), (planned_mm - middle) / scale, knots)
    return each.reshape(2 * len(planned_mm), -1)


def own_map(corrects: Corrects, planned_mm: Array, printed_mm: Array) -> Map:
    """What the cutter itself makes of its marks; `none` sets its origin on the first of them."""
    if corrects == "none":
        return fit_map("shift", planned_mm[:1], printed_mm[:1])
    return fit_map(corrects, planned_mm, printed_mm)


def can_fit(kind: Kind, planned_mm: Array) -> bool:
    """Whether the marks determine all figures of a fit."""
    if kind == "strips" and len(_knots(kind, planned_mm)) < 3:
        return False  # two rows are one strip: an affine fit
    columns = design(kind, planned_mm)
    known, wanted = columns.shape
    rank = int(np.linalg.matrix_rank(columns, tol=1e-6))
    return bool(known >= wanted == rank)


def _form(kind: Kind) -> Corrects:
    return "none" if kind == "shift" else kind


def _knots(kind: Kind, planned_mm: Array) -> Array:
    return knots_mm(planned_mm) if kind == "strips" else np.zeros(0)


def _scale(planned_mm: Array) -> float:
    return max(float(np.ptp(planned_mm, axis=0).max()) / 2, 1.0)
