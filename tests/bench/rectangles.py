"""Benchmark of box mixes: `python -m tests.bench.rectangles --instances FOLDER --seconds N`.

Measured and written as `tests.bench.nesting` does, over known optima: the rectangles of
`rect/`, which may lie on their side. At the end the mean excess over the optimum, with and
without the one instance of thousands of boxes.
"""

import argparse
import json
import statistics
import sys
from pathlib import Path

import shapely

from nestplan.nest import Shape, Task
from tests.bench.instances import Instance
from tests.bench.nesting import ENGINES, measure, say
from tests.strategies import centred

THOUSANDS = "burke_n13"  # 3152 boxes: told apart, as published tables do


def instance(path: Path) -> Instance:
    """One file; its strip runs along y, as ours does."""
    data = json.loads(path.read_text())
    angles = (0.0, 90.0) if data["rotate90"] else (0.0,)
    shapes = tuple(
        Shape(
            name=str(item["id"]),
            outline=centred(shapely.box(0, 0, item["w"], item["h"])),
            copies=int(item["demand"]),
            angles_deg=angles,
        )
        for item in data["items"]
    )
    width = float(data["strip_width"])
    apart = ((0.0,) * len(shapes),) * len(shapes)
    return Instance(
        name=data["name"],
        task=Task(shapes=shapes, width_mm=width, apart_mm=apart),
        nominal_width=width,
        best_known=float(data["optimum_height"]),
    )


def excess_percent(rows: list[dict]) -> float:
    """Mean over the instances of their medians' excess over the optimum."""
    lengths: dict[str, list[float]] = {}
    for row in rows:
        lengths.setdefault(row["name"], []).append(row["length"] / row["best_known"])
    return 100 * (statistics.mean(map(statistics.median, lengths.values())) - 1)


def main() -> None:
    """Read the arguments, run, print, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--instances", type=Path, required=True)
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--steps", type=int, help="a fixed budget instead of a measured one")
    parser.add_argument("--seeds", type=int, default=1)
    parser.add_argument("--engine", choices=sorted(ENGINES), default="race")
    parser.add_argument("--only", nargs="*", help="names of instances")
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    rows: list[dict] = []
    for one in map(instance, sorted(asked.instances.glob("*.json"))):
        if asked.only and one.name not in asked.only:
            continue
        seeds = range(1, asked.seeds + 1)
        these = [
            measure(one, asked.engine, seconds=asked.seconds, steps=asked.steps, seed=seed)
            for seed in seeds
        ]
        say(these)
        rows += these
        if asked.json:
            asked.json.write_text(json.dumps(rows, indent=1))
    if not rows:
        sys.exit("no instance of that name in the folder")
    known = [row for row in rows if row["name"] != THOUSANDS]
    if known:
        print(f"mean excess over the optimum {excess_percent(known):.2f} %, without {THOUSANDS}")
    if len(known) < len(rows):
        print(f"mean excess over the optimum {excess_percent(rows):.2f} %, with {THOUSANDS}")


if __name__ == "__main__":
    main()
