"""A job's times on every setup of the shop, and several jobs as one run, for a day's order."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from nestplan.artwork import Artwork, load_artwork
from nestplan.cut import wishes_of
from nestplan.faults import Fault, Faults
from nestplan.files import Run
from nestplan.job import read_job, white_order
from nestplan.nest import Budget, Watch, never, unwatched
from nestplan.plan import STEPS, WORKERS, plan_job, plan_run
from nestplan.shift.tasks import TOGETHER, Planned, Way
from nestplan.stock import film_at_hand


def plan_ways(
    path: Path,
    *,
    seed: int = 1,
    steps: int = STEPS,
    stopped: Callable[[], bool] = never,
    watch: Watch = unwatched,
) -> tuple[Run, Planned]:
    """A job planned on its own setup, and how long it takes on every setup of the shop.

    A setup that cannot do that plan gets one of its own, where it can.
    raises: Fault or Faults when the job's own setup cannot do it.
    """
    run = plan_job(path, seed=seed, steps=steps, stopped=stopped, watch=watch, prove=False)
    ways = [Way(times=times, film_mm=run.marks.length_used_mm) for times in run.times.setups]
    without = []
    for name, reason in run.times.without:
        other = _on_setup(path, name, seed=seed, steps=steps, stopped=stopped)
        if other is None:
            without.append((name, reason))
        else:
            ways.append(Way(times=other.times.setups[0], film_mm=other.marks.length_used_mm))
    order = {setup.name: k for k, setup in enumerate(run.job.shop.setup)}
    ways.sort(key=lambda way: order[way.times.name])
    return run, Planned(job=run.job, ways=tuple(ways), without=tuple(without))


def _on_setup(
    path: Path, setup: str, *, seed: int, steps: int, stopped: Callable[[], bool]
) -> Run | None:
    """The job planned for another setup of its shop; None where that cannot do it."""
    try:
        job = film_at_hand(read_job(path, setup=setup))
        budget = Budget(steps=steps, seed=seed, workers=WORKERS, stopped=stopped)
        return plan_run(job, load_artwork(job), budget, prove=False)
    except (Fault, Faults):
        return None


def joined_ways(
    paths: list[Path], *, seed: int, steps: int, stopped: Callable[[], bool] = never
) -> Planned | None:
    """Jobs of one roll and setup as a single run: all their decals in one nest.

    The earliest due time of them is the run's. None where they cannot be one.
    """
    jobs = [film_at_hand(read_job(path)) for path in paths]
    due = [job.order.due for job in jobs if job.order.due is not None]
    if len({len(text) for text in due}) > 1:  # with and without a date: not to be compared here
        return None
    parts = [load_artwork(job) for job in jobs]
    orders, decals = [], []
    for job, part in zip(jobs, parts, strict=True):
        for row, decal in zip(job.order.decal, part.decals, strict=True):
            name = f"{job.order.name}: {row.name}"
            orders.append(row.model_copy(update={"name": name}))
            decals.append(replace(decal, name=name))
    if len({white_order(job.order) for job in jobs}) > 1:  # one order of inks a run
        return None
    if any(wishes_of(job).asked != wishes_of(jobs[0]).asked for job in jobs):
        return None
    if len({(job.mode.name, job.print_width_mm) for job in jobs}) > 1:  # one mode and width a run
        return None
    called = TOGETHER.join(job.order.name for job in jobs)
    limit = min(job.order.chance_limit for job in jobs)
    order = jobs[0].order.model_copy(
        update={
            "name": called,
            "decal": orders,
            "due": min(due, default=None),
            "chance_limit": limit,
            "aim": jobs[0].order.aim if len({job.order.aim for job in jobs}) == 1 else None,
        }
    )
    job = replace(jobs[0], order=order)
    budget = Budget(steps=steps, seed=seed, workers=WORKERS, stopped=stopped)
    artwork = Artwork(decals=tuple(decals), notes=())
    try:
        run = plan_run(job, artwork, budget, prove=False)
    except (Fault, Faults):
        return None
    ways = [Way(times=times, film_mm=run.marks.length_used_mm) for times in run.times.setups]
    return Planned(job=job, ways=tuple(ways), without=run.times.without, name=called)
