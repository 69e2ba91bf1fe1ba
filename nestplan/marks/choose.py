"""Which places the marks of one frame take, once its film is settled.

The evenly spaced marks are where the choice begins: no mark moves the frame's ends, its words or
its bars. Swaps lower the greatest predicted error over all contours; marks are added where one
bad mark could not be named otherwise, and while another one pays for its reading.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestplan.job import Corrects
from nestplan.marks.aim import Aim, noise_aim, total_aim
from nestplan.marks.best_noise import best_noise
from nestplan.marks.corrects import knots_mm
from nestplan.marks.design import design_of, far_points
from nestplan.marks.error_model import ErrorModel
from nestplan.marks.exchange import Chosen, judged, shaken, swapped, with_one_more
from nestplan.marks.field import Field
from nestplan.marks.mark_plan import Worth
from nestplan.marks.moments import moments
from nestplan.marks.named import named

Array = NDArray[np.float64]

PAYS, PAYS_MM = 0.02, 0.005  # of the greatest error, for each mark more
MORE_MOST = 8  # marks beyond the spacing's
NAMING_MOST = 4  # of them, to name a bad mark
CELLS_A_LENGTH = 4  # one contour point a cell; the correlation length over this many
CHECKED_MOST = 6  # times that points left out are looked at
SHAKES = 8
KNOTS_MOVED = 3  # times that strips are cut anew


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frameful:
    """What the choice for one frame is made from: candidates and all contour points (n, 2)."""

    field: Field
    points_mm: Array


def chosen_marks(
    corrects: Corrects, model: ErrorModel, about: Frameful, start: Sequence[int]
) -> tuple[int, ...]:
    """Rows of the field, from those of the evenly spaced marks. Not for a cutter that fits
    nothing: which marks it has beside the first is all the same to it.
    """
    rows = tuple(start)
    for _ in range(KNOTS_MOVED if corrects == "strips" else 1):
        better = _chosen(corrects, model, about, rows, len(start))
        if greatest_mm(model, about, better) >= greatest_mm(model, about, rows):
            break
        rows = better
    return rows


def greatest_mm(model: ErrorModel, about: Frameful, rows: Sequence[int]) -> float:
    """Greatest root of the mean square error over all contour points of the frame."""
    return float(np.sqrt(squares(model, about, rows).max()))


def squares(model: ErrorModel, about: Frameful, rows: Sequence[int]) -> Array:
    """(n,) mean square error at every contour point of the frame."""
    errors = moments(model, about.field.places_mm[list(rows)], about.points_mm)
    found: Array = (errors.mean_mm**2).sum(axis=1)
    found += np.trace(errors.covariance_mm2, axis1=1, axis2=2)
    return found


def _chosen(
    corrects: Corrects, model: ErrorModel, about: Frameful, rows: tuple[int, ...], least: int
) -> tuple[int, ...]:
    field = about.field
    knots = joints(corrects, field, rows)
    looked = looked_at(model, about)
    for _ in range(CHECKED_MOST):
        aim = aim_at(corrects, model, field, looked, knots)
        best = swapped(field, aim, rows)
        best = _nameable(corrects, field, aim, best, least)
        best = _paying(field, aim, best, least)
        best = shaken(field, aim, best, times=SHAKES)
        best = swapped(field, aim, best.rows, pairs=True)
        rows = best.rows
        if corrects == "strips":  # joints move with the marks: judged by the caller
            return rows
        left = squares(model, about, rows)
        worst = int(left.argmax())
        if left[worst] <= best.greatest * (1 + 1e-6):
            return rows
        looked = np.vstack([looked, about.points_mm[worst]])
    return rows


def aim_at(
    corrects: Corrects, model: ErrorModel, field: Field, points_mm: Array, knots: Sequence[float]
) -> Aim:
    """The whole predicted error at these contour points."""
    design = design_of(corrects, field.places_mm, points_mm, knots, hull=False)
    return total_aim(model, design, field.places_mm, points_mm)


def looked_at(model: ErrorModel, about: Frameful) -> Array:
    """Contour points at which sets are judged first."""
    return thinned(about.points_mm, model.distortion_length_mm / CELLS_A_LENGTH)


def joints(corrects: Corrects, field: Field, rows: Sequence[int]) -> Sequence[float]:
    """y of the joints between strips, as the cutter takes them from these marks."""
    if corrects != "strips":
        return ()
    found: list[float] = knots_mm(field.places_mm[list(rows)]).tolist()
    return found


def thinned(points_mm: Array, cell_mm: float) -> Array:
    """The far points, and one a cell."""
    cells = np.floor((points_mm - points_mm.min(axis=0)) / cell_mm)
    first = np.sort(np.unique(cells, axis=0, return_index=True)[1])
    return np.concatenate([far_points(points_mm), points_mm[first]])


def _nameable(corrects: Corrects, field: Field, aim: Aim, best: Chosen, least: int) -> Chosen:
    """Marks added until one bad mark can be named; none where that cannot be had."""
    found = best
    for _ in range(max(0, NAMING_MOST - (len(best.rows) - least)) + 1):
        if named(corrects, field.places_mm[list(found.rows)]).sure:
            return found
        more = with_one_more(field, aim, found.rows)
        if more is None or (field.alike and not field.holds(more.rows)):
            return best
        found = swapped(field, aim, more.rows)
    return best


def _paying(field: Field, aim: Aim, best: Chosen, least: int) -> Chosen:
    """Marks added while each lowers the greatest error enough."""
    while len(best.rows) < least + MORE_MOST:
        more = with_one_more(field, aim, best.rows)
        if more is None or (field.alike and not field.holds(more.rows)):
            return best
        more = swapped(field, aim, more.rows)
        before, after = np.sqrt(best.greatest), np.sqrt(more.greatest)
        if before - after < max(PAYS * before, PAYS_MM):
            return best
        best = more
    return best


def worth(
    corrects: Corrects,
    model: ErrorModel,
    about: Frameful,
    rows: Sequence[int],
    best: Sequence[int],
    start: Sequence[int],
) -> Worth:
    """How near the bound and the best found a set of marks is.

    best: the set that the exchange found, before frames were told apart.
    """
    field = about.field
    knots = joints(corrects, field, rows)
    design = design_of(corrects, field.places_mm, about.points_mm, knots)
    aim = noise_aim(design)
    here, total = judged(aim, rows), greatest_mm(model, about, rows)
    found = best_noise(field, design, len(rows), rows)
    level = here.greatest if found is None else found.bound
    return Worth(
        noise_bound=float(np.sqrt(level / 2)),
        noise_best=1.0 if found is None else found.near,
        noise_here=float(np.sqrt(level / here.greatest)),
        total=min(1.0, greatest_mm(model, about, best) / total),
        moved=len(set(start) - set(rows)),
        more=len(rows) - len(start),
        gain=1 - total / greatest_mm(model, about, start),
    )
