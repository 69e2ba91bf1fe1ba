"""Large quantities of several shapes: a band for each, what is left over searched, all stacked.

Nothing here is larger than one band's pattern or the mix that is left over, so ten thousand
copies need no search over ten thousand pieces. Bands and mix are slid together until they
touch, in the order that makes the whole shortest.

Which copies go into bands depends on how well a mix of the rest would fill the film. That is
not known beforehand: several answers are assumed, each is tried with a short search, and the
best is searched on. The trials are as long for any budget, so more of it never misleads.
"""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from nestplan.nest.bands import band
from nestplan.nest.columns import Columns
from nestplan.nest.contact import rise_mm
from nestplan.nest.engine import Budget, Tell, silent
from nestplan.nest.order import shortest_order
from nestplan.nest.outlines import Outlines
from nestplan.nest.parts import Counts, in_whole, joined, part_of
from nestplan.nest.placements import Layout, Placements, settled
from nestplan.nest.task import Task

COPIES_LEAST = 150  # of fewer copies in all, the search makes one mix
FILLS = (0.84, 0.79, 0.74)  # of a searched mix, as measured on decals: good, fair, poor
TRIAL_STEPS = 1_500


class Blocks:
    """The engine of bands."""

    name = "blocks"

    def __call__(self, task: Task, budget: Budget, tell: Tell = silent) -> Layout | None:
        """Bands and the rest stacked; None for one shape, few copies, obstacles, or no band."""
        if len(task.shapes) < 2 or task.obstacles or task.copies < COPIES_LEAST:
            return None
        best: Layout | None = None
        chosen: _Choice | None = None
        for choice in _choices(task, budget):
            layout = _laid(task, choice, replace(budget, steps=TRIAL_STEPS))
            if best is None or layout.length_mm < best.length_mm:
                best, chosen = layout, choice
                tell(best.length_mm, 0.0)
            if budget.stopped():
                return best
        if chosen is None or not any(chosen.left) or budget.steps <= TRIAL_STEPS:
            return best
        layout = _laid(task, chosen, budget)
        return layout if best is None or layout.length_mm < best.length_mm else best


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Choice:
    """Bands, and how many copies of each shape are in none."""

    bands: tuple[Placements, ...]
    left: Counts


def _choices(task: Task, budget: Budget) -> list[_Choice]:
    """The distinct choices of bands, those with the fewest copies in bands first."""
    chosen: dict[Counts, _Choice] = {}
    for fill in FILLS:
        found = [band(task, index, fill, budget) for index in range(len(task.shapes))]
        bands = tuple(placements for placements in found if placements is not None)
        held = [0 if placements is None else len(placements) for placements in found]
        left = tuple(s.copies - many for s, many in zip(task.shapes, held, strict=True))
        if bands:
            chosen.setdefault(left, _Choice(bands=bands, left=left))
    return list(chosen.values())


def _laid(task: Task, choice: _Choice, budget: Budget) -> Layout:
    """Bands and the searched rest, stacked."""
    parts = list(choice.bands)
    if any(choice.left):
        rest = part_of(task, choice.left, None)
        found = Outlines()(rest, budget) or Columns()(rest, budget)
        assert found is not None, "each shape fits the film: it has been refused, or has a band"
        parts.append(in_whole(choice.left, found.placements))
    return settled(task, stacked(task, parts), Blocks.name)


def stacked(task: Task, parts: list[Placements]) -> Placements:
    """Layouts one upon the other, as near as they may come, in the shortest order."""
    rises = np.array([[rise_mm(task, below, above) for above in parts] for below in parts])
    laid = [parts[index] for index in shortest_order(rises)]
    raised, up_mm = [laid[0]], 0.0
    for below, above in pairwise(laid):
        up_mm += rise_mm(task, below, above)
        raised.append(above.moved(0.0, up_mm))
    return joined(raised)
