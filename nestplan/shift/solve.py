"""A day in, the best schedule known and its bound out."""

from nestplan.shift.day import Day, Schedule
from nestplan.shift.improve import improve
from nestplan.shift.prove import prove
from nestplan.shift.verify import wrong

EVALUATIONS = 100_000  # timetables looked at: some seconds for a day of sixty jobs
EFFORT = 6.0  # deterministic units of CP-SAT, about as many seconds


def solve(
    day: Day, *, evaluations: int = EVALUATIONS, effort: float = EFFORT, seed: int = 1
) -> Schedule:
    """Fewest late, then least lateness, then earliest finish, then fewest films mounted."""
    schedule = prove(
        day, improve(day, evaluations=evaluations, seed=seed), effort=effort, seed=seed
    )
    faults = wrong(schedule)
    assert not faults, faults
    return schedule
