"""A run that takes least of what its job aims at: widths tried by short searches, the promising
ones planned in full, and the best of them chosen by what clock and cost say.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import ceil

from nestplan.clock import job_print_s
from nestplan.cost import Taken, film_cost, metres
from nestplan.faults import Fault, Faults, Note
from nestplan.figures import length
from nestplan.files import Run
from nestplan.job import Aim, Job, PrintMode
from nestplan.marks import ends_most_mm, lead_mm, tail_mm, web_of
from nestplan.nest import Nest
from nestplan.nest.placements import boxes_mm
from nestplan.trade import (
    Option,
    Screened,
    least_of,
    narrower,
    option_of,
    shortlist,
    weigh,
)

SECONDS_PER_H = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Planner:
    """How runs are planned. nest: by a short search, lanes for marks left free. plan: the whole
    run by the full search. stopped: once True no more plans are begun.
    """

    nest: Callable[[Job], Nest]
    plan: Callable[[Job], Run]
    in_mode: Callable[[Run, PrintMode], Run]
    takes: Callable[[Run], Taken]
    stopped: Callable[[], bool]


def plan_aimed(job: Job, aim: Aim, planner: Planner) -> Run:
    """The run that takes least of what the job aims at, with what else could be chosen.

    The plan at the full width is one of those that are weighed, so none is worse than that.
    raises: Fault or Faults of that plan.
    """
    full = planner.plan(job)
    full_mm = full.page_width_mm
    screened = _screened(job, full_mm, planner)
    runs = [full]
    for width_mm in shortlist(screened, full_mm):
        if planner.stopped():
            break
        try:
            runs.append(planner.plan(replace(job, print_width_mm=width_mm)))
        except (Fault, Faults):  # marks find no room on it: it was only a thought
            continue
    least = least_of(job, full.artwork.decals, full.cut, planner.takes(full))
    modes = job.modes or (job.mode,)
    planned = [[_option(planner.in_mode(run, mode)) for mode in modes] for run in runs]
    trade, best, mode = weigh(aim, planned, least, widths=len(screened))
    run = planner.in_mode(runs[best], modes[mode])
    return replace(run, trade=trade, notes=(*run.notes, *_width_note(run, full_mm)))


def _screened(job: Job, full_mm: float, planner: Planner) -> list[Screened]:
    """Ever narrower prints, each drawn in to what its nest fills, until decals no longer fit."""
    found: list[Screened] = []
    width_mm: float | None = full_mm
    while width_mm is not None and not planner.stopped():
        narrow = replace(job, print_width_mm=width_mm)
        try:
            laid = planner.nest(narrow)
        except (Fault, Faults):
            break
        filled_mm = min(width_mm, float(ceil(width_mm - _empty_mm(laid))))  # as people write it
        found.append(_screen(narrow, filled_mm, laid))
        width_mm = narrower(found, full_mm)
    return found


def _empty_mm(nest: Nest) -> float:
    """Width of the strip that no frame's copies fill, their bleed counted in."""
    edges = [shape.edge_mm for shape in nest.task.shapes]
    used = []
    for strip in nest.strips:
        boxes = boxes_mm(nest.task, strip.placements)
        for (left, _, right, _), shape in zip(
            boxes.tolist(), strip.placements.shape.tolist(), strict=True
        ):
            used += [left - edges[shape], right + edges[shape]]
    empty_mm: float = nest.task.width_mm - (max(used) - min(used))
    return max(empty_mm, 0.0)


def _screen(job: Job, width_mm: float, nest: Nest) -> Screened:
    """What a nest would take: frames as long as they may be round it, in the quickest mode."""
    sensor = job.cutter.sensor
    assert sensor is not None, "the job room refuses a cutter without a sensor"
    ends_mm = ends_most_mm(sensor, max(shape.edge_mm for shape in nest.task.shapes))
    lengths_mm = tuple(strip.length_mm + ends_mm for strip in nest.strips)
    gaps_mm = (len(lengths_mm) - 1) * job.cutter.frame_gap_mm
    film_mm = lead_mm(job) + sum(lengths_mm) + gaps_mm + tail_mm(job)
    print_s = min(
        job_print_s(job, mode, width_mm=width_mm, lengths_mm=lengths_mm)
        for mode in job.modes or (job.mode,)
    )
    rate = job.printer.per_h or job.shop.cost.machine_per_h
    return Screened(
        width_mm=width_mm,
        film_mm=film_mm,
        print_s=print_s,
        money=float(film_cost(job.roll, metres(film_mm))) + print_s / SECONDS_PER_H * float(rate),
    )


def _option(run: Run) -> Option:
    return option_of(run.job, run.marks, run.times, run.estimate)


def _width_note(run: Run, full_mm: float) -> list[Note]:
    """A print that is narrower than it could be leaves a strip of film."""
    left, right = web_of(run.job).printable_mm
    if full_mm - (right - left) < 1.0:
        return []
    text = (
        f"printed {length(right - left)} wide, it could be {length(full_mm)}: "
        f"{length(run.job.roll.width_mm - right)} of film stay blank at the right"
    )
    return [Note(level="know", where="aim", text=text)]
