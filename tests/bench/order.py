"""How near to the best the cutting order is: published tours, the demo jobs, many contours.

python -m tests.bench.order --instances FOLDER --json FILE

TSPLIB95 tours (Reinelt 1991) against their optima; the demo jobs' travel against its bound and
against the best of ten runs of a routing solver (OR-Tools) on the same starts; 2 000 contours.
"""

import argparse
import json
import time
from pathlib import Path

import numpy as np

from nestplan.artwork import load_artwork
from nestplan.cut.order import Rings, cutting_order
from nestplan.cut.plan_cut import plan_cut
from nestplan.job import read_job
from nestplan.nest import Budget, never, unwatched
from nestplan.plan import lay_out
from tests.cut.test_search import on_points
from tests.cut.test_shorten import OPTIMA, rounded_tour, tsplib_points

STEPS, RUNS, EACH_S = 3_000, 10, 5


def tours(folder):
    for name, optimum in OPTIMA.items():
        points = tsplib_points(folder / f"{name}.tsp")
        began = time.perf_counter()
        order = on_points(points, closed=True, kicks=60_000)
        took = time.perf_counter() - began
        found = rounded_tour(points, np.concatenate([[0], order + 1]))
        yield row(name, found, optimum, took)


def row(name, value, bound, took, **more):
    gap = round(float(100 * (value / bound - 1)), 2) if bound else None
    shown = {"name": name, "value": round(float(value), 1), "bound": round(float(bound), 1)}
    return {**shown, "gap_percent": gap, "seconds": round(took, 2), **more}


def demo_jobs(solver):
    for name in ("berths", "regatta", "sponsors"):
        job = read_job(next((Path("demo_jobs") / name).glob("*.toml")))
        artwork = load_artwork(job)
        budget = Budget(steps=STEPS, seed=1, workers=2, stopped=never)
        nest, marks, _ = lay_out(job, artwork, budget, unwatched)
        plan_cut(artwork.decals, nest, marks)  # compiled
        began = time.perf_counter()
        cut = plan_cut(artwork.decals, nest, marks)
        took = time.perf_counter() - began
        more = {}
        if solver:
            best = 0.0
            for frame, mark in zip(cut.frames, marks.frames, strict=True):
                stops = [(mark.marks[0].x_mm, mark.marks[0].y_mm)]
                for kind in ("kiss", "through"):
                    starts = [tuple(r.points_mm[0]) for r in frame.strokes if r.kind == kind]
                    if starts:
                        length, last = best_of_ten(np.array([stops[-1], *starts]))
                        best, stops = best + length, [last]
            more = {"times_other_solver": round(float(cut.travel_mm / best), 4)}
        yield row(name, cut.travel_mm, cut.travel_bound_mm, took, **more)


def best_of_ten(points):
    """An open way from the first point by OR-Tools: its length and where it ends."""
    from ortools.constraint_solver import pywrapcp, routing_enums_pb2

    whole = np.rint(1000 * np.hypot(*(points[:, None] - points[None]).T)).astype(int).T
    whole[:, 0] = 0  # the way back costs nothing
    strategies = routing_enums_pb2.FirstSolutionStrategy
    firsts = [
        strategies.PATH_CHEAPEST_ARC,
        strategies.SAVINGS,
        strategies.CHRISTOFIDES,
        strategies.PARALLEL_CHEAPEST_INSERTION,
        strategies.LOCAL_CHEAPEST_INSERTION,
    ]
    meta = routing_enums_pb2.LocalSearchMetaheuristic
    best = (np.inf, None)
    for run in range(RUNS):
        manager = pywrapcp.RoutingIndexManager(len(points), 1, 0)
        model = pywrapcp.RoutingModel(manager)
        index = model.RegisterTransitMatrix(whole.tolist())
        model.SetArcCostEvaluatorOfAllVehicles(index)
        asked = pywrapcp.DefaultRoutingSearchParameters()
        asked.first_solution_strategy = firsts[run % len(firsts)]
        asked.local_search_metaheuristic = (meta.GUIDED_LOCAL_SEARCH, meta.TABU_SEARCH)[run % 2]
        asked.time_limit.seconds = EACH_S
        found = model.SolveWithParameters(asked)
        if found is None or found.ObjectiveValue() / 1000 >= best[0]:
            continue
        at, last = model.Start(0), 0
        while not model.IsEnd(at):
            last, at = manager.IndexToNode(at), found.Value(model.NextVar(at))
        best = found.ObjectiveValue() / 1000, tuple(points[last])
    return best


def many(count=2_000):
    """Discs of 12 mm all over a frame: seconds for the order alone."""
    rng = np.random.default_rng(3)
    angles = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    disc = 6 * np.column_stack([np.cos(angles), np.sin(angles)])
    cells = np.argwhere(np.ones((80, 100)))[rng.permutation(8_000)[:count]] * 15.0
    corners = (cells[:, None] + disc[None]).reshape(-1, 2)
    rings = Rings(
        corners=corners,
        first=np.arange(0, len(corners) + 1, 24),
        inside=np.full(count, -1),
        rank=np.zeros(count, dtype=np.int64),
    )
    cutting_order(rings, np.zeros(2), kicks=1)  # compiled
    began = time.perf_counter()
    order, start = cutting_order(rings, np.zeros(2))
    took = time.perf_counter() - began
    stops = np.vstack([[0.0, 0.0], corners[start[order]]])
    yield row(f"{count} contours", np.hypot(*np.diff(stops, axis=0).T).sum(), 0.0, took)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--instances", type=Path, required=True)
    parser.add_argument("--no-solver", action="store_true", help="leave OR-Tools out")
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    rows = []
    for part in (tours(asked.instances), many(), demo_jobs(not asked.no_solver)):
        for each in part:
            print(each, flush=True)
            rows.append(each)
    if asked.json:
        asked.json.write_text(json.dumps(rows, indent=1) + "\n")
