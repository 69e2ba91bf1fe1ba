"""A day as arrays, for the kernel: rows of steps by route, routes by task."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestplan.shift.day import Day, Route

Ints = NDArray[np.int64]
COLUMNS = 7  # machine, wait, hands, busy, again after, again long, film
NO_DUE = np.iinfo(np.int64).max // 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Arrays:
    """step: (steps, COLUMNS). first_step: where each route's steps begin, one more at the end.

    first_route: where each task's routes begin, one more at the end. begun: (tasks, most
    steps) starts that are fixed, -1 elsewhere. mounted, change_s: by machine.
    """

    step: Ints
    first_step: Ints
    first_route: Ints
    due_s: Ints
    ready_s: Ints
    begun: Ints
    change_s: Ints
    mounted: Ints
    hands: int
    now_s: int

    @property
    def tasks(self) -> int:
        """How many."""
        return len(self.due_s)

    def route_counts(self) -> Ints:
        """How many routes each task has."""
        return np.diff(self.first_route)


def arrays_of(day: Day) -> Arrays:
    """The day's figures; films become numbers, 0 for none."""
    films: dict[str, int] = {"": 0}
    routes = [route for task in day.tasks for route in task.routes]
    rows = [row for route in routes for row in _rows(route, films)]
    most = max(len(route.steps) for route in routes)
    begun = np.full((len(day.tasks), most), -1, dtype=np.int64)
    for k, task in enumerate(day.tasks):
        begun[k, : len(task.begun_s)] = task.begun_s
    return Arrays(
        step=np.array(rows, dtype=np.int64).reshape(-1, COLUMNS),
        first_step=_sums([len(route.steps) for route in routes]),
        first_route=_sums([len(task.routes) for task in day.tasks]),
        due_s=np.array(
            [NO_DUE if task.due_s is None else task.due_s for task in day.tasks], dtype=np.int64
        ),
        ready_s=np.array([max(task.ready_s, day.now_s) for task in day.tasks], dtype=np.int64),
        begun=begun,
        change_s=np.array([place.change_s for place in day.places], dtype=np.int64),
        mounted=np.array(
            [films.setdefault(place.mounted, len(films)) for place in day.places], dtype=np.int64
        ),
        hands=day.hands,
        now_s=day.now_s,
    )


def _rows(route: Route, films: dict[str, int]) -> list[tuple[int, ...]]:
    rows: list[tuple[int, ...]] = []
    for step in route.steps:
        after, long = step.again_s or (0, 0)
        film = films.setdefault(step.film, len(films))
        rows.append((step.machine, step.wait_s, step.hands_s, step.busy_s, after, long, film))
    return rows


def _sums(counts: list[int]) -> Ints:
    return np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
