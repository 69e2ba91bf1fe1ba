"""Jobs, shop and hours in; a `ShiftPlan` out: who does what when, and what a person must know."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from nestplan.faults import Fault, Note
from nestplan.figures import count, duration
from nestplan.shift.bound import earliest_end_s
from nestplan.shift.day import Day, Schedule, Task
from nestplan.shift.hours import Hours
from nestplan.shift.solve import EFFORT, EVALUATIONS, solve


@dataclass(frozen=True, slots=True, kw_only=True)
class Mounting:
    """A film put on a machine."""

    machine: int
    start_s: int
    end_s: int
    film: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShiftPlan:
    """A day in order.

    promised_s: by task, when it was to be done by an earlier plan of the same day; None for
    tasks that are new. setups: the machines of each setup, by its name. seed, evaluations:
    how the order was searched for.
    """

    shop: str
    hours: Hours
    schedule: Schedule
    promised_s: tuple[int | None, ...]
    notes: tuple[Note, ...]
    seed: int
    evaluations: int
    version: str

    @property
    def day(self) -> Day:
        """What was put in order."""
        return self.schedule.day

    def mountings(self) -> list[Mounting]:
        """Every change of film, just before the step that needs it."""
        found = []
        for machine, place in enumerate(self.day.places):
            film = place.mounted
            for start, task, step in self.on(machine):
                wanted = self.schedule.steps(task)[step].film
                if place.change_s and wanted != film:
                    found.append(
                        Mounting(
                            machine=machine,
                            start_s=start - place.change_s,
                            end_s=start,
                            film=wanted,
                        )
                    )
                film = wanted
        return found

    def on(self, machine: int) -> list[tuple[int, int, int]]:
        """What a machine does, in order: start, task, which of the task's steps."""
        return sorted(
            (start, task, k)
            for task in range(len(self.day.tasks))
            for k, (step, start) in enumerate(
                zip(self.schedule.steps(task), self.schedule.start_s[task], strict=True)
            )
            if step.machine == machine
        )


def plan_day(
    day: Day,
    hours: Hours,
    *,
    shop: str,
    version: str,
    seed: int = 1,
    evaluations: int = EVALUATIONS,
    effort: float = EFFORT,
    promised_s: Sequence[int | None] | None = None,
) -> ShiftPlan:
    """Put the day in order. raises: Fault when nothing is to be done."""
    if not day.tasks:
        raise Fault(what="no job is to be done", where="nestplan shift", do="name job files")
    promised = tuple(promised_s) if promised_s is not None else (None,) * len(day.tasks)
    bound_to = replace(
        day,
        tasks=tuple(
            replace(task, due_s=before) if task.due_s is None and before is not None else task
            for task, before in zip(day.tasks, promised, strict=True)
        ),
    )
    schedule = solve(bound_to, evaluations=evaluations, effort=effort, seed=seed)
    return ShiftPlan(
        shop=shop,
        hours=hours,
        schedule=schedule,
        promised_s=promised,
        notes=tuple(_notes(day, hours, schedule, promised)),
        seed=seed,
        evaluations=evaluations,
        version=version,
    )


def _notes(
    day: Day, hours: Hours, schedule: Schedule, promised: Sequence[int | None]
) -> list[Note]:
    notes = []
    for number, (task, before) in enumerate(zip(day.tasks, promised, strict=True)):
        end_s = schedule.end_s(number)
        notes += _lateness(day, hours, task, number, end_s)
        if before is not None and end_s > before + 30:
            by = duration(end_s - before)
            text = f"done at {hours.clock(end_s)}, {by} later than planned before"
            notes.append(Note(level="know", where=task.name, text=text))
    over = [task.name for k, task in enumerate(day.tasks) if schedule.end_s(k) > hours.end_s]
    if over:
        text = (
            f"{count(len(over), 'job')} done after the shift ends at {hours.clock(hours.end_s)}: "
            f"{', '.join(over[:6])}{' …' if len(over) > 6 else ''}"
        )
        notes.append(Note(level="look", where="shift", text=text))
    return notes


def _lateness(day: Day, hours: Hours, task: Task, number: int, end_s: int) -> list[Note]:
    """A job that is late: by how much, and whether it could be in time at all."""
    if task.due_s is None or end_s <= task.due_s:
        return []
    earliest = earliest_end_s(day, number)
    late = f"due at {hours.clock(task.due_s)}, done at {hours.clock(end_s)}"
    if earliest > task.due_s:
        text = (
            f"{late}: it cannot be in time; the earliest it can be done, before all else, is "
            f"{hours.clock(earliest)}"
        )
        return [Note(level="stop", where=task.name, text=text)]
    text = (
        f"{late}: before all else it could be done at {hours.clock(earliest)}, but others would "
        "be late then"
    )
    return [Note(level="look", where=task.name, text=text)]
