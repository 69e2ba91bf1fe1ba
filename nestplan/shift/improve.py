"""A good order of the day, by search: the same day, seed and evaluations give the same order."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from nestplan.shift.arrays import Arrays, Ints, arrays_of
from nestplan.shift.day import Day, Worth
from nestplan.shift.kernel import room, search, timetable

PULLED = 4  # tasks taken out at a time: Ruiz and Stützle 2007 found 4 good for flow shops
PULLED_OPEN = 2  # where a task may go several ways: 0.6 % earlier on one day of sixty
HEAT_SHARE = 0.4 / 10  # of the mean busy time of a step: theirs too


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """Tasks in order, the route of each, when each step starts, and what that is worth."""

    order: Ints
    route: Ints
    start_s: Ints
    worth: Worth


def improve(day: Day, *, evaluations: int, seed: int) -> Found:
    """Start from the better of two simple orders, long work first or early due first."""
    arrays = arrays_of(day)
    found = min(
        (_timed(arrays, order, route) for order, route in _first_orders(day, arrays)),
        key=lambda each: each.worth,
    )
    order, route = found.order.copy(), found.route.copy()
    heat = max(1.0, HEAT_SHARE * float(arrays.step[:, 3].mean()))
    routes = arrays.route_counts()
    pulled = PULLED if routes.max() == 1 else PULLED_OPEN
    search(order, route, routes, evaluations, seed, pulled, heat, *_figures(arrays))
    return _timed(arrays, order, route)


def timed(day: Day, order: Ints, route: Ints) -> Found:
    """The timetable of one order."""
    return _timed(arrays_of(day), order, route)


def _first_orders(day: Day, arrays: Arrays) -> list[tuple[Ints, Ints]]:
    alone = np.array([min(route.alone_s for route in task.routes) for task in day.tasks])
    quickest = np.array(
        [np.argmin([route.alone_s for route in task.routes]) for task in day.tasks], dtype=np.int64
    )
    spread = np.arange(arrays.tasks, dtype=np.int64) % arrays.route_counts()
    orders = [
        np.argsort(-alone, kind="stable"),
        np.lexsort((-alone, arrays.due_s)),
        np.argsort(arrays.due_s - alone, kind="stable"),
    ]
    return [(order.astype(np.int64), route) for order in orders for route in (quickest, spread)]


def _timed(arrays: Arrays, order: Ints, route: Ints) -> Found:
    start, worth, *space = room(arrays.tasks, arrays.begun.shape[1], len(arrays.change_s))
    given = (order, route, *_figures(arrays), start, worth, *space)
    timetable(*given)
    late, late_s, end_s, changes = (int(value) for value in worth)
    return Found(
        order=order,
        route=route,
        start_s=start,
        worth=Worth(late=late, late_s=late_s, end_s=end_s, changes=changes),
    )


def _figures(arrays: Arrays) -> tuple[Any, ...]:
    return (
        arrays.step,
        arrays.first_step,
        arrays.first_route,
        arrays.due_s,
        arrays.ready_s,
        arrays.begun,
        arrays.change_s,
        arrays.mounted,
        arrays.hands,
        arrays.now_s,
    )
