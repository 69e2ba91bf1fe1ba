"""Which engine wins one strip: every answer is verified, the shortest is kept.

The quick engines answer first, so that there is a layout to hand back at any moment. The
search over outlines starts from the best of them where that is near the bound already, and
from a layout of its own where it is not: boxes round burgees are no place to begin.

A larger budget never gives a longer layout. Each engine keeps to that by itself; the race
keeps to it because what the search starts from is found with steps of their own, the same
for every budget, and because whatever an engine reached on the way is kept.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace

from nestplan.nest.blocks import Blocks
from nestplan.nest.bound import lower_bound
from nestplan.nest.boxes import Boxes
from nestplan.nest.columns import Columns
from nestplan.nest.discs import Discs
from nestplan.nest.engine import Budget, Engine, Progress, Watch, unwatched
from nestplan.nest.outlines import NEAR_RATIO, PIECES_MOST_WARM, Outlines
from nestplan.nest.patterns import Patterns
from nestplan.nest.placements import Layout
from nestplan.nest.task import Task
from nestplan.nest.verify import verify

START_STEPS = 4_000  # of the engines that find what the search starts from
HASTE_STEPS = 200
ALL_OF_ITS_BOX = 0.97
HALF_EMPTY = 0.75
SEARCHED_IN_HASTE = 400  # pieces of a frame
PROVEN_MM = 1e-6  # a layout this near its bound cannot be shortened


KEPT_MOST = 200  # races in haste

_kept: dict[tuple[Hashable, int, int, int], "Race"] = {}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Race:
    """The shortest verified layout of a strip, and the length each engine reached.

    refused: engines whose answer broke a rule; a defect of ours, and never the plan's.
    """

    best: Layout
    reached_mm: dict[str, float | None]
    refused: tuple[str, ...]


def race(task: Task, budget: Budget, watch: Watch = unwatched) -> Race:
    """Run every engine within the budget and keep the shortest answer the verifier passes."""
    if budget.haste:
        return _in_haste(task, budget, watch)
    field = _Field(task, watch, lower_bound(task).length_mm)
    _run_quick(field, budget)
    quick = field.best
    if field.open:
        field.run(Boxes(), budget)
    if field.open and task.copies > PIECES_MOST_WARM:
        field.run(Blocks(), budget)
    elif field.open:
        field.run(Outlines(start=_start(task, quick, budget)), budget)
    return field.result()


def _in_haste(task: Task, budget: Budget, watch: Watch) -> Race:
    """A race for a price; its result is kept, for other quantities often have equal frames."""
    asked = task.key, budget.steps, budget.seed, budget.workers
    if asked in _kept:
        return _kept[asked]
    field = _Field(task, watch, 0.0)
    _run_in_haste(field, task, budget)
    raced = field.result()
    if not budget.stopped():
        if len(_kept) >= KEPT_MOST:
            _kept.clear()
        _kept[asked] = raced
    return raced


def _run_quick(field: "_Field", budget: Budget) -> None:
    """The engines that answer soon, with steps of their own."""
    quick: Sequence[Engine] = (Columns(), Boxes(), Patterns(), Discs(), Blocks())
    for engine in quick:
        field.run(engine, replace(budget, steps=START_STEPS))


def _run_in_haste(field: "_Field", task: Task, budget: Budget) -> None:
    """One engine that suits the task beside the quickest.

    A shape that fills its box lies in columns: no pattern lays it closer than boxes. Where boxes
    are nearly half empty, a search over outlines has always won.
    """
    field.run(Columns(), budget)
    if len(task.shapes) == 1 and not task.obstacles:
        if _box_share(task) < ALL_OF_ITS_BOX:
            field.run(Patterns(), budget)
            field.run(Discs(), replace(budget, steps=HASTE_STEPS))
        return
    if _box_share(task) > HALF_EMPTY or task.copies > SEARCHED_IN_HASTE:
        field.run(Boxes(), replace(budget, steps=HASTE_STEPS))
    if field.open and task.copies > SEARCHED_IN_HASTE:
        field.run(Blocks(), budget)
    elif field.open:
        field.run(Outlines(), budget)


def _box_share(task: Task) -> float:
    """The share of their boxes that all copies cover."""
    outlines = [(shape.outline, shape.copies) for shape in task.shapes]
    covered = sum(copies * outline.area_mm2 for outline, copies in outlines)
    return covered / sum(copies * o.width_mm * o.height_mm for o, copies in outlines)


def _start(task: Task, layout: Layout | None, budget: Budget) -> Layout | None:
    """What the search begins with, given the quick engines' best; None: a layout of its own.

    Engines that know nothing of obstacles answer as if there were none; the search pushes
    what overlaps apart. Of equal copies it weighs the pattern against its own.
    """
    if task.obstacles:
        free_task = replace(task, obstacles=())
        free = _Field(free_task, unwatched, lower_bound(free_task).length_mm)
        _run_quick(free, budget)
        layout = free.best
    if layout is None or len(task.shapes) == 1 or layout.engine == Blocks.name:
        return layout
    return layout if layout.length_mm <= NEAR_RATIO * lower_bound(task).length_mm else None


class _Field:
    """The engines that have run on a strip so far, and the shortest verified answer.

    bound_mm: no layout is shorter; 0 where finding it would take longer than it saves.
    """

    def __init__(self, task: Task, watch: Watch, bound_mm: float) -> None:
        self._task, self._watch = task, watch
        self._bound_mm = bound_mm
        self._reached_mm: dict[str, float | None] = {}
        self._refused: dict[str, None] = {}
        self.best: Layout | None = None

    @property
    def open(self) -> bool:
        """Whether a shorter layout is possible."""
        return self.best is None or self.best.length_mm > self._bound_mm + PROVEN_MM

    def run(self, engine: Engine, budget: Budget) -> None:
        """Let an engine run, and keep its answer where it is legal and the shortest."""
        layout = engine(self._task, budget, self._tell)
        reached_mm = self._reached_mm.setdefault(engine.name, None)
        if layout is None:
            return
        if layout is not self.best and verify(self._task, layout):
            self._refused[engine.name] = None
            return
        if reached_mm is None or layout.length_mm < reached_mm:
            self._reached_mm[engine.name] = layout.length_mm
        if self.best is None or layout.length_mm < self.best.length_mm - PROVEN_MM:
            self.best = replace(layout, engine=engine.name)
            self._tell(layout.length_mm, 0.0)

    def result(self) -> Race:
        """The end of the race."""
        assert self.best is not None, "columns answer every task that passed the refusals"
        refused = tuple(self._refused)
        return Race(best=self.best, reached_mm=self._reached_mm, refused=refused)

    def _tell(self, length_mm: float, share: float) -> None:
        shortest_mm = length_mm if self.best is None else min(length_mm, self.best.length_mm)
        self._watch(Progress(length_mm=shortest_mm, bound_mm=self._bound_mm, share=share))
