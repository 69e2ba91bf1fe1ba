"""The same run on every setup of the shop: how long one takes, how many a shift, or why not."""

from collections.abc import Sequence
from math import floor, hypot

from nestplan.clock.cut_time import cut_s
from nestplan.clock.fits import why_not
from nestplan.clock.print_time import job_print_s, white_of_job
from nestplan.clock.profile import cut_profile, print_profile
from nestplan.clock.times import SetupTimes, Times
from nestplan.cut import CutPlan
from nestplan.job import (
    Job,
    Machine,
    Setup,
    ShopFile,
    Task,
    machines_of,
    modes_of,
    stages_of,
)
from nestplan.marks import MarkPlan

SECONDS_PER_H = 3600.0
LAMINATE = "laminate"
Z90 = 1.6448536269514722  # 90 % of a normal distribution lies within; worked out
SAME_RUN = 1e-9  # of a run: what floats lose must not cost one


def time_run(job: Job, marks: MarkPlan, cut: CutPlan, page_width_mm: float) -> Times:
    """Times of a planned run on each setup of the shop, the job's own first.

    page_width_mm: what a stroke of the printer crosses, > 0. Setups whose machines cannot
    do the plan as it stands are in `without`, each with the reason.
    """
    lengths_mm = tuple(frame.length_mm for frame in marks.frames)
    white, twice = white_of_job(job)
    cut_times: dict[str, float] = {}
    timed: list[SetupTimes] = []
    without: list[tuple[str, str]] = []
    others = (setup for setup in job.shop.setup if setup.name != job.setup.name)
    for setup in (job.setup, *others):
        printer, cutter = machines_of(job.shop, setup)
        reason = why_not(job, marks, cut, printer, cutter) if setup.name != job.setup.name else ""
        if job.laminate is not None and not _laminates(job.shop, setup):
            reason = "; ".join(filter(None, (reason, f"{setup.name} does not laminate")))
        own = setup.name == job.setup.name
        modes = (job.mode,) if own else modes_of(job.order, job.shop, printer)
        if not modes:
            reason = "; ".join(filter(None, (reason, f"{printer.name} has no mode so fine")))
        if reason:
            without.append((setup.name, reason))
            continue
        if cutter.name not in cut_times:
            cut_times[cutter.name] = cut_s(cutter, marks, cut)
        timed.append(
            setup_times(
                setup,
                print_s=job_print_s(job, modes[0], width_mm=page_width_mm, lengths_mm=lengths_mm),
                cut_s=cut_times[cutter.name],
                laminate_s=laminate_s(job, setup, marks) if job.laminate else None,
                shift_s=job.shop.cost.shift_h * SECONDS_PER_H,
                shop=job.shop,
            )
        )
    return Times(
        print_s=timed[0].print_s,
        print_mode=job.mode.name,
        cut_s=timed[0].cut_s,
        setups=tuple(timed),
        printing=print_profile(
            job.mode,
            width_mm=page_width_mm,
            lengths_mm=lengths_mm,
            white=white,
            twice=twice,
        ),
        cutting=cut_profile(job.cutter, marks, cut),
        without=tuple(without),
    )


def time_own(job: Job, marks: MarkPlan, cut: CutPlan, page_width_mm: float) -> SetupTimes:
    """Times of a planned run on the job's own setup alone, for a price."""
    printing_s = job_print_s(
        job,
        job.mode,
        width_mm=page_width_mm,
        lengths_mm=tuple(frame.length_mm for frame in marks.frames),
    )
    return setup_times(
        job.setup,
        print_s=printing_s,
        cut_s=cut_s(job.cutter, marks, cut),
        laminate_s=laminate_s(job, job.setup, marks) if job.laminate else None,
        shift_s=job.shop.cost.shift_h * SECONDS_PER_H,
        shop=job.shop,
    )


def laminate_s(job: Job, setup: Setup, marks: MarkPlan) -> float:
    """Time of the whole length of film through the setup's laminator."""
    speed_mm_s = next(
        m.laminate_mm_s for does, m, _ in stages_of(job.shop, setup) if does == LAMINATE
    )
    assert speed_mm_s is not None, "the job room refuses a laminator without its speed"
    return marks.length_used_mm / speed_mm_s


def _laminates(shop: ShopFile, setup: Setup) -> bool:
    return any(does == LAMINATE for does, _, _ in stages_of(shop, setup))


def setup_times(
    setup: Setup,
    *,
    print_s: float,
    cut_s: float,
    shift_s: float,
    shop: ShopFile,
    laminate_s: float | None = None,
) -> SetupTimes:
    """One run door to door, and how many equal runs are done within a shift.

    A stage keeps its machine for its hands-on time and its work. On a pair the next print
    goes on while the cutter cuts, and a lag delays a run without keeping a machine: prints
    that dry over the end of a shift are cut in the next, and those before them in this one.
    On a combined device a run keeps the device from its first hand to its last, lag included;
    a laminated run leaves it meanwhile, so the device may print the next one.
    laminate_s: None for a run that is not laminated.
    """
    laminated = laminate_s is not None
    work_s: dict[Task, float] = {"print": print_s, "laminate": laminate_s or 0.0, "cut": cut_s}
    busy_s: dict[str, float] = {}
    handling_s = lag_s = 0.0
    by_task: dict[Task, float] = {}
    stages = stages_of(shop, setup, laminated=laminated)
    for at, (does, machine, stage) in enumerate(stages):
        hands_s = stage.handling_s
        if laminated and machine.name in busy_s and stages[at - 1][1].name != machine.name:
            hands_s += setup.load_again_s
        handling_s += hands_s
        by_task[does] = by_task.get(does, 0.0) + hands_s
        lag_s += stage.lag_s
        busy_s[machine.name] = busy_s.get(machine.name, 0.0) + hands_s + work_s[does]
    one_run_s = handling_s + lag_s + sum(work_s.values())
    if len(busy_s) == 1:
        first_s = next_after_s = one_run_s
    else:
        first_s = one_run_s - lag_s  # what dried since the shift before is cut meanwhile
        next_after_s = max(busy_s.values())
    return SetupTimes(
        name=setup.name,
        print_s=print_s,
        handling_s=handling_s,
        hands_s=tuple(by_task.items()),
        lag_s=lag_s,
        cut_s=cut_s,
        one_run_s=one_run_s,
        runs_per_shift=runs_within(shift_s, first_s=first_s, next_s=next_after_s),
        laminate_s=laminate_s or 0.0,
        half_s=_half_s([(machine, work_s[does], does) for does, machine, _ in stages]),
    )


def _half_s(parts: Sequence[tuple[Machine, float, Task]]) -> float | None:
    """Half the 90 % interval of all stages: they are off independently of each other."""
    off_s = [
        machine.time_sd_percent[does] / 100 * work_s
        for machine, work_s, does in parts
        if does in machine.time_sd_percent
    ]
    return Z90 * hypot(*off_s) if off_s else None


def runs_within(shift_s: float, *, first_s: float, next_s: float) -> int:
    """Equal runs that are done within a shift which begins with empty machines.

    The n-th run is done after first + (n - 1) next. For two machines in a row, work a and
    then b, that is a + (n - 1) max(a, b) + b: no order matters when all runs are equal, so
    it is the least makespan of Johnson 1954 (Naval Research Logistics Quarterly 1, 61-68).
    """
    if first_s > shift_s * (1 + SAME_RUN):
        return 0
    return 1 + floor((shift_s - first_s) / next_s + SAME_RUN)
