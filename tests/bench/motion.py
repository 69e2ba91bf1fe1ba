"""Times along fifty random paths of each kind, against code that is not ours.

python -m tests.bench.motion --json FILE
"""

import argparse
import json
from pathlib import Path

import numpy as np

from nestplan.clock.motion import moves_s, path_s
from tests.clock.outside import (
    fine_corner_path_s,
    point_to_point_s,
    random_corners,
    spline_of,
    spline_s,
)
from tests.clock.test_outside import BY_AXIS, PACE

SEEDS = range(50)


def rows():
    """A row a kind of path: greatest and mean difference, percent."""
    lengths = np.random.default_rng(0).uniform(0.5, 400, len(SEEDS))
    ours = moves_s(np.column_stack([lengths, 0 * lengths]), BY_AXIS)
    yield row("straight moves", ours, point_to_point_s(lengths, 400.0, 5000.0))
    splines = [spline_of(seed) for seed in SEEDS]
    ours = [path_s(s(np.linspace(s.x[0], s.x[-1], 1500)), BY_AXIS) for s in splines]
    wanted = [spline_s(s, BY_AXIS.speeds_mm_s, BY_AXIS.accelerations_mm_s2) for s in splines]
    yield row("smooth splines, limits of each axis", ours, wanted)
    paths = [random_corners(seed) for seed in SEEDS]
    ours = [path_s(points, PACE) for points in paths]
    yield row("polylines with corners", ours, [fine_corner_path_s(p, PACE) for p in paths])


def row(kind, ours, wanted):
    off = 100 * (np.array(ours) / np.array(wanted) - 1)
    return {
        "name": kind,
        "paths": len(off),
        "worst_percent": round(float(np.abs(off).max()), 3),
        "mean_percent": round(float(off.mean()), 3),
    }


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    found = list(rows())
    for each in found:
        print(each)
    if asked.json:
        asked.json.write_text(json.dumps(found, indent=1) + "\n")
