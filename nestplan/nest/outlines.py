"""The search over outlines: any shapes, holes used, obstacles kept clear, both cores.

This is the engine's door only; what it needs of numba is fetched when it is asked, so that
the command line starts at once.
"""

from dataclasses import replace

import numpy as np

from nestplan.nest.engine import Budget, Tell, silent
from nestplan.nest.placements import Layout, extent_mm, settled
from nestplan.nest.task import Shape, Task

PIECES_MOST = 1500  # beyond, a search over single pieces gains nothing in a person's time
PIECES_MOST_WARM = 2500  # a given layout can still be squeezed
NEAR_RATIO = 1.12  # times the bound: from scratch the search ends within it on most mixes
ANGLES_MOST = 8  # of a given layout's own, beside those listed: each needs fields of its own


class Outlines:
    """Guided overlap search from a first layout of its own or from a given one.

    start: any layout of the same task's copies. Where it is legal the answer is never longer;
    where it overlaps, it is pushed apart or left.
    """

    name = "outlines"

    def __init__(self, start: Layout | None = None) -> None:
        self.start = start

    def __call__(self, task: Task, budget: Budget, tell: Tell = silent) -> Layout | None:
        """The shortest layout found; None for more pieces than a search can help."""
        if task.copies > (PIECES_MOST if self.start is None else PIECES_MOST_WARM):
            return self.start

        from nestplan.nest.pieces import pieces_of
        from nestplan.nest.team import Team

        asked = task if self.start is None else _with_angles_of(self.start, task)
        pieces = pieces_of(asked, haste=budget.haste)
        if pieces is None:
            return self.start
        given = pieces.places(self.start.placements) if self.start is not None else None
        team = Team(pieces, budget, tell)
        found = team.search(given)
        placements = pieces.placements(found.places)
        if task.obstacles:  # they hold the strip's start in place
            length_mm = extent_mm(task, placements)[3]
            layout = Layout(placements=placements, length_mm=length_mm, engine=self.name)
        else:
            layout = settled(task, placements, self.name)
        if self.start is not None and team.given_is_legal:
            return min(self.start, layout, key=lambda one: one.length_mm)
        return layout


def _with_angles_of(start: Layout, task: Task) -> Task:
    """The task with the angles listed at which a layout has shapes that may lie at any."""

    def listed(index: int, shape: Shape) -> Shape:
        rows = start.placements.shape == index
        used = np.unique(start.placements.angle_deg[rows]).tolist()
        more = [angle_deg for angle_deg in used if angle_deg not in shape.angles_deg]
        if not shape.any_angle or len(more) > ANGLES_MOST:
            return shape
        return replace(shape, angles_deg=tuple(sorted((*shape.angles_deg, *more))))

    return replace(task, shapes=tuple(listed(i, shape) for i, shape in enumerate(task.shapes)))
