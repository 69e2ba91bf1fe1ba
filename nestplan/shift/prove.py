"""Figure by figure, what CP-SAT can prove of a day and whether it finds a better one.

One worker and a limit in deterministic units: the same day gives the same answer on a busy
machine. A figure is settled before the next is looked at, and then held.
"""

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from ortools.sat.python import cp_model

from nestplan.shift.bound import earliest_end_s, end_bound
from nestplan.shift.day import Day, Schedule, Worth
from nestplan.shift.improve import Found

ARCS_MOST = 30  # steps on a machine whose films are followed one by one; more are too many
FIGURES = ("late", "late_s", "end_s", "changes")


def prove(day: Day, found: Found, *, effort: float, seed: int) -> Schedule:
    """The best day known, with what is proven of it. effort: deterministic units, > 0."""
    here = Answer(
        route=tuple(int(each) for each in found.route),
        start_s=tuple(
            tuple(int(s) for s in found.start_s[k][: _steps(day, k, int(found.route[k]))])
            for k in range(len(day.tasks))
        ),
        worth=found.worth,
    )
    model = DayModel(day, here)
    lowest = {
        "late": sum(1 for k in range(len(day.tasks)) if _surely_late_s(day, k) > 0),
        "late_s": sum(max(0, _surely_late_s(day, k)) for k in range(len(day.tasks))),
        "end_s": end_bound(day),
        "changes": _least_changes(day),
    }
    for figure in FIGURES:
        value = getattr(here.worth, figure)
        if lowest[figure] < value and model.says(figure):
            answer, proved = model.least(figure, here, effort / len(FIGURES), seed)
            lowest[figure] = max(lowest[figure], proved)
            if answer is not None and answer.worth < here.worth:
                here = answer
        lowest[figure] = min(lowest[figure], getattr(here.worth, figure))
        model.hold(figure, getattr(here.worth, figure))
    bound = Worth(**lowest)
    proven = 0
    for figure in FIGURES:
        if getattr(bound, figure) < getattr(here.worth, figure):
            break
        proven += 1
    return Schedule(
        day=day,
        route=here.route,
        start_s=here.start_s,
        worth=here.worth,
        bound=bound,
        proven=proven,
    )


def _steps(day: Day, task: int, route: int) -> int:
    return len(day.tasks[task].routes[route].steps)


def _surely_late_s(day: Day, task: int) -> int:
    due = day.tasks[task].due_s
    return 0 if due is None else earliest_end_s(day, task) - due


def _least_changes(day: Day) -> int:
    """Films that must be mounted somewhere and are on no machine at first."""
    there = {place.mounted for place in day.places if place.change_s}
    needed = set()
    for task in day.tasks:
        by_route = [
            {step.film for step in route.steps if day.places[step.machine].change_s}
            for route in task.routes
        ]
        needed |= set.intersection(*by_route)
    return len(needed - there)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """A timetable and its worth."""

    route: tuple[int, ...]
    start_s: tuple[tuple[int, ...], ...]
    worth: Worth


class DayModel:
    """The day in CP-SAT's terms. Where films cannot be followed only bounds are asked for."""

    def __init__(self, day: Day, known: Answer) -> None:
        self.day = day
        self.model = cp_model.CpModel()
        alone = sum(max(r.alone_s for r in t.routes) for t in day.tasks)
        changes = sum(place.change_s for place in day.places) * len(day.tasks)
        self.horizon = max(known.worth.end_s, day.now_s + alone + changes)
        self.on: list[list[Any]] = []
        self.starts: list[list[list[Any]]] = []
        self.ends: list[Any] = []
        self.by_machine: list[list[tuple[Any, Any, Any, str, int, bool]]] = [[] for _ in day.places]
        self.hands: list[Any] = []
        for number in range(len(day.tasks)):
            self._task(number)
        self.change_literals: list[Any] = []
        self.whole = all(self._machine(machine) for machine in range(len(day.places)))
        if day.hands and self.hands:
            self.model.add_cumulative(self.hands, [1] * len(self.hands), day.hands)
        self.figure = {
            "end_s": self._last(),
            **self._lateness(),
            "changes": sum(self.change_literals),
        }

    def says(self, figure: str) -> bool:
        """Whether the model knows the figure well enough to be asked.

        Of a day whose films cannot be followed it could only bound the end; on the day of sixty
        jobs where this was measured it took a minute and stayed far below `end_bound`.
        """
        if figure == "end_s":
            return self.whole
        return figure != "changes" or (self.whole and bool(self.change_literals))

    def _task(self, number: int) -> None:
        task, model, horizon = self.day.tasks[number], self.model, self.horizon
        on = [model.new_bool_var("") for _ in task.routes]
        model.add_exactly_one(on)
        end = model.new_int_var(0, horizon, "")
        starts = []
        for route, chosen in zip(task.routes, on, strict=True):
            here: list[Any] = []
            before: Any = max(task.ready_s, self.day.now_s)
            for k, step in enumerate(route.steps):
                if k < len(task.begun_s):
                    start = model.new_constant(task.begun_s[k])
                else:
                    start = model.new_int_var(0, horizon, "")
                    model.add(start >= before + step.wait_s)
                    if task.begun_s:
                        model.add(start >= self.day.now_s)
                before = start + step.busy_s
                self._stay(step.machine, start, step, chosen, k < len(task.begun_s))
                here.append(start)
            model.add(end == before).only_enforce_if(chosen)
            starts.append(here)
        self.on.append(on)
        self.starts.append(starts)
        self.ends.append(end)

    def _stay(self, machine: int, start: Any, step: Any, chosen: Any, begun: bool) -> None:
        model = self.model
        span = model.new_optional_fixed_size_interval_var(start, step.busy_s, chosen, "")
        self.by_machine[machine].append((span, start, chosen, step.film, step.busy_s, begun))
        if step.hands_s:
            self.hands.append(
                model.new_optional_fixed_size_interval_var(start, step.hands_s, chosen, "")
            )
        if step.again_s is not None:
            after, long = step.again_s
            self.hands.append(
                model.new_optional_fixed_size_interval_var(start + after, long, chosen, "")
            )

    def _machine(self, machine: int) -> bool:
        """No two at a time, and time to mount films; False where the films are left out."""
        stays, place = self.by_machine[machine], self.day.places[machine]
        self.model.add_no_overlap([stay[0] for stay in stays])
        films = {stay[3] for stay in stays}
        if not place.change_s or films <= {place.mounted}:
            return True
        if len(stays) > ARCS_MOST:
            return False
        self._films(stays, place.change_s, place.mounted)
        return True

    def _films(self, stays: list[Any], change_s: int, mounted: str) -> None:
        """A circuit through the stays of a machine: who follows whom, and what it takes."""
        model, arcs = self.model, []
        nobody = model.new_bool_var("")
        arcs.append((0, 0, nobody))
        for i, (_, start, chosen, film, busy, begun) in enumerate(stays, start=1):
            arcs.append((i, i, ~chosen))
            model.add_implication(nobody, ~chosen)
            first, last = model.new_bool_var(""), model.new_bool_var("")
            arcs += [(0, i, first), (i, 0, last)]
            if film != mounted:
                from_s = change_s if begun else self.day.now_s + change_s
                model.add(start >= from_s).only_enforce_if(first)
                self.change_literals.append(first)
            for j, (_, other, _, next_film, _, later_begun) in enumerate(stays, start=1):
                if i == j:
                    continue
                follows = model.new_bool_var("")
                arcs.append((i, j, follows))
                extra = change_s if film != next_film else 0
                model.add(other >= start + busy + extra).only_enforce_if(follows)
                if extra and not later_begun:
                    model.add(other >= self.day.now_s + extra).only_enforce_if(follows)
                if extra:
                    self.change_literals.append(follows)
        model.add_circuit(arcs)

    def _last(self) -> Any:
        end = self.model.new_int_var(0, self.horizon, "")
        self.model.add_max_equality(end, self.ends)
        return end

    def _lateness(self) -> dict[str, Any]:
        late, late_s = [], []
        for task, end in zip(self.day.tasks, self.ends, strict=True):
            if task.due_s is None:
                continue
            is_late = self.model.new_bool_var("")
            by = self.model.new_int_var(0, self.horizon, "")
            self.model.add(end <= task.due_s).only_enforce_if(~is_late)
            self.model.add(end > task.due_s).only_enforce_if(is_late)
            self.model.add(by >= end - task.due_s)
            late.append(is_late)
            late_s.append(by)
        return {"late": sum(late), "late_s": sum(late_s)}

    def hold(self, figure: str, value: int) -> None:
        """From here on the figure is no worse than this."""
        if figure == "end_s" or self.says(figure):
            self.model.add(self.figure[figure] <= value)

    def least(self, figure: str, known: Answer, effort: float, seed: int) -> tuple[Any, int]:
        """A better answer, where one was found that is whole, and the figure's bound."""
        if isinstance(self.figure[figure], int):
            return None, self.figure[figure]
        self._hint(known)
        self.model.minimize(self.figure[figure])
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = seed % 2**31
        solver.parameters.max_deterministic_time = effort
        status = solver.solve(self.model)
        bound = max(0, round(solver.best_objective_bound - 0.499))
        if not self.whole or status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None, bound if status != cp_model.INFEASIBLE else 0
        return self._answer(solver), bound

    def _hint(self, known: Answer) -> None:
        self.model.clear_hints()  # type: ignore[no-untyped-call]
        for number, route in enumerate(known.route):
            for r, chosen in enumerate(self.on[number]):
                self.model.add_hint(chosen, r == route)
            for variable, value in zip(
                self.starts[number][route], known.start_s[number], strict=True
            ):
                self.model.add_hint(variable, value)

    def _answer(self, solver: Any) -> Answer:
        route = tuple(
            next(r for r, chosen in enumerate(on) if solver.value(chosen)) for on in self.on
        )
        start_s = tuple(
            tuple(solver.value(start) for start in self.starts[k][route[k]])
            for k in range(len(route))
        )
        return Answer(route=route, start_s=start_s, worth=worth_of(self.day, route, start_s))


def worth_of(day: Day, route: tuple[int, ...], start_s: tuple[tuple[int, ...], ...]) -> Worth:
    """What a timetable is worth, counted from its starts alone."""
    late = late_s = end_s = 0
    seen: list[list[tuple[int, str]]] = [[] for _ in day.places]
    for task, r, starts in zip(day.tasks, route, start_s, strict=True):
        steps = task.routes[r].steps
        end = starts[-1] + steps[-1].busy_s
        end_s = max(end_s, end)
        if task.due_s is not None and end > task.due_s:
            late += 1
            late_s += end - task.due_s
        for step, start in zip(steps, starts, strict=True):
            seen[step.machine].append((start, step.film))
    changes = 0
    for place, stays in zip(day.places, seen, strict=True):
        if not place.change_s:
            continue
        films = [place.mounted, *(film for _, film in sorted(stays))]
        changes += sum(a != b for a, b in pairwise(films))
    return Worth(late=late, late_s=late_s, end_s=end_s, changes=changes)
