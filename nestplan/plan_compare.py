"""One job, or a day's jobs, planned on every setup of the shop and put side by side."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from nestplan import __version__
from nestplan.artwork import load_artwork
from nestplan.compare import Comparison, Mix, OnSetup, compare, on_setup
from nestplan.faults import OUT_OF_REACH, Fault, Faults
from nestplan.files import Run
from nestplan.job import read_job
from nestplan.nest import Budget, Watch, never, unwatched
from nestplan.plan import STEPS, TRIAL_SHARE, WORKERS, plan_run, with_quantities
from nestplan.shift import Day, solve
from nestplan.shift.hours import Hours
from nestplan.shift.tasks import Planned, Way, places_of, tasks_of
from nestplan.stock import film_at_hand

COMPARE_STEPS = STEPS // TRIAL_SHARE
SHARES = (0.25, 0.5, 2.0)  # of the ordered quantities, beside what is ordered


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """How each nest is searched for."""

    seed: int = 1
    steps: int = COMPARE_STEPS
    stopped: Callable[[], bool] = never
    watch: Watch = unwatched


def compare_setups(
    paths: Sequence[Path], search: Search, shares: Sequence[float] = SHARES
) -> Comparison:
    """The first job as ordered and at shares of it; with more jobs, all of them as a day too.

    raises: Fault or Faults when no setup can do the first job.
    """
    first = read_job(paths[0])
    setups = [first.setup.name, *(s.name for s in first.shop.setup if s.name != first.setup.name)]
    by_share: dict[float, list[OnSetup]] = {}
    without: dict[str, str] = {}
    for share in sorted({*shares, 1.0}):
        for setup in setups:
            planned = _planned(paths[0], setup, search, share)
            if isinstance(planned, str):
                without.setdefault(setup, planned)
            else:
                by_share.setdefault(share, []).append(on_setup(planned))
    if 1.0 not in by_share:
        reasons = "; ".join(f"{name}: {why}" for name, why in without.items())
        raise Fault(
            what="no setup of the shop can do this job",
            where=str(paths[0]),
            do=f"change the job or add a machine; {reasons}",
            code=OUT_OF_REACH,
        )
    rows = {each[0].copies: tuple(each) for _, each in sorted(by_share.items())}
    copies = sorted(rows)
    ordered = by_share[1.0][0].copies
    return compare(
        [rows[number] for number in copies],
        job=first.order.name,
        currency=first.shop.cost.currency,
        shift_h=first.shop.cost.shift_h,
        ordered=copies.index(ordered),
        version=__version__,
        seed=search.seed,
        steps=search.steps,
        without=list(without.items()),
        mixes=_mixes(paths, setups, search) if len(paths) > 1 else (),
    )


def _planned(path: Path, setup: str, search: Search, share: float = 1.0) -> Run | str:
    """The job on a setup, or why it cannot be done there."""
    try:
        job = film_at_hand(read_job(path, setup=setup))
        artwork = load_artwork(job)
        budget = Budget(
            steps=search.steps, seed=search.seed, workers=WORKERS, stopped=search.stopped
        )
        if share != 1.0:
            job, artwork = with_quantities(
                job, artwork, [max(1, round(share * decal.quantity)) for decal in artwork.decals]
            )
        return plan_run(job, artwork, budget, search.watch, prove=False)
    except (Fault, Faults) as trouble:
        if isinstance(trouble, Faults):
            return "; ".join(fault.what for fault in trouble.each)
        if trouble.code != OUT_OF_REACH:
            raise
        return trouble.what


def _mixes(paths: Sequence[Path], setups: Sequence[str], search: Search) -> list[Mix]:
    """All jobs on each setup alone, in the best order known."""
    first = read_job(paths[0])
    hours = Hours(
        day=None,
        begins=Hours.from_text(first.shop.staff.begins),
        hours=first.shop.cost.shift_h,
    )
    found = []
    for setup in setups:
        runs = [_planned(path, setup, search) for path in paths]
        jobs = [
            Planned(
                job=run.job,
                ways=(Way(times=run.times.setups[0], film_mm=run.marks.length_used_mm),),
            )
            for run in runs
            if isinstance(run, Run)
        ]
        if len(jobs) < len(paths):
            continue
        try:
            tasks = tasks_of(jobs, first.shop, hours)
        except Fault:
            continue
        day = Day(places=places_of(first.shop), tasks=tasks, hands=first.shop.staff.people)
        schedule = solve(day, seed=search.seed)
        ends = [schedule.end_s(k) for k in range(len(tasks))]
        found.append(
            Mix(
                setup=setup,
                jobs=len(tasks),
                done=sum(end <= hours.end_s for end in ends),
                end_s=schedule.worth.end_s,
                bound_s=schedule.bound.end_s,
                late=schedule.worth.late,
                proven=schedule.proven >= 3,
            )
        )
    return found
