"""The one interface all nesting engines share, and the budget they search within."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from nestplan.nest.placements import Layout
from nestplan.nest.task import Task

Tell = Callable[[float, float], None]  # (length so far in mm, share of the budget used 0..1)


def silent(length_mm: float, share: float) -> None:
    """Tell nobody."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """What a person waiting would like to know: one strip's best length, its bound, the budget.

    share: used part of this strip's budget, 0 to 1.
    """

    length_mm: float
    bound_mm: float
    share: float


Watch = Callable[[Progress], None]


def unwatched(progress: Progress) -> None:
    """Nobody is waiting."""


def never() -> bool:
    """Nobody asks to stop."""
    return False


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """How long an engine may search.

    steps:   counted work; a step is 1000 evaluations of the cost of one place. The
             same seed, steps and workers give the same layout on a busy machine too.
    haste:   for a price: engines that rarely win are left out, and large quantities are not
             searched.
    stopped: asked often; True ends the search with the best so far (Ctrl-C, --seconds).
    """

    steps: int
    seed: int
    workers: int = 2
    stopped: Callable[[], bool] = never
    haste: bool = False


class Engine(Protocol):
    """A way of nesting. Pure: the same task and budget give the same layout."""

    @property
    def name(self) -> str:
        """What the summary calls it."""
        ...

    def __call__(self, task: Task, budget: Budget, tell: Tell = silent) -> Layout | None:
        """The shortest layout found, or None where this engine has no answer to the task."""
        ...
