"""At which angles copies of a shape that may lie at any angle pack the plane densest.

A lattice is as dense at one angle as at another; what the angle decides is whether its files
run straight across the film. So for each angle the densest lattice is looked for that has
one of its files across: copies of one turn, or of that and the half-turn, which is every
lattice with one copy or two to a cell. The densest of a scan are improved, angle and all.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from nestplan.nest.engine import never
from nestplan.nest.file_plan import OFFSETS, SHIFTS, Plan, improved
from nestplan.nest.files_of_one import Files
from nestplan.nest.pieces import pieces_of
from nestplan.nest.task import Task

SCAN_DEG = 3.0
KEPT = 3  # angles, the densest of their neighbourhoods
EXACT = 4  # lattices of an angle measured exactly
NEAR_DEG = 0.2  # angles nearer than this after improvement count as one
STEP_MM = 0.01  # down to which lattices are improved
ORDERS = (12, 10, 9, 8, 7, 6, 5, 4, 3, 2)  # turns that may map a shape on itself


def densest_lattices(task: Task, stopped: Callable[[], bool] = never) -> list[tuple[Plan, float]]:
    """The densest lattices of a task's one shape at any angle: (plan, mm2 a copy), best first.

    stopped: True ends the work with what is known, perhaps nothing.
    """
    files = _upright_once(task)
    if files is None:
        return []
    period_deg = _period_deg(files)
    coarse = []
    for turn_deg in np.arange(0.0, period_deg, SCAN_DEG).tolist():
        if stopped():
            return []
        coarse.append(_densest(files.turned_by(turn_deg)))
    areas = np.array([area for _, area in coarse])
    peaks = (areas <= np.roll(areas, 1)) & (areas <= np.roll(areas, -1))
    order = sorted(np.flatnonzero(peaks).tolist(), key=lambda k: areas[k])[:KEPT]
    fine = [
        improved(coarse[k][0], exact_area_mm2, least_step_mm=STEP_MM, turns=True, stopped=stopped)
        for k in order
    ]
    kept: list[tuple[Plan, float]] = []
    for plan, area in sorted(fine, key=_area_of):
        angle = _angle_deg(plan)
        others = [_angle_deg(other) for other, _ in kept]
        if all(abs((angle - o + 90.0) % 180.0 - 90.0) > NEAR_DEG for o in others):
            kept.append((plan, area))
    return kept


def exact_area_mm2(plan: Plan) -> float:
    """Film that the endless pattern takes for each copy."""
    pair, rises = plan.pair, plan.rises_mm()
    if pair is None or rises is None:
        return float("inf")
    return float(rises.sum()) * pair[0].pitch_mm / (2 * len(pair[0].pieces))


def _area_of(found: tuple[Plan, float]) -> float:
    return found[1]


def _angle_deg(plan: Plan) -> float:
    return plan.files.pieces.variants[0].angle_deg


def _upright_once(task: Task) -> Files | None:
    """Files across of the shape and its half-turn, at the first angle that fits the film."""
    shape = task.shapes[0]
    for angle_deg in shape.angles_deg:
        both = (angle_deg, (angle_deg + 180.0) % 360.0)
        pieces = pieces_of(replace(task, shapes=(replace(shape, angles_deg=both),)))
        if pieces is not None:
            return Files(pieces, upright=False)
    return None


def _period_deg(files: Files) -> float:
    """How far a shape turns until it, or its half-turn, covers the same again."""
    for order in ORDERS:
        at = files.pieces.variants[0].angle_deg + 360.0 / order
        if files.pieces.variant_at(0, at % 360.0) == 0:
            return 360.0 / order if order % 2 == 0 else 180.0 / order
    return 180.0


def _densest(files: Files) -> tuple[Plan, float]:
    """The densest lattice of a grid, (plan, mm2 a copy).

    Tables know only the next two files, so the best of them are measured exactly.
    """
    hopeful = sorted(_lattices(files), key=_area_of)[:EXACT]
    return min(((plan, exact_area_mm2(plan)) for plan, _ in hopeful), key=_area_of)


def _lattices(files: Files) -> Iterator[tuple[Plan, float]]:
    """Lattices with a file of least pitch along u, on a grid: (plan, mm2 a copy by tables)."""
    reach_mm = files.reach_mm(0)
    pairs: list[tuple[int | None, float]] = [(None, 0.0)]
    half = files.half[0]
    if half not in (None, 0):
        pairs += [(half, o) for o in np.linspace(-reach_mm, reach_mm, OFFSETS + 1)[1:-1].tolist()]
    numbers = np.arange(SHIFTS)
    for (other, offset_mm), turned in (
        (pair, turned) for pair in pairs for turned in (False, True)
    ):
        plan = Plan(
            files=files, one=0, other=other, offset_mm=offset_mm, turned=turned, drifts=True
        )
        if plan.pair is None:
            continue
        one, two = plan.pair
        shift = np.linspace(0.0, one.pitch_mm, SHIFTS, endpoint=False)
        up = files.slide(one, two, shift, exact=False)
        home = files.slide(two, one, shift, exact=False)
        twice = files.slide(one, one, shift, exact=False)
        rises = np.maximum(
            up[:, np.newaxis] + home, twice[(numbers[:, np.newaxis] + numbers) % SHIFTS]
        )
        if not turned:  # files all alike follow each other alike
            rises = np.where(np.eye(SHIFTS, dtype=bool), rises, np.inf)
        first, second = np.unravel_index(int(rises.argmin()), rises.shape)
        found = replace(plan, shift_mm=float(shift[first]), back_mm=float(shift[second]))
        yield found, float(rises.min()) * one.pitch_mm / (2 * len(one.pieces))
