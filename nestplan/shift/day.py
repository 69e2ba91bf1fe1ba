"""A day's work: machines, hands, and jobs with the ways they may go through the shop.

All times are whole seconds from the start of the shift.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One stay of a job on a machine.

    wait_s: least time between the end of the step before and this one's start (drying).
    hands_s: a person is needed so long from its start; again_s = (after, long): once more, so
    long after the start, on the same machine. work_s: what the machine does by itself after
    the first hands, all later hands and waits on the machine counted in.
    film: what must be mounted; "" when nothing is.
    """

    machine: int
    does: str
    wait_s: int = 0
    hands_s: int = 0
    work_s: int = 0
    again_s: tuple[int, int] | None = None
    film: str = ""

    @property
    def busy_s(self) -> int:
        """How long the machine is taken."""
        return self.hands_s + self.work_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """One way of a job through the shop, by the setup of that name."""

    setup: str
    steps: tuple[Step, ...]

    @property
    def alone_s(self) -> int:
        """Door to door on empty machines with all films mounted."""
        return sum(step.wait_s + step.busy_s for step in self.steps)


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """A job of the day.

    due_s: when it must be done; None: when it is. ready_s: not before.
    begun_s: starts of the steps that have begun already, where the day is running; its only
    route is then the one it is on.
    """

    name: str
    routes: tuple[Route, ...]
    due_s: int | None = None
    ready_s: int = 0
    begun_s: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A machine of the day. change_s: to mount another film; mounted: what is on it at first."""

    name: str
    change_s: int = 0
    mounted: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """Everything that is to be put in order. hands: people; 0: always enough."""

    places: tuple[Place, ...]
    tasks: tuple[Task, ...]
    hands: int = 0
    now_s: int = 0


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Worth:
    """How good a day is, the smaller the better, in this order.

    late: jobs after their due time; late_s: by how much in all; end_s: last finish;
    changes: films mounted.
    """

    late: int
    late_s: int
    end_s: int
    changes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """Which route each task takes and when each of its steps starts.

    worth with its bound: no schedule is better than `bound` in the first figure where the
    two differ; figures after that are bounds among schedules as good up to there.
    proven: figures that are proven best, from the first on (0 to 4).
    """

    day: Day
    route: tuple[int, ...]
    start_s: tuple[tuple[int, ...], ...]
    worth: Worth
    bound: Worth
    proven: int

    def steps(self, task: int) -> tuple[Step, ...]:
        """The steps of a task on the route it takes."""
        return self.day.tasks[task].routes[self.route[task]].steps

    def end_s(self, task: int) -> int:
        """When a task is done."""
        return self.start_s[task][-1] + self.steps(task)[-1].busy_s
