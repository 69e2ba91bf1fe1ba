"""How often the 90 % intervals of a target hold the truth, over simulated sheets.

    python -m tests.bench.target [--sheets 500] [--seed 1] [--json FILE]

Readings stray by 0.05 mm and are read to 0.05 mm. For every fit a cutter may make, once with
nothing else wrong and once with all the noise of the demo shop; then how often a station that is
read wrong is named, and how often one is named although none is wrong.
"""

import argparse
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from nestplan.target.figure import Told
from nestplan.target.readings import Readings
from nestplan.target.solve import DIFFERENCE, measure
from tests.target.simulate import CORRECTS, read, target_of, truth

SLIPS_MM = (0.6, 1.0)


def covered(corrects: str, quiet: bool, sheets: int, seed: int) -> dict[str, float]:
    """Share of sheets whose interval holds the truth, by figure; `all`: of all figures together."""
    rng = np.random.default_rng(seed)
    target = target_of(corrects, quiet=quiet)
    held: dict[str, list[bool]] = {}
    for _ in range(sheets):
        true = truth(rng)
        for told in measure(target, read(target, true, rng)).told:
            low, high = told.range
            held.setdefault(told.key, []).append(low <= wanted(told, true) <= high)
    shares = {key: float(np.mean(each)) for key, each in held.items()}
    return shares | {"all": float(np.mean([each for one in held.values() for each in one]))}


def wanted(told: Told, true: dict[str, float]) -> float:
    """The true value of a figure."""
    if told.key == DIFFERENCE:
        return true["scale_along_percent"] - true["scale_across_percent"]
    return true[told.key]


def slips(corrects: str, slip_mm: float, sheets: int, seed: int) -> dict[str, float]:
    """How often a slip is named rightly, wrongly, and although there is none."""
    rng = np.random.default_rng(seed)
    target = target_of(corrects)
    named = wrong = alarm = 0
    for _ in range(sheets):
        true = truth(rng)
        good = read(target, true, rng)
        alarm += bool(measure(target, good).left_out)
        bad = int(rng.integers(1, len(good.stations) + 1))
        left_out = measure(target, with_slip(good, bad, slip_mm, rng)).left_out
        named += left_out == (bad,)
        wrong += left_out not in ((), (bad,))
    return {"named": named / sheets, "wrong": wrong / sheets, "alarm": alarm / sheets}


def with_slip(good: Readings, bad: int, slip_mm: float, rng: np.random.Generator) -> Readings:
    """One vernier of a station read wrong."""
    key, sign = ("x_mm", "y_mm")[rng.integers(2)], rng.choice([-1.0, 1.0])
    stations = tuple(
        replace(each, **{key: getattr(each, key) + sign * slip_mm}) if each.number == bad else each
        for each in good.stations
    )
    return replace(good, stations=stations)


def main() -> None:
    """Print a table and, if asked, write JSON."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--sheets", type=int, default=500)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--json", type=Path)
    options = asked.parse_args()
    result: dict[str, Any] = {"sheets": options.sheets, "seed": options.seed}
    for noise in ("reading alone", "whole shop"):
        for corrects in CORRECTS:
            shares = covered(corrects, noise == "reading alone", options.sheets, options.seed)
            result.setdefault(noise, {})[corrects] = shares
            words = ", ".join(f"{key} {100 * share:.1f}" for key, share in shares.items())
            print(f"{noise:<13}  {corrects:<10}  {words} %")
    for slip_mm in SLIPS_MM:
        for corrects in CORRECTS:
            shares = slips(corrects, slip_mm, options.sheets, options.seed)
            result.setdefault(f"slip of {slip_mm} mm", {})[corrects] = shares
            words = ", ".join(f"{key} {100 * share:.1f}" for key, share in shares.items())
            print(f"slip of {slip_mm} mm  {corrects:<10}  {words} %")
    if options.json:
        options.json.write_text(json.dumps(result, indent=2) + "\n")


if __name__ == "__main__":
    main()
