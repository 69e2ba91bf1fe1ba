"""Planned runs come in, tasks of a day go out: each with every setup that can do it."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from pathlib import Path

from nestplan.clock import SetupTimes
from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.figures import duration
from nestplan.job import Job, Setup, ShopFile, stages_of
from nestplan.shift.day import Place, Route, Step, Task
from nestplan.shift.hours import Hours

THE_PRINT = "the print itself"  # what a device holds where a print comes back to be cut
TOGETHER = " + "  # between the names of jobs that go through the shop as one


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """A job on one setup: how long each part takes, how much film it uses."""

    times: SetupTimes
    film_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A job and every setup that can do it; without: those that cannot, with the reason."""

    job: Job
    ways: tuple[Way, ...]
    without: tuple[tuple[str, str], ...] = ()
    name: str = ""

    @property
    def film_mm(self) -> float:
        """What it takes of film at least, whichever setup does it."""
        return min(way.film_mm for way in self.ways)

    @property
    def called(self) -> str:
        """The job's name, or those of the jobs that are one run."""
        return self.name or self.job.order.name


def places_of(shop: ShopFile) -> tuple[Place, ...]:
    """The shop's machines, in the order of its file."""
    return tuple(
        Place(
            name=machine.name,
            change_s=ceil(machine.roll_change_s),
            mounted=machine.loaded or "",
        )
        for machine in shop.machine
    )


def tasks_of(jobs: Sequence[Planned], shop: ShopFile, hours: Hours) -> tuple[Task, ...]:
    """A task a job. raises: Fault for a job that cannot be done or is due before the shift."""
    return tuple(_task(planned, shop, hours) for planned in jobs)


def _task(planned: Planned, shop: ShopFile, hours: Hours) -> Task:
    job, setups = planned.job, {setup.name: setup for setup in shop.setup}
    if not planned.ways:
        reasons = "; ".join(f"{name}: {why}" for name, why in planned.without)
        raise Fault(
            what=f"no setup of the shop can do {planned.called}",
            where=str(job.path),
            do=f"change the job or add a machine; {reasons}",
            code=OUT_OF_REACH,
        )
    routes = [_route(job, shop, setups[way.times.name], way.times) for way in planned.ways]
    fitting = [route for route in routes if _waits_s(route) <= hours.end_s]
    if not fitting:
        least = min(_waits_s(route) for route in routes)
        raise Fault(
            what=f"{planned.called} waits {duration(least)} between its stages, longer than the "
            f"shift of {duration(hours.end_s)}",
            where=f"{job.path}, setup",
            do="print it a shift earlier and cut it here as a job of its own, name a setup that "
            "waits less, or plan more hours with --hours",
            code=OUT_OF_REACH,
        )
    return Task(
        name=planned.called, routes=tuple(fitting), due_s=due_s(job.order.due, job.path, hours)
    )


def due_s(due: str | None, path: Path, hours: Hours) -> int | None:
    """When a job is due, seconds from the start of the shift. raises: Fault when that is past."""
    if due is None:
        return None
    seconds = hours.seconds(due, f"{path}, due")
    if seconds <= 0:
        raise Fault(
            what=f"due is {due}, and the shift begins at {hours.clock(0)}",
            where=f"{path}, due",
            do="write a time after the shift begins, or begin earlier with --begins",
        )
    return seconds


def _waits_s(route: Route) -> int:
    """All that a route waits, on a machine or beside one."""
    beside = sum(step.wait_s for step in route.steps)
    on = sum(step.again_s[0] - step.hands_s for step in route.steps if step.again_s is not None)
    return beside + on


def _route(job: Job, shop: ShopFile, setup: Setup, times: SetupTimes) -> Route:
    """The stages as stays on machines; stages on one machine, one after the other, are one."""
    laminated = job.laminate is not None
    work_s = {"print": times.print_s, "laminate": times.laminate_s, "cut": times.cut_s}
    films = {"print": job.roll.name, "laminate": job.order.laminate or "", "cut": ""}
    machines = [machine.name for machine in shop.machine]
    steps: list[Step] = []
    been: set[str] = set()
    for does, machine, stage in stages_of(shop, setup, laminated=laminated):
        at, hands_s, lag_s = machines.index(machine.name), stage.handling_s, ceil(stage.lag_s)
        alone = not steps or steps[-1].machine != at
        if alone and machine.name in been:
            hands_s += setup.load_again_s
            films["cut"] = THE_PRINT
        been.add(machine.name)
        if alone:
            steps.append(
                Step(
                    machine=at,
                    does=does,
                    wait_s=lag_s,
                    hands_s=ceil(hands_s),
                    work_s=ceil(work_s[does]),
                    film=films[does],
                )
            )
            continue
        before = steps.pop()
        steps.append(
            Step(
                machine=at,
                does=f"{before.does} and {does}",
                wait_s=before.wait_s,
                hands_s=before.hands_s,
                work_s=before.work_s + lag_s + ceil(hands_s) + ceil(work_s[does]),
                again_s=(before.busy_s + lag_s, ceil(hands_s)),
                film=before.film,
            )
        )
    return Route(setup=setup.name, steps=tuple(steps))
