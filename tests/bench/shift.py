"""How near the best days are: last finish against bounds and known optima.

python -m tests.bench.shift --instances ../shared/data/flowshop --json FILE

Lines of name, value, bound, seconds: the ten flow shops of Taillard 1993 (with the optimum
that is known), twenty days of 20 jobs on two stages, and days of 60 jobs on five machines
(`tests/shift/days.py`, seeds 1 to 3). Seconds are those of one core of this
machine, compiling counted apart.
"""

import argparse
import json
import time
from pathlib import Path

import numpy as np

from nestplan.shift import solve
from tests.shift.days import five_machines, in_a_row


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--instances", type=Path, required=True)
    options.add_argument("--json", type=Path)
    options.add_argument("--evaluations", type=int, default=600_000)
    given = options.parse_args()
    solve(in_a_row([(3, 4), (5, 6)]), evaluations=10, effort=0.1)  # compiles
    lines = [*_flow_shops(given), *_two_stages(), *_days(given)]
    if given.json:
        given.json.write_text(json.dumps(lines, indent=1))


def _flow_shops(given):
    instances = json.loads((given.instances / "ta001_ta010.json").read_text())["instances"]
    for each in instances:
        best = each["optimal_makespan"]
        yield _line(each["name"], in_a_row(each["p"]), best, given.evaluations)


def _two_stages():
    draw = np.random.default_rng(1)
    for k in range(20):
        work = draw.integers(300, 3000, size=(2, 20)).tolist()
        yield _line(f"two stages {k + 1}", in_a_row(work), None, 20_000)


def _days(given):
    for seed in (1, 2, 3):
        day = five_machines(60, seed)
        yield _line(f"sixty jobs {seed}", day, None, given.evaluations)


def _line(name, day, best, evaluations):
    began = time.process_time()
    found = solve(day, evaluations=evaluations)
    seconds = time.process_time() - began
    value, bound = found.worth.end_s, found.bound.end_s
    line = {
        "name": name,
        "value": value,
        "bound": bound,
        "over_bound_percent": round(100 * (value / bound - 1), 2),
        "seconds": round(seconds, 1),
    }
    if best is not None:
        line |= {"optimum": best, "over_optimum_percent": round(100 * (value / best - 1), 2)}
    print(line, flush=True)
    return line


if __name__ == "__main__":
    main()
