"""What no plan of a job beats in film, in time, in money, however it is laid out.

Everything printed lies on the page, so width times length of all frames is at least the printed
area A. Film is then at least lead, A / W and tail, W the widest print. A frame of length L takes
L / band + p - 1 strokes or more, band = swath / p for p passes, and a stroke over a page of width
w takes (w + c) / v with c = 2 overscan + turnaround v. All frames together take at least

    (p A / (s w) + p - 1) (w + c) / v,

twice so long in a mode of one direction: least at w = sqrt(p A c / (s (p - 1))), or at W where
that is wider. The knife follows
every contour, and no faster than at full speed. Hands and lags are what they are. Source: ours;
elementary.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from math import hypot, sqrt

import shapely

from nestplan.artwork import Decal
from nestplan.clock import passes_of, white_of_job
from nestplan.cost import Taken, account_of
from nestplan.cut import CutPlan
from nestplan.job import Job, Machine, PrintMode
from nestplan.marks import lead_mm, tail_mm, web_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Least:
    """No plan of the job takes less; each by itself, and in no plan all three at once."""

    film_mm: float
    run_s: float
    total: Decimal


def least_of(job: Job, decals: Sequence[Decal], cut: CutPlan, taken: Taken) -> Least:
    """The bounds of a job, from any one plan of it: its cut, and what it takes."""
    own = taken.times
    left, right = web_of(job).printable_mm
    ordered = tuple(decal.quantity for decal in decals)
    area_mm2 = sum(n * float(shapely.area(d.inked)) for n, d in zip(ordered, decals, strict=True))
    film_least_mm = lead_mm(job) + area_mm2 / (right - left) + tail_mm(job)
    white, twice = white_of_job(job)
    print_s = min(
        least_print_s(
            mode,
            area_mm2=area_mm2,
            width_mm=right - left,
            passes=passes_of(mode, white=white, twice=twice),
        )
        for mode in job.modes or (job.mode,)
    )
    cut_s = least_cut_s(job.cutter, decals, cut, shared=job.order.gutter_mm == 0)
    laminate_s = own.laminate_s * film_least_mm / taken.film_mm
    times = replace(
        own,
        print_s=print_s,
        cut_s=cut_s,
        laminate_s=laminate_s,
        one_run_s=own.handling_s + own.lag_s + print_s + laminate_s + cut_s,
    )
    at_least = replace(taken, planned=ordered, film_mm=film_least_mm, times=times)
    total = account_of(job, at_least).total
    return Least(film_mm=film_least_mm, run_s=times.one_run_s, total=total)


def least_print_s(mode: PrintMode, *, area_mm2: float, width_mm: float, passes: int) -> float:
    """No print of this area is quicker on pages of at most this width, seconds.

    passes: over each place, those of white counted in.
    """
    idle_mm = 2 * mode.overscan_mm + mode.turnaround_s * mode.carriage_mm_s
    strokes_mm = passes * area_mm2 / mode.swath_mm  # strokes times width, at least
    if passes > 1:
        width_mm = min(width_mm, sqrt(strokes_mm * idle_mm / (passes - 1)))
    strokes = strokes_mm / width_mm + passes - 1
    back_and_forth = 2 if mode.directions == 1 else 1
    stroke_s = (width_mm + idle_mm) / mode.carriage_mm_s
    return mode.warm_up_s + strokes * stroke_s * back_and_forth


def least_cut_s(machine: Machine, decals: Sequence[Decal], cut: CutPlan, *, shared: bool) -> float:
    """Every contour at full speed and a lift after each, no way between them.

    cut: one plan's, for what its options leave out or add. shared: edges of two copies may be
    one cut.
    """
    speed = machine.speed_mm_s
    assert speed is not None, "the job room refuses a cutter without a speed"
    web = machine.web_speed_mm_s
    most_mm_s = speed if web is None else hypot(speed, web)
    rings = [[d.contour, *([] if d.backing is None else [d.backing])] for d in decals]
    contours_mm = sum(
        decal.quantity * sum(outline.length_mm for outline in each)
        for decal, each in zip(decals, rings, strict=True)
    )
    lifts = sum(
        decal.quantity * sum(len(outline.rings) for outline in each)
        for decal, each in zip(decals, rings, strict=True)
    )
    way_mm = min(contours_mm, cut.length_mm)
    lifts = min(lifts, sum(len(frame.strokes) for frame in cut.frames))
    if shared:
        way_mm, lifts = way_mm / 2, 0
    return machine.wind_back_s + way_mm / most_mm_s + lifts * machine.lift_s
