"""Orders of work against published examples, against exhaustive search and against themselves."""

import json
from dataclasses import replace
from itertools import permutations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.shift import Day, Place, Route, Step, Task, solve
from nestplan.shift.bound import end_bound, johnson_end, johnson_order
from nestplan.shift.improve import improve
from nestplan.shift.prove import worth_of
from nestplan.shift.verify import wrong
from tests.open_data import open_data
from tests.shift.days import five_machines, in_a_row, side_by_side

QUICK = {"evaluations": 3000, "effort": 2.0}
JOHNSON = [(4, 5), (4, 1), (30, 4), (6, 30), (2, 3)]
PRINTS, CUTS = (18, 7, 25, 12, 30, 9), (12, 15, 20, 6, 22, 16)


def test_johnsons_own_example():
    """Johnson 1954, Naval Research Logistics Quarterly 1, 61-68: order 5, 1, 4, 3, 2 takes 47."""
    found = solve(in_a_row([list(each) for each in zip(*JOHNSON, strict=True)]), **QUICK)

    assert [k + 1 for k in johnson_order(JOHNSON)] == [5, 1, 4, 3, 2]
    assert found.worth.end_s == found.bound.end_s == johnson_end(JOHNSON) == 47
    assert found.proven == 4


def test_six_prints_and_their_cuts():
    """Minutes; worked out by trying all 720 orders: 109."""
    assert solve(in_a_row([PRINTS, CUTS]), **QUICK).worth.end_s == 109


def test_prints_that_dry_are_overtaken():
    """Waits of 10 to 45 minutes: 146 in the best fixed order (Mitten, Management Science 5,
    1959), 133 where the cutter may take them in another order (exhaustive)."""
    found = solve(in_a_row([PRINTS, CUTS], waits=(10, 10, 45, 10, 10, 45)), **QUICK)

    assert found.worth.end_s == 133
    assert found.proven == 4


@pytest.mark.parametrize(
    ("work", "machines", "least"),
    [((7, 7, 6, 6, 5, 5, 4, 4, 4), 4, 12), ((5, 5, 4, 4, 3, 3, 3), 3, 9)],
)
def test_equal_machines_share_the_work(work, machines, least):
    """Graham 1969, SIAM Journal on Applied Mathematics 17, 416-429: longest first ends later."""
    found = solve(side_by_side(work, machines), **QUICK)

    assert (found.worth.end_s, found.bound.end_s) == (least, least)


def test_fewest_late_on_one_machine():
    """Moore 1968, Management Science 15, 102-109: two of these six must be late."""
    day = in_a_row([(6, 4, 7, 8, 3, 5)], due=(8, 9, 15, 20, 21, 22))
    found = solve(day, **QUICK)

    assert (found.worth.late, found.bound.late) == (2, 2)


def test_the_benchmark_of_flow_shops_is_met():
    """Taillard 1993, EJOR 64, 278-285: 20 jobs on five machines, optimum known."""
    path = open_data("flowshop") / "ta001_ta010.json"
    each = json.loads(path.read_text())["instances"][0]
    day = in_a_row(each["p"])
    found = improve(day, evaluations=20_000, seed=1).worth.end_s

    assert each["optimal_makespan"] <= found <= 1.02 * each["optimal_makespan"]
    assert each["optimal_makespan"] >= end_bound(day)


def every_end(day):
    """The least last finish by trying all routes and all orders on every machine."""
    best = None
    for route in product(*(range(len(task.routes)) for task in day.tasks)):
        steps = [day.tasks[j].routes[r].steps for j, r in enumerate(route)]
        on = [
            [
                (j, k)
                for j, row in enumerate(steps)
                for k, step in enumerate(row)
                if step.machine == m
            ]
            for m in range(len(day.places))
        ]
        for orders in product(*(permutations(stays) for stays in on)):
            end = _end_of(day, steps, orders)
            if end is not None and (best is None or end < best):
                best = end
    return best


def _end_of(day, steps, orders):
    """Start every step as soon as its machine's order and its job let it; None when it hangs."""
    done, position = {}, [0] * len(orders)
    free = [0] * len(orders)
    film = [place.mounted for place in day.places]
    left = sum(len(row) for row in steps)
    while left:
        moved = False
        for m, order in enumerate(orders):
            while position[m] < len(order):
                j, k = order[position[m]]
                if k and (j, k - 1) not in done:
                    break
                step = steps[j][k]
                ready = (done[j, k - 1] if k else 0) + step.wait_s
                gap = day.places[m].change_s if step.film != film[m] else 0
                start = max(ready, free[m] + gap)
                done[j, k] = free[m] = start + step.busy_s
                film[m] = step.film
                position[m] += 1
                left -= 1
                moved = True
        if not moved:
            return None
    return max(done.values())


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10_000))
def test_small_days_are_solved_to_the_optimum(seed):
    """Three jobs, two ways each, two films, a wait: all timetables tried."""
    draw = np.random.default_rng(seed)
    tasks = []
    for j in range(3):
        film = "ab"[draw.integers(2)]
        print_s, wait_s, cut_s = (int(draw.integers(1, 20)) for _ in range(3))
        routes = tuple(
            Route(
                setup=f"{m}",
                steps=(
                    Step(machine=m, does="print", work_s=print_s + m, film=film),
                    Step(machine=2, does="cut", wait_s=wait_s, work_s=cut_s),
                ),
            )
            for m in (0, 1)
        )
        tasks.append(Task(name=f"{j}", routes=routes))
    places = (
        Place(name="0", change_s=5, mounted="a"),
        Place(name="1", change_s=5, mounted="b"),
        Place(name="2"),
    )
    day = Day(places=places, tasks=tuple(tasks))

    found = solve(day, evaluations=500, effort=2.0)

    assert found.worth.end_s == every_end(day)
    assert found.bound.end_s == found.worth.end_s


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 10_000), st.integers(1, 4), st.integers(2, 9))
def test_every_timetable_can_be_done_and_keeps_its_bound(seed, hands, jobs):
    day = five_machines(jobs, seed, due=True, hands=hands)
    found = solve(day, evaluations=300, effort=0.2, seed=seed)

    assert wrong(found) == []
    assert found.worth == worth_of(day, found.route, found.start_s)
    assert found.bound <= found.worth
    assert end_bound(day) <= found.worth.end_s


def test_the_verifier_sees_what_cannot_be():
    day = five_machines(6, 3, hands=1)
    good = solve(day, evaluations=300, effort=0.1)
    for task in range(len(day.tasks)):
        starts = list(good.start_s)
        starts[task] = (starts[task][0], starts[task][0], *starts[task][2:])
        assert wrong(replace(good, start_s=tuple(starts)))
    together = tuple((0,) * len(each) for each in good.start_s)
    words = wrong(replace(good, start_s=together))

    assert any("hands" in word for word in words)
    assert any("too soon" in word for word in words)


def test_one_person_cannot_be_at_two_machines():
    """Two jobs with 10 s of hands and 1 s of work on machines of their own: 10 + 10 + 1."""
    tasks = tuple(
        Task(
            name=f"{m}",
            routes=(Route(setup="x", steps=(Step(machine=m, does="cut", hands_s=10, work_s=1),)),),
        )
        for m in (0, 1)
    )
    places = (Place(name="0"), Place(name="1"))

    assert solve(Day(places=places, tasks=tasks, hands=2), **QUICK).worth.end_s == 11
    assert solve(Day(places=places, tasks=tasks, hands=1), **QUICK).worth.end_s == 21


def test_what_has_begun_stays_where_it_is():
    day = five_machines(4, 1)
    first = solve(day, evaluations=300, effort=0.2)
    began = [k for k in range(4) if first.start_s[k][0] < 2000]
    tasks = tuple(
        replace(
            task,
            routes=(task.routes[first.route[k]],),
            begun_s=tuple(s for s in first.start_s[k] if s < 2000),
        )
        if k in began
        else task
        for k, task in enumerate(day.tasks)
    )
    later = solve(replace(day, tasks=tasks, now_s=2000), evaluations=300, effort=0.2)

    assert wrong(later) == []
    assert all(later.start_s[k][0] == first.start_s[k][0] for k in began)


def test_a_film_is_not_mounted_in_the_past_of_a_running_day():
    """It is 1000 s; the machine has stood still since 200 s with another film on it."""
    steps = [Step(machine=0, does="print", work_s=200, film=film) for film in "ab"]
    tasks = tuple(
        Task(name=step.film, routes=(Route(setup="x", steps=(step,)),), begun_s=begun)
        for step, begun in zip(steps, ((0,), ()), strict=True)
    )
    day = Day(places=(Place(name="0", change_s=300, mounted="a"),), tasks=tasks, now_s=1000)
    found = solve(day, **QUICK)

    assert found.start_s[1] == (1300,)
    assert wrong(replace(found, start_s=((0,), (1299,)))) != []


def test_the_same_day_gives_the_same_timetable():
    day = five_machines(8, 5, due=True)
    one, other = (solve(day, evaluations=500, effort=0.3) for _ in range(2))

    assert (one.start_s, one.route, one.bound) == (other.start_s, other.route, other.bound)
