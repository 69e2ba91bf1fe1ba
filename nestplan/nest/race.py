"""Which engine wins one strip: every answer is verified, the shortest is kept.

The quick engines answer first, so that there is a layout to hand back at any moment. The
search over outlines starts from the best of them where that is near the bound already, and
from a layout of its own where it is not: boxes round burgees are no place to begin.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from nestplan.nest.bound import lower_bound
from nestplan.nest.boxes import Boxes
from nestplan.nest.columns import Columns
from nestplan.nest.engine import Budget, Engine, Progress, Watch, unwatched
from nestplan.nest.outlines import Outlines
from nestplan.nest.patterns import Patterns
from nestplan.nest.placements import Layout
from nestplan.nest.task import Task
from nestplan.nest.verify import verify

WARM_RATIO = 1.12  # from scratch the search ends within this of the bound on most mixes
PROVEN_MM = 1e-6  # a layout this near its bound cannot be shortened


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Race:
    """The shortest verified layout of a strip, and the length each engine reached.

    refused: engines whose answer broke a rule; a defect of ours, and never the plan's.
    """

    best: Layout
    reached_mm: dict[str, float | None]
    refused: tuple[str, ...]


def race(task: Task, budget: Budget, watch: Watch = unwatched) -> Race:
    """Run every engine within the budget and keep the shortest answer the verifier passes.

    A search that starts from another engine's answer is named for both when it shortens it.
    """
    quick: Sequence[Engine] = (Columns(), Boxes(), Patterns())
    reached: dict[str, float | None] = {}
    refused: list[str] = []
    best: Layout | None = None
    bound_mm = lower_bound(task).length_mm

    def tell(length_mm: float, share: float) -> None:
        shortest_mm = length_mm if best is None else min(length_mm, best.length_mm)
        watch(Progress(length_mm=shortest_mm, bound_mm=bound_mm, share=share))

    for engine in quick:
        best = _better(task, engine(task, budget, tell), engine.name, best, reached, refused)
        if best is not None:
            tell(best.length_mm, 0.0)
    if best is None or best.length_mm > bound_mm + PROVEN_MM:
        near = best is not None and best.length_mm <= WARM_RATIO * bound_mm
        alike = len(task.shapes) == 1  # then the search weighs the pattern against its own
        search = Outlines(start=best if near or alike else None)
        best = _better(task, search(task, budget, tell), search.name, best, reached, refused)
    assert best is not None, "columns answer every task that passed the refusals"
    return Race(best=best, reached_mm=reached, refused=tuple(refused))


def _better(
    task: Task,
    layout: Layout | None,
    engine: str,
    best: Layout | None,
    reached: dict[str, float | None],
    refused: list[str],
) -> Layout | None:
    """Note what the engine reached, and return the shorter of its answer and the best so far."""
    reached[engine] = None
    if layout is None:
        return best
    if verify(task, layout):
        refused.append(engine)
        return best
    reached[engine] = layout.length_mm
    if best is not None and layout.length_mm >= best.length_mm - PROVEN_MM:
        return best
    return replace(layout, engine=engine)
