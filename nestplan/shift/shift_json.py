"""shift.json: the day for programs, and for `--running` later on the same day."""

import json
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from nestplan.faults import Fault, key_place
from nestplan.shift.day import Place, Route, Step, Task
from nestplan.shift.plan_day import ShiftPlan

SHIFT = "shift.json"
SCHEMA = 1
BYTES_MOST = 50_000_000

Time = Annotated[int, Field(ge=-10_000_000, le=100_000_000)]
Long = Annotated[int, Field(ge=0, le=100_000_000)]


def shift_json(plan: ShiftPlan) -> dict[str, Any]:
    """Plain lists and dictionaries. Times are whole seconds from the start of the shift."""
    day, schedule = plan.day, plan.schedule
    return {
        "schema": SCHEMA,
        "shop": plan.shop,
        "version": plan.version,
        "seed": plan.seed,
        "evaluations": plan.evaluations,
        "day": plan.hours.day.isoformat() if plan.hours.day else None,
        "begins": plan.hours.begins.strftime("%H:%M"),
        "hours": plan.hours.hours,
        "people": day.hands,
        "now_s": day.now_s,
        "worth": asdict(schedule.worth),
        "bound": asdict(schedule.bound),
        "proven": schedule.proven,
        "machines": [
            {
                "name": place.name,
                "change_s": place.change_s,
                "mounted": place.mounted,
                "queue": [
                    {"job": day.tasks[task].name, "step": k + 1, "start_s": start}
                    for start, task, k in plan.on(machine)
                ],
            }
            for machine, place in enumerate(day.places)
        ],
        "jobs": [_job(plan, number) for number in range(len(day.tasks))],
        "mountings": [
            {
                "machine": day.places[each.machine].name,
                "film": each.film,
                "start_s": each.start_s,
                "end_s": each.end_s,
            }
            for each in plan.mountings()
        ],
        "notes": [asdict(note) for note in plan.notes],
    }


def _job(plan: ShiftPlan, number: int) -> dict[str, Any]:
    day, schedule = plan.day, plan.schedule
    task, end_s = day.tasks[number], schedule.end_s(number)
    route = task.routes[schedule.route[number]]
    promised = plan.promised_s[number]
    return {
        "name": task.name,
        "setup": route.setup,
        "due_s": None if promised is not None and promised == task.due_s else task.due_s,
        "end_s": end_s,
        "late_s": 0 if task.due_s is None else max(0, end_s - task.due_s),
        "start_s": list(schedule.start_s[number]),
        "routes": [
            {
                "setup": each.setup,
                "steps": [
                    {**asdict(step), "machine": day.places[step.machine].name}
                    for step in each.steps
                ],
            }
            for each in task.routes
        ],
    }


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="ignore", strict=True)


class _Step(_Part):
    machine: str
    does: str
    wait_s: Long
    hands_s: Long
    work_s: Long
    again_s: tuple[Long, Long] | None
    film: str


class _Route(_Part):
    setup: str
    steps: Annotated[list[_Step], Field(min_length=1, max_length=20)]


class _Job(_Part):
    name: str
    setup: str
    due_s: Time | None
    end_s: Time
    start_s: list[Time]
    routes: Annotated[list[_Route], Field(min_length=1)]


class _Machine(_Part):
    name: str
    change_s: Long
    mounted: str


class Running(_Part):
    """A day that was planned before."""

    schema_: Annotated[int, Field(alias="schema", ge=SCHEMA, le=SCHEMA)]
    day: str | None
    begins: str
    hours: Annotated[float, Field(gt=0, le=24)]
    people: Long
    machines: Annotated[list[_Machine], Field(min_length=1)]
    jobs: list[_Job]

    def places(self) -> tuple[Place, ...]:
        """Its machines."""
        return tuple(
            Place(name=each.name, change_s=each.change_s, mounted=each.mounted)
            for each in self.machines
        )


def read_running(path: Path) -> Running:
    """The shift.json of a day that is running. raises: Fault."""
    file = path / SHIFT if path.is_dir() else path
    do = "name the folder that `nestplan shift` wrote with --out"
    try:
        if file.stat().st_size > BYTES_MOST:
            raise Fault(what="the file is far too large for a shift", where=str(file), do=do)
        running = Running.model_validate_json(file.read_bytes())
    except OSError as error:
        raise Fault(
            what=f"cannot be read: {(error.strerror or str(error)).lower()}", where=str(file), do=do
        ) from None
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        at = key_place(first["loc"]) or "the file"
        raise Fault(what=f"not a shift: {at}: {first['msg']}", where=str(file), do=do) from None
    names = [machine.name for machine in running.machines]
    for job in running.jobs:
        sound = [route for route in job.routes if route.setup == job.setup]
        known = all(step.machine in names for route in job.routes for step in route.steps)
        if not sound or not known or len(job.start_s) != len(sound[0].steps):
            raise Fault(what=f"not a shift: job {job.name!r} does not hold", where=str(file), do=do)
    return running


def running_tasks(running: Running, now_s: int) -> tuple[list[Task], list[int]]:
    """Its jobs as tasks: what has begun by now is fixed, the rest is free; and promised ends."""
    names = [machine.name for machine in running.machines]
    tasks = []
    for job in running.jobs:
        begun = tuple(start for start in job.start_s if start < now_s)
        routes = [
            Route(
                setup=route.setup,
                steps=tuple(
                    Step(
                        machine=names.index(step.machine),
                        does=step.does,
                        wait_s=step.wait_s,
                        hands_s=step.hands_s,
                        work_s=step.work_s,
                        again_s=step.again_s,
                        film=step.film,
                    )
                    for step in route.steps
                ),
            )
            for route in job.routes
            if not begun or route.setup == job.setup
        ]
        tasks.append(Task(name=job.name, routes=tuple(routes), due_s=job.due_s, begun_s=begun))
    return tasks, [job.end_s for job in running.jobs]


def text_of(data: dict[str, Any]) -> bytes:
    """JSON that a diff can show."""
    return (json.dumps(data, indent=1, ensure_ascii=False) + "\n").encode()
