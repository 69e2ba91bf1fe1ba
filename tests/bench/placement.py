"""Where marks stand: how near the search comes to its bound and to exact optima.

Printed by `python -m tests.bench.marks`. Twenty small cases against whole-number programmes
(HiGHS); invented frames of 1340 x 1500 mm for the bound, its time and the search's nearness.
"""

import time

import numpy as np

from nestplan.marks.aim import noise_aim
from nestplan.marks.design import design_of
from nestplan.marks.exchange import rounded, shaken, swapped
from nestplan.marks.relax import relaxed
from tests.marks.mark_fields import best_whole, contours, invented_field, small_field

SMALL_SEEDS, SMALL_MARKS, OPTIMUM_LEAST = range(10), 6, 0.99
FRAME_SEEDS, FRAME_MARKS, BOUND_LEAST = range(5), (10, 12), 0.97


def placement_rows() -> list[dict[str, object]]:
    """A row a case; ratios are of the greatest standard deviation, 1 is the best possible."""
    return [*_small(), *_frames()]


def _found(field, design, number):
    began = time.perf_counter()
    bound = relaxed(field, design, number)
    took = time.perf_counter() - began
    start = swapped(field, noise_aim(design), rounded(field, bound.weights, number))
    return bound, took, shaken(field, noise_aim(design), start, times=30)


def _small():
    for corrects in ("similarity", "affine"):
        for seed in SMALL_SEEDS:
            field = small_field(seed)
            design = design_of(corrects, field.places_mm, contours(seed, 80, (600, 500)))
            _, _, found = _found(field, design, SMALL_MARKS)
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
                bound, took, found = _found(field, design, number)
                ratio = float(np.sqrt(bound.bound / found.greatest))
                yield {
                    "case": f"frame {seed}, {number} marks, {corrects}",
                    "of_bound": round(ratio, 5),
                    "bound_s": round(took, 3),
                    "kept": ratio >= BOUND_LEAST and took < 1.0,
                }
