"""How early the last job of a day can end at best, whatever the order.

A machine's work lies between the least head and the least tail of the jobs on it: the machine
bound, told for all jobs of a machine, for those with late heads and for those with long tails,
with the routes left open. Where each job has one route and two machines follow each other,
Johnson's order of the two gives another. Sources: Lageweg, Lenstra and Rinnooy Kan, Operations
Research 26 (1978) 53-67; Johnson, Naval Research Logistics Quarterly 1 (1954) 61-68.
"""

from dataclasses import dataclass
from itertools import combinations
from math import ceil

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp

from nestplan.shift.day import Day, Route, Task

NODES_MOST = 200  # of the whole-number programme: counted, so the bound is the same every time
LEVELS = 6  # heads and tails at which a machine's later or earlier work is looked at


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """What a route wants of one machine: not before, for how long, and so much after."""

    task: int
    column: int
    head_s: int
    load_s: int
    tail_s: int
    films: frozenset[str]


def end_bound(day: Day) -> int:
    """No schedule of the day ends earlier, s."""
    alone = max(earliest_end_s(day, k) for k in range(len(day.tasks)))
    return max(alone, _machines_bound(day), _pairs_bound(day))


def earliest_end_s(day: Day, task: int) -> int:
    """When a task could be done if the whole shop did nothing else from now on."""
    one = day.tasks[task]
    if one.begun_s:
        steps = one.routes[0].steps
        done = len(one.begun_s)
        at = one.begun_s[-1] + steps[done - 1].busy_s
        for k, step in enumerate(steps[done:]):
            at += step.wait_s
            at = max(at, day.now_s) if k == 0 else at
            at += step.busy_s
        return at
    ready = max(one.ready_s, day.now_s)
    return min(
        _first_film_s(day, one.routes[r].steps[0].machine, one.routes[r].steps[0].film, ready)
        + one.routes[r].alone_s
        for r in range(len(one.routes))
    )


def _first_film_s(day: Day, machine: int, film: str, ready: int) -> int:
    place = day.places[machine]
    if not place.change_s or place.mounted == film:
        return ready
    return max(ready, place.change_s)


def _visits(day: Day) -> tuple[list[list[Visit]], int]:
    """By machine; and how many routes there are in all."""
    visits: list[list[Visit]] = [[] for _ in day.places]
    column = 0
    for number, task in enumerate(day.tasks):
        for route in task.routes:
            for machine in {step.machine for step in route.steps}:
                visits[machine].append(_visit(day, number, task, route, column, machine))
            column += 1
    return visits, column


def _visit(day: Day, number: int, task: Task, route: Route, column: int, machine: int) -> Visit:
    starts = _earliest(day, task, route)
    on = [k for k, step in enumerate(route.steps) if step.machine == machine]
    last = route.steps[on[-1] + 1 :]
    return Visit(
        task=number,
        column=column,
        head_s=starts[on[0]],
        load_s=sum(route.steps[k].busy_s for k in on),
        tail_s=sum(step.wait_s + step.busy_s for step in last),
        films=frozenset(route.steps[k].film for k in on),
    )


def _earliest(day: Day, task: Task, route: Route) -> list[int]:
    """No earlier can each step of the route start."""
    starts: list[int] = []
    at = max(task.ready_s, day.now_s)
    for k, step in enumerate(route.steps):
        if k < len(task.begun_s):
            starts.append(task.begun_s[k])
            at = task.begun_s[k] + step.busy_s
            continue
        at += step.wait_s
        at = max(at, day.now_s)
        starts.append(at)
        at += step.busy_s
    return starts


def _machines_bound(day: Day) -> int:
    """By whole numbers: which route each task takes, so that the worst machine ends soonest.

    Columns: one a route, the end, and whether anything of each looked-at set is there.
    """
    visits, routes = _visits(day)
    rows: list[dict[int, float]] = []
    least: list[float] = []
    most: list[float] = []
    width = routes + 1

    def row(entries: dict[int, float], low: float, high: float) -> None:
        rows.append(entries)
        least.append(low)
        most.append(high)

    column = 0
    for task in day.tasks:
        row({column + k: 1.0 for k in range(len(task.routes))}, 1.0, 1.0)
        column += len(task.routes)
    for machine, all_of_it in enumerate(visits):
        change_s = day.places[machine].change_s
        for some, head_s, tail_s in _sets(all_of_it):
            there, width = width, width + 1
            entries = {routes: 1.0, there: -float(head_s + tail_s)}
            for visit in some:
                entries[visit.column] = -float(visit.load_s)
                row({there: 1.0, visit.column: -1.0}, 0.0, np.inf)
            if change_s and (head_s, tail_s) == _least(all_of_it):
                entries[there] += change_s  # the first film may be mounted before the head
                for film in sorted({film for visit in some for film in visit.films}):
                    entries[width] = -float(change_s)
                    for visit in some:
                        if film in visit.films:
                            row({width: 1.0, visit.column: -1.0}, 0.0, np.inf)
                    width += 1
            row(entries, 0.0, np.inf)
    if day.hands:
        row({routes: float(day.hands), **_hands(day)}, _first_hand(day), np.inf)
    matrix = np.zeros((len(rows), width))
    for k, entries in enumerate(rows):
        for at, value in entries.items():
            matrix[k, at] = value
    return _solved(matrix, np.array(least), np.array(most), routes)


def _hands(day: Day) -> dict[int, float]:
    """What each route takes of people's time that is still to come."""
    taken: dict[int, float] = {}
    column = 0
    for task in day.tasks:
        for route in task.routes:
            hands = sum(
                step.hands_s + (step.again_s or (0, 0))[1]
                for step in route.steps[len(task.begun_s) :]
            )
            taken[column] = -float(hands)
            column += 1
    return taken


def _first_hand(day: Day) -> float:
    return float(day.hands * day.now_s)


def _least(visits: list[Visit]) -> tuple[int, int]:
    return min(visit.head_s for visit in visits), min(visit.tail_s for visit in visits)


def _sets(visits: list[Visit]) -> list[tuple[list[Visit], int, int]]:
    """All of a machine, its later heads, its longer tails: each with its least head and tail."""
    if not visits:
        return []
    chosen: dict[tuple[int, ...], list[Visit]] = {}
    heads = _levels([visit.head_s for visit in visits])
    tails = _levels([visit.tail_s for visit in visits])
    for head_s in heads:
        for tail_s in tails:
            some = [v for v in visits if v.head_s >= head_s and v.tail_s >= tail_s]
            if some:
                chosen.setdefault(tuple(v.column for v in some), some)
    return [(some, *_least(some)) for some in chosen.values()]


def _levels(values: list[int]) -> list[int]:
    distinct = sorted(set(values))
    if len(distinct) <= LEVELS:
        return distinct
    picked = np.linspace(0, len(distinct) - 1, LEVELS).round().astype(int)
    return [distinct[k] for k in picked]


def _solved(
    matrix: NDArray[np.float64], least: NDArray[np.float64], most: NDArray[np.float64], routes: int
) -> int:
    width = matrix.shape[1]
    cost = np.zeros(width)
    cost[routes] = 1.0
    whole = np.ones(width)
    whole[routes] = 0
    high = np.ones(width)
    high[routes] = np.inf
    answer = milp(
        cost,
        constraints=LinearConstraint(matrix, least, most),
        integrality=whole,
        bounds=Bounds(np.zeros(width), high),
        options={"node_limit": NODES_MOST, "mip_rel_gap": 1e-4},
    )
    dual = answer.mip_dual_bound
    return 0 if dual is None or not np.isfinite(dual) else ceil(dual - 1e-3)


def _pairs_bound(day: Day) -> int:
    """Johnson's order on each pair of machines that every task visits one after the other."""
    if any(len(task.routes) > 1 for task in day.tasks):
        return 0
    best = 0
    visits, _ = _visits(day)
    for first, second in combinations(range(len(day.places)), 2):
        for one, other in ((first, second), (second, first)):
            best = max(best, _pair_bound(day, visits[one], visits[other]))
    return best


def _pair_bound(day: Day, one: list[Visit], other: list[Visit]) -> int:
    """Every task on both, the second strictly after the first; the time between is left out."""
    if len(one) != len(day.tasks) or len(other) != len(day.tasks):
        return 0
    if any(b.head_s < a.head_s + a.load_s for a, b in zip(one, other, strict=True)):
        return 0
    between = min(b.head_s - a.head_s - a.load_s for a, b in zip(one, other, strict=True))
    work = [(a.load_s, b.load_s) for a, b in zip(one, other, strict=True)]
    head_s = min(a.head_s for a in one)
    tail_s = min(b.tail_s for b in other)
    return head_s + johnson_end(work) + between + tail_s


def johnson_order(work: list[tuple[int, int]]) -> list[int]:
    """Johnson's rule: shorter first work first by rising first, the rest by falling second."""
    ahead = sorted((k for k, (a, b) in enumerate(work) if a < b), key=lambda k: work[k][0])
    rest = sorted((k for k, (a, b) in enumerate(work) if a >= b), key=lambda k: -work[k][1])
    return ahead + rest


def johnson_end(work: list[tuple[int, int]]) -> int:
    """The least last finish of two machines in a row."""
    first = second = 0
    for k in johnson_order(work):
        first += work[k][0]
        second = max(first, second) + work[k][1]
    return second
