"""Readings that contradict each other or their plan, whatever the machines' figures are."""

from collections.abc import Mapping, Sequence
from pathlib import Path

from nestplan.faults import Fault, raise_all
from nestplan.figures import duration
from nestplan.learn.figures import waits_s
from nestplan.learn.runs import TimedRun
from nestplan.learn.timings import Timing

APART = 3.0  # the same stage of the same plan, timed twice: no shop differs so much


def refuse_contradictions(
    timings: Sequence[Timing], runs: Mapping[str, TimedRun], table: Path
) -> None:
    """raises: Fault or Faults, each with its line and what would help."""
    faults = []
    by_kind: dict[tuple[str, str], list[Timing]] = {}
    for timing in timings:
        by_kind.setdefault((timing.plan, timing.stage), []).append(timing)
        run, where = runs[timing.plan], f"{table}, line {timing.line}"
        if timing.stage != "run" and timing.stage not in run.machines:
            faults.append(
                Fault(
                    what=f"{timing.plan} is not laminated",
                    where=where,
                    do="write print, cut or run, or name a plan that is laminated",
                )
            )
        elif timing.stage == "run" and timing.seconds <= waits_s(run):
            faults.append(
                Fault(
                    what=f"the run took {duration(timing.seconds)}, and its setup waits "
                    f"{duration(waits_s(run))} between the stages",
                    where=where,
                    do="time it from the first hands to the end of the cut, waits counted in",
                )
            )
    for (plan, stage), some in by_kind.items():
        low, high = (pick(some, key=lambda each: each.seconds) for pick in (min, max))
        if high.seconds > APART * low.seconds:
            faults.append(
                Fault(
                    what=f"the {stage} of {plan} took {duration(low.seconds)} and "
                    f"{duration(high.seconds)}",
                    where=f"{table}, lines {low.line} and {high.line}",
                    do="look which one is right: minutes may be hours, or another plan was meant",
                )
            )
    whole = {t.plan: t for t in timings if t.stage == "run"}
    for timing in timings:
        run_of = whole.get(timing.plan)
        if timing.stage != "run" and run_of and timing.seconds > run_of.seconds:
            faults.append(
                Fault(
                    what=f"the {timing.stage} of {timing.plan} took {duration(timing.seconds)}, "
                    f"its whole run {duration(run_of.seconds)}",
                    where=f"{table}, lines {timing.line} and {run_of.line}",
                    do="look which one is right",
                )
            )
    raise_all(faults)
