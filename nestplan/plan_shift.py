"""A day planned: every job on every setup, jobs of one roll together where that saves, the order.

The counterpart of `plan.py` for `nestplan shift`: rooms are called here, in order.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import time
from pathlib import Path

from nestplan import __version__
from nestplan.faults import Fault, Note
from nestplan.figures import duration, film
from nestplan.job import ShopFile, read_job, read_shop
from nestplan.nest import Watch, never, unwatched
from nestplan.plan import STEPS, TRIAL_SHARE
from nestplan.plan_film import film_notes
from nestplan.plan_ways import joined_ways, plan_ways
from nestplan.shift.day import Day, Task
from nestplan.shift.hours import Hours, day_of
from nestplan.shift.plan_day import ShiftPlan, plan_day
from nestplan.shift.shift_json import Running, read_running, running_tasks
from nestplan.shift.tasks import Planned, places_of, tasks_of

SHIFT_STEPS = STEPS // TRIAL_SHARE  # a nest a little longer than a plan's: times differ by little


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the command was asked."""

    shop: Path
    jobs: tuple[Path, ...]
    hours: float | None = None
    day: str | None = None
    begins: str | None = None
    running: Path | None = None
    now: str | None = None
    apart: bool = False
    seed: int = 1
    steps: int | None = None


def plan_shift(
    asked: Asked, *, stopped: Callable[[], bool] = never, watch: Watch = unwatched
) -> ShiftPlan:
    """The day in order. raises: Fault or Faults for everything a person can mend."""
    shop = read_shop(asked.shop)
    running = None if asked.running is None else read_running(asked.running)
    hours = _hours(asked, shop, running)
    now_s = _now_s(asked, hours)
    if not asked.jobs and running is None:
        raise Fault(
            what="no job is to be done", where="nestplan shift", do="name one job file or more"
        )
    jobs = _planned(asked, stopped, watch)
    before, promised = running_tasks(running, now_s) if running else ([], [])
    places = running.places() if running else places_of(shop)
    if running and [place.name for place in places] != [machine.name for machine in shop.machine]:
        raise Fault(
            what="the machines of the running day are not those of the shop",
            where=str(asked.running),
            do="plan the day anew with this shop file",
        )

    def ordered(some: Sequence[Planned]) -> ShiftPlan:
        tasks = _renamed(before, tasks_of(some, shop, hours))
        day = Day(places=places, tasks=tasks, hands=shop.staff.people, now_s=now_s)
        return plan_day(
            day,
            hours,
            shop=asked.shop.name,
            version=__version__,
            seed=asked.seed,
            promised_s=[*promised, *(None for _ in some)],
        )

    plan = ordered(jobs)
    if not asked.apart and len(jobs) > 1:
        jobs, plan = _joined(asked, jobs, plan, ordered, stopped)
    return replace(plan, notes=(*plan.notes, *film_notes(jobs)))


def _joined(
    asked: Asked,
    jobs: list[Planned],
    plan: ShiftPlan,
    ordered: Callable[[Sequence[Planned]], ShiftPlan],
    stopped: Callable[[], bool],
) -> tuple[list[Planned], ShiftPlan]:
    """Jobs of one roll as one run, where no more is late, the day no longer and film is saved."""
    notes: list[Note] = []
    for some in _alike(jobs):
        together = joined_ways(
            [job.job.path for job in some],
            seed=asked.seed,
            steps=asked.steps or SHIFT_STEPS,
            stopped=stopped,
        )
        if together is None:
            continue
        trial = [*(job for job in jobs if job not in some), together]
        other = ordered(trial)
        saved_mm = sum(job.film_mm for job in some) - together.film_mm
        worth, new = plan.schedule.worth, other.schedule.worth
        if saved_mm <= 0 or (new.late, new.late_s) > (worth.late, worth.late_s):
            continue
        if new.end_s > worth.end_s:
            continue
        changes, earlier_s = worth.changes - new.changes, worth.end_s - new.end_s
        text = (
            f"as one run: {film(saved_mm)} of film saved, "
            f"{f'{changes} fewer films mounted, ' if changes > 0 else ''}"
            f"the day ends {f'{duration(earlier_s)} earlier' if earlier_s else 'no later'}"
        )
        notes.append(Note(level="know", where=together.called, text=text))
        jobs, plan = trial, other
    return jobs, replace(plan, notes=(*plan.notes, *notes))


def _alike(jobs: Sequence[Planned]) -> list[list[Planned]]:
    """Jobs that could be one run: the same roll, laminate, setup and gutter; two or more."""
    groups: dict[tuple[object, ...], list[Planned]] = {}
    for planned in jobs:
        order = planned.job.order
        if order.start_on or order.from_plan or order.fill_with:
            continue
        key = (order.roll, order.laminate, order.setup, order.gutter_mm)
        groups.setdefault(key, []).append(planned)
    return [some for some in groups.values() if len(some) > 1]


def _planned(asked: Asked, stopped: Callable[[], bool], watch: Watch) -> list[Planned]:
    _refuse_jobs_that_cannot_share(asked)
    steps = asked.steps or SHIFT_STEPS
    return [
        plan_ways(path, seed=asked.seed, steps=steps, stopped=stopped, watch=watch)[1]
        for path in asked.jobs
    ]


def _refuse_jobs_that_cannot_share(asked: Asked) -> None:
    """Before any is planned. raises: Fault for a job of another shop, or a name given twice."""
    names: set[str] = set()
    for path in asked.jobs:
        job = read_job(path)
        if job.shop_path.resolve() != asked.shop.resolve():
            raise Fault(
                what=f"this job is for another shop, {job.shop_path}",
                where=f"{path}, shop",
                do=f"name {asked.shop} in it, or plan its shop's day by itself",
            )
        if job.order.name in names:
            raise Fault(
                what=f"two jobs are called {job.order.name!r}",
                where=f"{path}, name",
                do="rename one of them: nobody could tell them apart on a list",
            )
        names.add(job.order.name)


def _renamed(before: Sequence[Task], new: Sequence[Task]) -> tuple[Task, ...]:
    """All tasks. raises: Fault for a new one that the day has already."""
    names = {task.name for task in before}
    for task in new:
        if task.name in names:
            raise Fault(
                what=f"the running day has a job {task.name!r} already",
                where="nestplan shift",
                do="leave it out, or rename the new one",
            )
    return (*before, *new)


def _hours(asked: Asked, shop: ShopFile, running: Running | None) -> Hours:
    begins = asked.begins or (running.begins if running else shop.staff.begins)
    day = asked.day or (running.day if running else None)
    nowhere = Hours(day=None, begins=_midnight(), hours=24.0)
    seconds = nowhere.seconds(begins, "--begins")
    return Hours(
        day=day_of(day),
        begins=_midnight().replace(hour=seconds // 3600, minute=seconds // 60 % 60),
        hours=asked.hours or (running.hours if running else shop.cost.shift_h),
    )


def _midnight() -> time:
    return time(0)


def _now_s(asked: Asked, hours: Hours) -> int:
    """Seconds from the start of the shift. raises: Fault where it does not go with the rest."""
    if (asked.now is None) != (asked.running is None):
        missing = "--now" if asked.now is None else "--running"
        raise Fault(
            what=f"{missing} is missing",
            where="nestplan shift",
            do="give both: the folder of the running day, and the time now",
        )
    if asked.now is None:
        return 0
    seconds = hours.seconds(asked.now, "--now")
    if seconds < 0:
        raise Fault(
            what=f"it is {asked.now}, and the shift begins at {hours.clock(0)}",
            where="--now",
            do="write a time after the shift begins",
        )
    return seconds
