"""Sets of whole marks: near the optimum, and no swap is left that would help."""

from itertools import combinations

import numpy as np
import pytest

from nestplan.marks.aim import noise_aim, total_aim
from nestplan.marks.best_noise import best_noise
from nestplan.marks.design import design_of, greatest_noise
from nestplan.marks.exchange import judged, rounded, swapped, with_one_more
from nestplan.marks.moments import moments
from tests.marks.error_samples import ALL, CORRECTS, model
from tests.marks.mark_fields import best_of_all, best_whole, contours, invented_field, small_field


def best_found(field, design, number):
    found = best_noise(field, design, number)
    return found, found.best


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("corrects", ["similarity", "affine"])
def test_the_search_meets_the_exact_optimum_of_small_cases(corrects, seed):
    """source of the reference: whole-number programmes with cuts, HiGHS; and every set."""
    field = small_field(seed)
    design = design_of(corrects, field.places_mm, contours(seed, 80, (600, 500)))

    _, found = best_found(field, design, 6)

    optimum = best_whole(field, design, 6)
    assert optimum == pytest.approx(best_of_all(field, design, 6), rel=2e-4)
    assert np.sqrt(optimum / found.greatest) > 0.99


@pytest.mark.parametrize(
    ("corrects", "number"), [("turn", 10), ("similarity", 10), ("affine", 10), ("affine", 12)]
)
def test_with_windows_the_search_is_within_three_percent_of_the_bound(corrects, number):
    field = invented_field(7)
    design = design_of(corrects, field.places_mm, contours(7))

    bound, found = best_found(field, design, number)

    assert field.holds(found.rows)
    assert np.sqrt(bound.bound / found.greatest) > 0.97


@pytest.mark.parametrize("corrects", [each for each in CORRECTS if each not in ("none", "strips")])
def test_the_fast_sum_is_the_prediction_of_the_moments(corrects):
    field, points = invented_field(8, inside=20), contours(8, 50)
    told = model(corrects, **ALL)
    design = design_of(corrects, field.places_mm, points, hull=False)
    rows = sorted([*field.corners, 20, 40, 60, 110, len(field.places_mm) - 3])

    found = judged(total_aim(told, design, field.places_mm, points), rows)

    errors = moments(told, field.places_mm[rows], points)
    square = (errors.mean_mm**2).sum(axis=1) + np.trace(errors.covariance_mm2, axis1=1, axis2=2)
    assert found.greatest == pytest.approx(square.max(), rel=1e-9)
    noise = noise_aim(design)
    assert judged(noise, rows).greatest == pytest.approx(greatest_noise(design, rows), rel=1e-9)


def test_neither_one_nor_two_swaps_lower_the_total():
    """Every set that differs by one or two marks is judged anew by another path."""
    field, points = small_field(1), contours(3, 40, (600, 500))
    design = design_of("affine", field.places_mm, points, hull=False)
    aim = total_aim(model("affine", **ALL), design, field.places_mm, points)
    start = rounded(field, np.ones(len(field.places_mm)), 7)

    found = swapped(field, aim, start, pairs=True)

    free = [row for row in found.rows if row not in field.corners]
    others = [row for row in range(len(field.places_mm)) if row not in found.rows]
    looked = 0
    for number in (1, 2):
        for out in combinations(free, number):
            for into in combinations(others, number):
                rows = [row for row in found.rows if row not in out] + list(into)
                if field.holds(rows):
                    looked += 1
                    assert judged(aim, rows).greatest >= found.greatest * (1 - 1e-6)
    assert looked > 50


def test_one_more_mark_is_the_best_of_all():
    field, points = small_field(1), contours(4, 40, (600, 500))
    design = design_of("affine", field.places_mm, points, hull=False)
    aim = total_aim(model("affine", **ALL), design, field.places_mm, points)
    rows = (*field.corners, 2)

    found = with_one_more(field, aim, rows)

    each = [
        judged(aim, (*rows, row)).greatest
        for row in range(len(field.places_mm))
        if field.holds((*rows, row))
    ]
    assert found.greatest == pytest.approx(min(each), rel=1e-9)


def test_strips_keep_as_many_marks_on_both_edges():
    field = invented_field(9, alike=True, inside=30)
    knots = np.linspace(0, 1500, 5)
    design = design_of("strips", field.places_mm, contours(9), knots)

    bound, found = best_found(field, design, 12)

    edges = field.edge[list(found.rows)]
    assert (edges == 0).sum() == (edges == 1).sum()
    assert np.sqrt(bound.bound / found.greatest) > 0.9
