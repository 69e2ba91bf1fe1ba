"""Benchmark of one shape many times: `python -m tests.bench.quantities --json FILE`.

The shapes of `decal/` in quantities, nested by the whole race as a job would be, on a roll
of 1370 mm without edge margin. Each case runs in a process of its own with an empty cache
of compiled code, so that seconds and peak memory are those of a first run. Every layout is
verified, outside the time.
"""

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, replace
from pathlib import Path

from nestplan.nest import Budget, Task
from tests.bench.instances import instance
from tests.open_data import OPEN_DATA

WIDTH_MM = 1370.0
STEPS = 40_000  # fixed, so that runs stay comparable


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One shape of `decal/`, so many times, so far apart; bars from our own aims.

    length_most_mm, gap_most_percent: what it should reach, where that is set.
    """

    name: str
    file: str
    copies: int
    gutter_mm: float = 4.0
    length_most_mm: float | None = None
    gap_most_percent: float | None = None

    def task(self) -> Task:
        """The case as a task."""
        task = instance(OPEN_DATA / "decal" / f"{self.file}.json").task
        shape = replace(task.shapes[0], copies=self.copies)
        apart_mm = ((self.gutter_mm,),)
        return replace(task, shapes=(shape,), width_mm=WIDTH_MM, apart_mm=apart_mm)


CASES = (
    Case(name="plates 96", file="decal_a", copies=96, length_most_mm=436.0),
    Case(name="plates 200", file="decal_a", copies=200),
    Case(name="plates 500", file="decal_a", copies=500, gap_most_percent=4.5),
    Case(name="plates 2000", file="decal_a", copies=2000, length_most_mm=9020.0),
    Case(name="plates 10000", file="decal_a", copies=10_000),
    Case(name="discs 120", file="decal_b", copies=120, gutter_mm=3.0, length_most_mm=503.7),
    Case(name="discs 500", file="decal_b", copies=500, gap_most_percent=3.0),
    Case(name="discs 10000", file="decal_b", copies=10_000),
    Case(name="stars 60", file="decal_c", copies=60, gutter_mm=3.0, length_most_mm=268.9),
    Case(name="stars 500", file="decal_c", copies=500, length_most_mm=1919.0),
    Case(name="stars 2000", file="decal_c", copies=2000, length_most_mm=7560.0),
    Case(name="stars 10000", file="decal_c", copies=10_000),
    Case(name="shields 40", file="decal_d", copies=40, gutter_mm=3.0, length_most_mm=246.01),
    Case(name="shields 400", file="decal_d", copies=400, gutter_mm=3.0, gap_most_percent=6.5),
    Case(name="shields 10000", file="decal_d", copies=10_000, gutter_mm=3.0),
)


def measure(case: Case, steps: int, seed: int) -> dict:
    """One case in this process: a row of the table."""
    from nestplan.nest.bound import lower_bound
    from nestplan.nest.race import race
    from nestplan.nest.verify import verify

    task = case.task()
    began, busy = time.perf_counter(), time.process_time()
    raced = race(task, Budget(steps=steps, seed=seed))
    took, busy = time.perf_counter() - began, time.process_time() - busy
    began = time.perf_counter()
    broken = verify(task, raced.best)
    verified = time.perf_counter() - began
    assert not broken, f"{case.name}: {broken[:3]}"
    bound = lower_bound(task)
    length = raced.best.length_mm
    return {
        "name": case.name,
        "count": case.copies,
        "length": length,
        "bound": bound.length_mm,
        "bound_reason": bound.reason,
        "gap_percent": 100 * (length / bound.length_mm - 1),
        "seconds": round(took, 2),
        "cpu_seconds": round(busy, 2),
        "verify_seconds": round(verified, 2),
        "engine": raced.best.engine,
        "reached": raced.reached_mm,
        "peak_mib": round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024),
        "length_most": case.length_most_mm,
        "gap_most_percent": case.gap_most_percent,
    }


def alone(case: Case, steps: int, seed: int) -> dict:
    """One case in a fresh process that has nothing compiled."""
    with tempfile.TemporaryDirectory() as cache:
        asked = ["--one", case.name, "--steps", str(steps), "--seed", str(seed)]
        done = subprocess.run(
            [sys.executable, "-m", "tests.bench.quantities", *asked],
            env={**os.environ, "NUMBA_CACHE_DIR": cache},
            stdout=subprocess.PIPE,
            check=True,
        )
    row: dict = json.loads(done.stdout)
    return row


def say(row: dict) -> None:
    """One line a case, with what it misses."""
    missed = []
    if row["length_most"] is not None and row["length"] > row["length_most"] + 0.01:
        missed.append(f"over {row['length_most']:g} mm")
    if row["gap_most_percent"] is not None and row["gap_percent"] > row["gap_most_percent"]:
        missed.append(f"over {row['gap_most_percent']:g} %")
    figures = f"{row['length']:11.3f}  bound {row['bound']:10.2f}  {row['gap_percent']:6.2f} %"
    seconds = f"{row['seconds']:6.1f} s ({row['cpu_seconds']:.1f} of a core)"
    cost = f"{seconds}  check {row['verify_seconds']:.1f} s  {row['peak_mib']} MiB"
    print(f"{row['name']:14} {figures}  {cost}  {row['engine']:20} {', '.join(missed)}", flush=True)


def main() -> None:
    """Read the arguments, run, print, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--steps", type=int, default=STEPS)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="*", help="cases by the beginning of their name")
    parser.add_argument("--json", type=Path)
    parser.add_argument("--one", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.one:
        (case,) = (case for case in CASES if case.name == asked.one)
        print(json.dumps(measure(case, asked.steps, asked.seed)))
        return
    rows = []
    for case in CASES:
        if asked.only and not any(case.name.startswith(name) for name in asked.only):
            continue
        rows.append(alone(case, asked.steps, asked.seed))
        say(rows[-1])
        if asked.json:
            asked.json.write_text(json.dumps(rows, indent=1))


if __name__ == "__main__":
    main()
