"""Prices at eight quantities: seconds of the whole command, and film against a long plan's.

    python -m tests.bench.price [--job regatta] [--seconds 60] [--film] [--json FILE]

The command runs once to fill numba's cache, then again on the clock; bars are 20 s for the
regatta and 5 s for the berth plates on two free cores. `cpu` is the time of all its threads, which
a busy machine leaves nearly as it is. With --film each quantity is planned for so many seconds of
search too, and the film of the price is put beside it: no more than 3 % longer.
"""

import argparse
import json
import os
import resource
import subprocess
import sys
import time
from pathlib import Path

from nestplan.artwork import load_artwork
from nestplan.job import read_job
from nestplan.nest import Budget
from nestplan.plan import WORKERS, plan_run, with_quantities

DEMO = Path(__file__).parents[2] / "demo_jobs"
QUANTITIES = {
    "regatta": [5, 10, 15, 20, 30, 40, 50, 60],
    "berths": [25, 50, 75, 100, 150, 200, 250, 500],
}
BAR_S = {"regatta": 20.0, "berths": 5.0}
BAR_RATIO = 1.03
STEPS = 100_000_000


def priced(job: str) -> tuple[float, float, list[float]]:
    """Seconds on the wall, seconds of the processor, film in mm at each quantity."""
    asked = ",".join(map(str, QUANTITIES[job]))
    command = [sys.executable, "-m", "nestplan", "price", str(DEMO / job / f"{job}.toml")]
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    began = time.monotonic()
    done = subprocess.run(
        [*command, "--quantities", asked, "--json"], capture_output=True, text=True, check=False
    )
    wall_s = time.monotonic() - began
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu_s = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    prices = json.loads(done.stdout)["prices"]
    return wall_s, cpu_s, [price["length_used_mm"] for price in prices]


def planned_mm(job: str, quantity: int, seconds: float) -> float:
    """Film of a plan whose search ends after so many seconds."""
    read = read_job(DEMO / job / f"{job}.toml")
    ends = time.monotonic() + seconds
    budget = Budget(steps=STEPS, seed=1, workers=WORKERS, stopped=lambda: time.monotonic() > ends)
    run = plan_run(*with_quantities(read, load_artwork(read), quantity), budget)
    return run.marks.length_used_mm


def main() -> None:
    """Print a line a quantity and one a job."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--job", choices=sorted(QUANTITIES), action="append")
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--film", action="store_true")
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    found = []
    for job in asked.job or sorted(QUANTITIES):
        priced(job)
        wall_s, cpu_s, films = priced(job)
        load = os.getloadavg()[0]
        print(f"{job:8} {wall_s:6.1f} s, bar {BAR_S[job]:g} s; cpu {cpu_s:.1f} s, load {load:.1f}")
        row = {"job": job, "wall_s": wall_s, "cpu_s": cpu_s, "load": load, "quantities": []}
        for quantity, film_mm in zip(QUANTITIES[job], films, strict=True):
            said = {"quantity": quantity, "film_mm": film_mm}
            if asked.film:
                said["plan_mm"] = planned_mm(job, quantity, asked.seconds)
                ratio = said["ratio"] = film_mm / said["plan_mm"]
                missed = "" if ratio <= BAR_RATIO else "  over the bar"
                print(f"  {quantity:5} {film_mm:9.1f} {said['plan_mm']:9.1f} {ratio:.4f}{missed}")
            row["quantities"].append(said)
        found.append(row)
    if asked.json:
        asked.json.write_text(json.dumps(found, indent=1) + "\n")


if __name__ == "__main__":
    main()
