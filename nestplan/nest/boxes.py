"""Mixes of boxes: every outline as its bounding box, filled gap by gap in an order searched for.

rectpack's heuristics answer first (`first_boxes.py`); then orders are annealed
(`box_search.py`). Orders are not searched where boxes cannot win: on outlines far from boxes,
and on copies of one box, which have an order of their own in `columns.py`.
"""

from dataclasses import dataclass

from nestplan.geometry.same import SAME_MM
from nestplan.nest.bound import lower_bound
from nestplan.nest.box_search import EVALUATIONS_A_STEP, search
from nestplan.nest.engine import Budget, Tell, silent
from nestplan.nest.first_boxes import first_packed, orders
from nestplan.nest.grown_boxes import PER_MM, GrownBoxes, Packed, grown_boxes
from nestplan.nest.outlines import NEAR_RATIO
from nestplan.nest.placements import Layout
from nestplan.nest.task import Task

SHARE = 4  # the part of the budget boxes may use; the search over outlines needs the rest
FILLINGS = 6  # more copies than the share fills so often are left to others


@dataclass(frozen=True, slots=True, kw_only=True)
class Boxes:
    """The engine of boxes."""

    name: str = "boxes"

    def __call__(self, task: Task, budget: Budget, tell: Tell = silent) -> Layout | None:
        """The shortest layout the budget's share pays for.

        returns: None with obstacles, or for more copies than the share pays for.
        """
        if task.obstacles:
            return None
        boxes = grown_boxes(task)
        bound_mm = lower_bound(task).length_mm
        best = _packed(boxes, bound_mm, budget, tell)
        return None if best is None else boxes.layout(best, self.name)


def _packed(boxes: GrownBoxes, bound_mm: float, budget: Budget, tell: Tell) -> Packed | None:
    steps = budget.steps / SHARE
    workers = max(1, budget.workers)
    evaluations = int(steps * EVALUATIONS_A_STEP / workers)
    enough = max(boxes.least, int((bound_mm + SAME_MM) * PER_MM))
    hopeless = boxes.least > NEAR_RATIO * bound_mm * PER_MM
    searched = not hopeless and len(boxes.kinds) > 1
    searched &= FILLINGS * len(boxes.kind) ** 2 / 2 <= evaluations
    best: Packed | None = None

    def heard(packed: Packed) -> None:
        nonlocal best
        if best is None or packed.length < best.length:
            best = packed
            tell(best.length / PER_MM, 0.0)

    for packed in first_packed(boxes, budget, steps):
        if packed is not None:
            heard(packed)
    done = best is not None and best.length <= enough
    if done or not searched or budget.stopped():
        return best
    found = search(
        boxes,
        orders(boxes),
        enough=enough,
        evaluations=evaluations,
        seeds=[(budget.seed, number) for number in range(workers)],
        stopped=budget.stopped,
        heard=heard,
    )
    if found is not None:
        heard(found)
    return best
