"""One planned run on the setup it was planned for: what a shop asks of a setup."""

from dataclasses import dataclass, replace
from decimal import Decimal

from nestplan.clock.cut_time import cut_s
from nestplan.cut import NO_DECAL, NO_RING
from nestplan.files import Run
from nestplan.job import stages_of


@dataclass(frozen=True, slots=True, kw_only=True)
class OnSetup:
    """A run on a setup. Times in seconds, from the start of the first hands.

    first_s: when the first decal is cut out. spread_s: how far one_run_s may be off, half the
    width of a 90 % interval; None where nothing was learned of any of its machines.
    rush_s: when a run like this is done that comes in the middle of a busy day and goes before
    all that has not begun. rush_delay_s: by how much it puts off every run behind it.
    floor_m2: None where the shop does not say.
    """

    setup: str
    machines: tuple[str, ...]
    copies: int
    frames: int
    first_s: float
    one_run_s: float
    spread_s: float | None
    hands_s: float
    runs_per_shift: int
    rush_s: float
    rush_delay_s: float
    film_mm: float
    film: Decimal
    ink: Decimal
    labour: Decimal
    machine: Decimal
    total: Decimal
    per_decal: Decimal
    floor_m2: float | None


def on_setup(run: Run) -> OnSetup:
    """What the run says of its own setup."""
    own, job, estimate = run.times.setups[0], run.job, run.estimate
    stages = stages_of(job.shop, job.setup, laminated=job.laminate is not None)
    machines = {machine.name: machine for _, machine, _ in stages}
    floors = [machine.floor_m2 for machine in machines.values()]
    work_s = {"print": own.print_s, "laminate": own.laminate_s, "cut": own.cut_s}
    busy_s: dict[str, float] = {}
    for does, machine, stage in stages:
        took = busy_s.get(machine.name, 0.0)
        busy_s[machine.name] = took + stage.handling_s + work_s[does]
    return OnSetup(
        setup=job.setup.name,
        machines=tuple(machines),
        copies=sum(decal.quantity for decal in run.artwork.decals),
        frames=len(run.marks.frames),
        first_s=own.one_run_s - own.cut_s + _first_decal_s(run),
        one_run_s=own.one_run_s,
        spread_s=own.half_s,
        hands_s=own.handling_s,
        runs_per_shift=own.runs_per_shift,
        rush_s=_rush_s(own.one_run_s, busy_s),
        rush_delay_s=own.one_run_s if len(busy_s) == 1 else max(busy_s.values()),
        film_mm=run.marks.length_used_mm,
        film=estimate.film,
        ink=estimate.ink,
        labour=estimate.labour,
        machine=estimate.machine,
        total=estimate.total,
        per_decal=estimate.per_decal,
        floor_m2=None if None in floors else sum(floor for floor in floors if floor),
    )


def _rush_s(one_run_s: float, busy_s: dict[str, float]) -> float:
    """Half of what each machine is at when the run comes to it, then the run itself.

    A moment drawn from a busy day finds, on the average, half of a machine's stay left. On one
    device that is half of a whole run, lag included.
    """
    if len(busy_s) == 1:
        return 1.5 * one_run_s
    return one_run_s + sum(busy_s.values()) / 2


def _first_decal_s(run: Run) -> float:
    """From the start of cutting to the end of the last stroke of the copy that is done first.

    Copies that share edges are done with the last edge that is shared.
    """
    frame, marks = run.cut.frames[0], run.marks.frames[0]
    last = {
        (stroke.decal, 0 if stroke.ring == NO_RING else stroke.copy): k
        for k, stroke in enumerate(frame.strokes)
        if stroke.decal != NO_DECAL
    }
    done = min(last.values())
    part = replace(run.cut, frames=(replace(frame, strokes=frame.strokes[: done + 1]),))
    return cut_s(run.job.cutter, replace(run.marks, frames=(marks,)), part)
