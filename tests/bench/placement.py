"""Where marks stand: how near the search comes to its bound and to exact optima.

Printed by `python -m tests.bench.marks`. Twenty small cases against whole-number programmes
(HiGHS); invented frames of 1340 x 1500 mm for the bound, its time and the search's nearness, some
of them against whole-number programmes too; the demo jobs with all their steps: the bound, every
set of the berths' seven marks, and swaps of what stands on the film.
"""

import time
from itertools import combinations
from types import SimpleNamespace

import numpy as np

from nestplan.check.apart_claims import _mistaken
from nestplan.marks.best_noise import best_noise
from nestplan.marks.design import design_of
from nestplan.marks.relax import relaxed
from nestplan.plan import STEPS
from tests.marks.demo_marks import frames_of, planned
from tests.marks.mark_fields import best_whole, contours, invented_field, small_field
from tests.marks.swaps import better_swaps

SMALL_SEEDS, SMALL_MARKS, OPTIMUM_LEAST = range(10), 6, 0.99
FRAME_SEEDS, FRAME_MARKS, BOUND_LEAST = range(5), (10, 12), 0.97
WHOLE_SEEDS, WHOLE_CLOSE = (0, 2), 0.01
DEMO = ("regatta", "berths", "sponsors")


def placement_rows():
    """A row a case; ratios are of the greatest standard deviation, 1 is the best possible."""
    yield from _small()
    yield from _frames()
    for name in DEMO:
        yield from _demo(name)


def _small():
    for corrects in ("similarity", "affine"):
        for seed in SMALL_SEEDS:
            field = small_field(seed)
            design = design_of(corrects, field.places_mm, contours(seed, 80, (600, 500)))
            found = best_noise(field, design, SMALL_MARKS).best
            ratio = float(np.sqrt(best_whole(field, design, SMALL_MARKS) / found.greatest))
            yield {
                "case": f"small {seed}, {corrects}",
                "of_optimum": round(ratio, 5),
                "kept": ratio >= OPTIMUM_LEAST,
            }


def _frames():
    for corrects in ("similarity", "affine"):
        for number in FRAME_MARKS:
            for seed in FRAME_SEEDS:
                field = invented_field(seed)
                design = design_of(corrects, field.places_mm, contours(seed, 400))
                began = time.perf_counter()
                loose = relaxed(field, design, number)
                took = time.perf_counter() - began
                found = best_noise(field, design, number)
                all_took = time.perf_counter() - began - took
                row = {
                    "case": f"frame {seed}, {number} marks, {corrects}",
                    "of_relaxation": round(float(np.sqrt(loose.bound / found.best.greatest)), 5),
                    "of_bound": round(found.near, 5),
                    "relaxation_s": round(took, 3),
                    "bound_and_search_s": round(all_took, 3),
                    "kept": found.near >= BOUND_LEAST and took < 1.0,
                }
                if corrects == "affine" and number == FRAME_MARKS[-1] and seed in WHOLE_SEEDS:
                    best = best_whole(field, design, number, close=WHOLE_CLOSE)
                    row["of_whole_programme"] = round(float(np.sqrt(best / found.best.greatest)), 5)
                yield row


def _demo(name):
    run = planned(name, STEPS)
    before: list[np.ndarray] = []
    most = 0.9e-6 / (2 * len(run.marks.frames))
    for number, (model, field, rows, points) in enumerate(frames_of(run)):
        worth = run.marks.placement.worth[number]
        row = {
            "case": f"{name}, frame {number + 1}, {len(rows)} marks",
            "noise_best_of_bound": round(worth.noise_best, 5),
            "noise_here_of_bound": round(worth.noise_here, 5),
        }
        if name == "berths":
            row["of_every_set"] = round(_of_every_set(model, field, points, len(rows)), 5)

        def is_apart(marks, model=model):
            said, marks = SimpleNamespace(**model), marks - marks.mean(axis=0)
            pairs = [(marks, -marks)]
            pairs += [pair for o in before for pair in ((marks, o), (o, marks), (marks, -o))]
            return all(_mistaken(said, a, b) <= most for a, b in pairs)

        _, looked, better = better_swaps(
            model,
            field.places_mm,
            field.edge,
            list(field.corners),
            rows,
            points,
            spacing_mm=field.spacing_mm,
            apart_mm=field.apart_mm,
            allowed=is_apart,
        )
        row |= {"swaps_that_keep_the_rules": looked, "better_swaps": len(better)}
        row["kept"] = worth.noise_best >= BOUND_LEAST and not better
        before.append(field.places_mm[rows] - field.places_mm[rows].mean(axis=0))
        yield row


def _of_every_set(model, field, points, number):
    """The best set for noise alone of all there are, over the one that is found."""
    design = design_of(model["corrects"], field.places_mm, points)
    free = np.setdiff1d(np.arange(len(field.places_mm)), field.corners)
    least = np.inf
    for more in combinations(free.tolist(), number - len(field.corners)):
        rows = [*field.corners, *more]
        inverse = np.linalg.inv(design.squares[rows].sum(axis=0))
        here = np.einsum("hap,pq,haq->h", design.places, inverse, design.places).max()
        if here < least and field.holds(rows):
            least = here
    return float(np.sqrt(least / best_noise(field, design, number).best.greatest))
