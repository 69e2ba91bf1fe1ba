"""What the command says: each figure with its interval, what stays hidden, what to time next."""

from pathlib import Path
from typing import Any

from nestplan.figures import count, duration
from nestplan.learn.runs import TimedRun
from nestplan.learn.solve import Learned, Learning
from nestplan.learn.timings import Timing


def learned_words(learning: Learning, runs: dict[str, TimedRun], written: Path) -> str:
    """For a person at a terminal."""
    used, bad = learning.used, learning.bad
    readings = count(len(used) + len(bad), "reading")
    lines = [f"{readings}; they scatter by {100 * learning.scatter:.1f} %", ""]
    told = [each for each in learning.learned if each.told]
    names = max((len(each.figure.words) for each in learning.learned), default=0)
    for each in told:
        lines.append(
            f"  {each.figure.words:<{names}}  {_figure(each.value):>8}   90 %: "
            f"{_figure(each.low)} to {_figure(each.high)}, was {_figure(each.figure.value)}"
        )
    hidden = [each for each in learning.learned if not each.told]
    if hidden:
        lines += ["", "  not told by themselves; they move with the rest or stay:"]
        lines += [
            f"  {each.figure.words:<{names}}  {_figure(each.value):>8}   was "
            f"{_figure(each.figure.value)}"
            for each in hidden
        ]
    lines += [""] + [f"  {_bad_words(timing, learning, runs)}" for timing in bad]
    if learning.best is not None and learning.best.share > 0:
        lines.append(
            f"  most would be told by timing the {learning.best.stage} of {learning.best.run} "
            f"(takes {100 * learning.best.share:.0f} % of what is uncertain in these plans' times)"
        )
    return "\n".join([*lines, "", f"{written}: the new shop file"])


def _bad_words(timing: Timing, learning: Learning, runs: dict[str, TimedRun]) -> str:
    low, high = learning.interval_s(runs[timing.plan], timing.stage)
    return (
        f"line {timing.line} was left out: {timing.stage} of {timing.plan} in "
        f"{duration(timing.seconds)}, and the others say {duration(low)} to {duration(high)}"
    )


def _figure(value: float) -> str:
    return f"{value:.3g}" if value < 1000 else f"{value:.0f}"


def learned_json(learning: Learning, runs: dict[str, TimedRun], written: Path) -> dict[str, Any]:
    """For programs."""
    return {
        "shop": str(written),
        "readings": len(learning.used) + len(learning.bad),
        "scatter_percent": round(100 * learning.scatter, 3),
        "figures": [_json(each) for each in learning.learned],
        "left_out": [
            {"line": each.line, "plan": each.plan, "stage": each.stage, "time_s": each.seconds}
            for each in learning.bad
        ],
        "times": [
            {
                "plan": name,
                "stage": stage,
                "time_s": round(learning.time_s(run, stage), 3),  # type: ignore[arg-type]
                "interval_s": [
                    round(each, 3)
                    for each in learning.interval_s(run, stage)  # type: ignore[arg-type]
                ],
            }
            for name, run in runs.items()
            for stage in (*run.machines, "run")
        ],
        "time_next": None
        if learning.best is None
        else {
            "plan": learning.best.run,
            "stage": learning.best.stage,
            "share_percent": round(100 * learning.best.share, 2),
        },
    }


def _json(each: Learned) -> dict[str, Any]:
    return {
        "owner": each.figure.owner,
        "part": each.figure.part,
        "key": each.figure.key,
        "was": each.figure.value,
        "value": each.value,
        "low": each.low,
        "high": each.high,
        "told": each.told,
    }
