"""How well stopwatch readings teach a shop's figures: simulated shops, one gross error each.

python -m tests.bench.learn --shops 200 --json FILE

Each shop's true figures are off the file's by a factor (standard deviation 0.35 of its
logarithm); 12 readings good to 2 %, one of them wrong by 0.5 to 3 times; 30 unseen jobs, print
and cut of each timed once: median error of the expected time, share of unseen readings inside
their 90 % interval, and how often the gross error was named and nothing else.
"""

import argparse
import json
import time
from pathlib import Path

import numpy as np

from nestplan.learn import learn
from tests.learn.shops import a_study


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--shops", type=int, default=200)
    options.add_argument("--json", type=Path)
    given = options.parse_args()
    draw = np.random.default_rng(1)
    began, errors, inside, named = time.perf_counter(), [], [], 0
    for seed in range(given.shops):
        model, runs, timings, truth, others, wrong = a_study(seed)
        found = learn(model, runs, timings)
        named += [each.line - 2 for each in found.bad] == [wrong]
        for run in others:
            for stage in ("print", "cut"):
                true = model.time_s(truth, run, stage)
                errors.append(abs(found.time_s(run, stage) / true - 1))
                low, high = found.interval_s(run, stage)
                inside.append(low <= true * np.exp(draw.normal(0, 0.02)) <= high)
    line = {
        "shops": given.shops,
        "median_error_percent": round(100 * float(np.median(errors)), 2),
        "error_95_percent": round(100 * float(np.quantile(errors, 0.95)), 2),
        "inside_90_percent": round(100 * float(np.mean(inside)), 1),
        "gross_error_named_percent": round(100 * named / given.shops, 1),
        "seconds": round(time.perf_counter() - began, 1),
    }
    print(line)
    if given.json:
        given.json.write_text(json.dumps(line, indent=1))


if __name__ == "__main__":
    main()
