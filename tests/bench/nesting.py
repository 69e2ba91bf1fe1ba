"""Benchmark of the nests: `python -m tests.bench.nesting --instances FOLDER --seconds N`.

The seconds are a ceiling. A short run measures how many steps fill them, a little more are
given, and the row tells how many were taken when time was up; `--steps` has no ceiling.
Every layout is verified.
"""

import argparse
import json
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

from nestplan.nest import Budget, Layout, Task
from nestplan.nest.boxes import Boxes
from nestplan.nest.engine import Tell, silent
from nestplan.nest.outlines import Outlines
from nestplan.nest.verify import verify
from tests.bench.instances import Instance, instances, marked

RATE_STEPS = 4000
SPARE = 1.3  # times the steps that fit by the measured rate: the ceiling ends the run

Run = Callable[[Task, Budget, Tell], Layout | None]


def run_outlines(task: Task, budget: Budget, tell: Tell) -> Layout | None:
    """The outline search alone."""
    return Outlines()(task, budget, tell)


def run_boxes(task: Task, budget: Budget, tell: Tell) -> Layout | None:
    """The search over boxes alone."""
    return Boxes()(task, budget, tell)


def run_race(task: Task, budget: Budget, tell: Tell) -> Layout | None:
    """All engines, as a job is nested."""
    from nestplan.nest.race import race

    return race(task, budget, lambda now: tell(now.length_mm, now.share)).best


ENGINES: dict[str, Run] = {"race": run_race, "outlines": run_outlines, "boxes": run_boxes}


def bound_of(task: Task) -> tuple[float, str]:
    """The proven least length and its reason."""
    from nestplan.nest.bound import lower_bound

    bound = lower_bound(task)
    return bound.length_mm, bound.reason


def steps_for(run: Run, task: Task, seconds: float, seed: int) -> int:
    """How many steps fill the seconds, and some more: a short run tells set-up and rate."""

    def timed(steps: int) -> float:
        began = time.perf_counter()
        run(task, Budget(steps=steps, seed=seed), silent)
        return time.perf_counter() - began

    timed(RATE_STEPS)  # set-up and compiling, kept for the next call
    set_up_s = timed(1)
    rate = RATE_STEPS / max(1e-3, timed(RATE_STEPS) - set_up_s)
    return max(1, int(SPARE * rate * (seconds - set_up_s)))


def measure(
    instance: Instance, engine: str, *, seconds: float, steps: int | None, seed: int
) -> dict:
    """One instance, one seed: a row of the table."""
    run = ENGINES[engine]
    allowed = steps or steps_for(run, instance.task, seconds, seed)
    share = 0.0

    def tell(_: float, used: float) -> None:
        nonlocal share
        share = max(share, used)

    began = time.perf_counter()
    ceiling = began + (seconds if steps is None else 1e9)
    budget = Budget(steps=allowed, seed=seed, stopped=lambda: time.perf_counter() > ceiling)
    layout = run(instance.task, budget, tell)
    took = time.perf_counter() - began
    assert layout is not None, f"{instance.name}: no answer"
    broken = verify(instance.task, layout)
    assert not broken, f"{instance.name}: {broken[:3]}"
    bound, reason = bound_of(instance.task)
    return {
        "name": instance.name,
        "seed": seed,
        "length": layout.length_mm,
        "density": instance.density(layout.length_mm),
        "bound": bound,
        "bound_reason": reason,
        "seconds": round(took, 2),
        "steps": round(share * allowed),
        "engine": layout.engine,
        "best_known": instance.best_known,
    }


def say(rows: list[dict]) -> None:
    """One line an instance: the median of its seeds."""
    length = statistics.median(row["length"] for row in rows)
    known = rows[0]["best_known"]
    over = f"{100 * (length / known - 1):6.2f} % over the best known" if known else ""
    seconds = statistics.median(row["seconds"] for row in rows)
    density = statistics.median(row["density"] for row in rows)
    bound, engine = rows[0]["bound"], rows[0]["engine"]
    figures = f"{length:12.4f}  {100 * density:6.2f} %  bound {bound:10.3f}  {seconds:6.1f} s"
    print(f"{rows[0]['name']:12} {figures}  {engine:10} {over}", flush=True)


def main() -> None:
    """Read the arguments, run, print, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--instances", type=Path, required=True)
    parser.add_argument("--seconds", type=float, default=30.0)
    parser.add_argument("--steps", type=int, help="a fixed budget instead of a measured one")
    parser.add_argument("--seeds", type=int, default=1)
    parser.add_argument("--engine", choices=sorted(ENGINES), default="race")
    parser.add_argument("--only", nargs="*", help="names of instances")
    parser.add_argument(
        "--marks", action="store_true", help="eight 6 mm marks, 3 mm clear, stand in the strip"
    )
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    rows: list[dict] = []
    for instance in instances(asked.instances):
        if asked.only and instance.name not in asked.only:
            continue
        if asked.marks:
            instance = marked(instance)
        these = [
            measure(instance, asked.engine, seconds=asked.seconds, steps=asked.steps, seed=seed)
            for seed in range(1, asked.seeds + 1)
        ]
        say(these)
        rows += these
        if asked.json:
            asked.json.write_text(json.dumps(rows, indent=1))
    if not rows:
        sys.exit("no instance of that name in the folder")


if __name__ == "__main__":
    main()
