"""Benchmark of large quantities: `python -m tests.bench.many --json FILE`.

Eight shapes 40 times, five shapes a thousand and ten thousand times in all, as one strip and
in frames. Each is nested and verified in a process of its own, so that memory is its own
too. Shapes: `decal/` of the open benchmark data. Processor seconds say what a run costs on a
machine that has other work.
"""

import argparse
import json
import resource
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context
from pathlib import Path

from nestplan.nest import Budget, Task
from nestplan.nest.bound import lower_bound
from nestplan.nest.divide import nest_in_frames
from nestplan.nest.parts import part_of
from nestplan.nest.race import race
from nestplan.nest.verify import verify
from nestplan.plan import STEPS
from tests.bench.instances import instance
from tests.open_data import OPEN_DATA

FRAME_MM = 3000.0


def five(copies: int) -> Task:
    """The five shapes of decal E in their own proportion, so many copies in all."""
    task = instance(OPEN_DATA / "decal" / "decal_e.json").task
    share = copies / task.copies
    counts = [round(shape.copies * share) for shape in task.shapes]
    counts[-1] += copies - sum(counts)
    return part_of(task, tuple(counts), None)


def eight(each: int) -> Task:
    """The five shapes of decal E and three of decal F, each so many times."""
    one, other = (instance(OPEN_DATA / "decal" / f"decal_{name}.json").task for name in "ef")
    shapes = tuple(replace(shape, copies=each) for shape in (*one.shapes, *other.shapes[:3]))
    apart = ((one.apart_mm[0][0],) * len(shapes),) * len(shapes)
    return Task(shapes=shapes, width_mm=one.width_mm, apart_mm=apart)


def strip(task: Task, steps: int) -> dict:
    """Nested as one strip."""
    raced = race(task, Budget(steps=steps, seed=1))
    assert not verify(task, raced.best)
    bound = lower_bound(task).length_mm
    return {
        "length": raced.best.length_mm,
        "bound": bound,
        "engine": raced.best.engine,
        "reached": raced.reached_mm,
    }


def frames(task: Task, steps: int) -> dict:
    """Nested in frames, each of them verified."""
    divided = nest_in_frames(task, length_most_mm=FRAME_MM, budget=Budget(steps=steps, seed=1))
    total = [0] * len(task.shapes)
    for each in divided.strips:
        counts = [int((each.placements.shape == k).sum()) for k in range(len(task.shapes))]
        broken = verify(task, each.placements, copies=counts, length_most_mm=FRAME_MM)
        assert not broken, broken[:3]
        total = [sum(pair) for pair in zip(total, counts, strict=True)]
    assert total == [shape.copies for shape in task.shapes]
    return {
        "length": sum(each.length_mm for each in divided.strips),
        "bound": lower_bound(task, frames=len(divided.strips)).length_mm,
        "engine": divided.engine,
        "reached": {tried.engine: tried.length_mm for tried in divided.tried},
        "frames": len(divided.strips),
    }


CASES: dict[str, tuple[Callable[[Task, int], dict], Callable[[int], Task], int]] = {
    "8 shapes x 40": (strip, eight, 40),
    "5 shapes, 1 000": (strip, five, 1_000),
    "5 shapes, 10 000": (strip, five, 10_000),
    "5 shapes, 1 000, in frames": (frames, five, 1_000),
    "5 shapes, 10 000, in frames": (frames, five, 10_000),
}


def measure(name: str, steps: int) -> dict:
    """One case in this process."""
    run, made, copies = CASES[name]
    task = made(copies)
    began, used = time.perf_counter(), time.process_time()
    row = {"name": name, "copies": task.copies, "steps": steps, **run(task, steps)}
    row["seconds"] = round(time.perf_counter() - began, 1)
    row["processor_seconds"] = round(time.process_time() - used, 1)
    row["peak_mib"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    return row


def rows(names: list[str], steps: int) -> Iterator[dict]:
    """Every case in a process of its own."""
    for name in names:
        with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
            yield pool.submit(measure, name, steps).result()


def main() -> None:
    """Read the arguments, run, print, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--steps", type=int, default=STEPS)
    parser.add_argument("--only", nargs="*", choices=sorted(CASES))
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    found: list[dict] = []
    for row in rows(asked.only or list(CASES), asked.steps):
        found.append(row)
        figures = f"{row['length']:10.2f} mm  bound {row['bound']:10.2f}  {row['seconds']:6.1f} s"
        memory = f"{row['processor_seconds']:6.1f} s of a core  {row['peak_mib']:5d} MiB"
        print(f"{row['name']:28} {figures}  {memory}  {row['engine']}", flush=True)
        if asked.json:
            asked.json.write_text(json.dumps(found, indent=1))
    lengths = {row["name"]: row["length"] for row in found}
    if {"5 shapes, 1 000", "5 shapes, 10 000"} <= lengths.keys():
        ratio = lengths["5 shapes, 10 000"] / lengths["5 shapes, 1 000"] / 10
        print(f"ten thousand against ten times a thousand: {ratio:.4f}")


if __name__ == "__main__":
    main()
