"""Weights of chords: no line holds more than one, and lengths add up as drawn by hand."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.geometry.outline import turn
from nestplan.nest.bound_lines import Scale, big_u, lines_across_mm, phi, u
from nestplan.nest.bound_profiles import profile_of
from tests.nest.bound_tasks import NONE, box, equal, mixed
from tests.strategies import rounds

WEIGHTS = [u(k) for k in range(1, 21)] + [
    make(epsilon) for epsilon in (0.07, 0.2, 0.25, 0.31, 1 / 3, 0.4, 0.49) for make in (big_u, phi)
]


def fillings(rng, count):
    """Lengths that together fill 1 or less, many of them simple fractions."""
    for _ in range(count):
        parts = rng.integers(1, 12)
        lengths = rng.dirichlet(np.full(parts, rng.uniform(0.3, 5))) * rng.uniform(0.7, 1.0)
        yield lengths
        yield np.full(parts, 1 / parts)
        yield np.minimum(np.cumsum(np.full(parts, 1 / 12)) / parts, 1 / parts)


def test_no_weight_gives_more_than_one_to_lengths_that_fit():
    """What dual feasible means, for 900 random and simple fillings."""
    rng = np.random.default_rng(7)
    for lengths in fillings(rng, 300):
        assert lengths.sum() <= 1 + 1e-12
        for weight in WEIGHTS:
            assert weight.of(lengths).sum() <= 1 + 1e-9


@pytest.mark.parametrize(
    ("weight", "length"),
    [(u(1), 180.0), (u(2), 140.0), (u(3), 153.33), (big_u(0.35), 137.6), (big_u(0.49), 150.6)]
    + [(phi(0.35 - 1e-6), 140.0), (phi(0.3), 153.33), (phi(0.25), 160.0)],
)
def test_boxes_weigh_what_the_example_says(weight, length):
    """W = 100: 3 x (60 x 40), 2 x (51 x 30), 4 x (35 x 25), worked elsewhere with the functions
    of Fekete & Schepers 2001 and Martello, Monaci & Vigo 2003."""
    if weight.own == (0.35, 0.65):
        weight = big_u(0.35 - 1e-6)  # ours begins just beyond epsilon
    scale = Scale(weights=(weight,), width_mm=100.0)
    sizes = [(60, 40, 3), (51, 30, 2), (35, 25, 4)]
    rings = [np.array([(0, 0), (w, 0), (w, h), (0, h)], dtype=float) for w, h, _ in sizes]
    lengths = [scale.lengths_mm(profile_of(turn(ring, 90.0)))[0] for ring in rings]

    total = sum(n * length for (_, _, n), length in zip(sizes, lengths, strict=True))
    assert total == pytest.approx(length, abs=0.01)


@settings(max_examples=20)
@given(rounds())
def test_a_contour_weighs_as_much_as_its_chords_one_by_one(outline):
    """Against shapely: 800 lines across the contour, each weighed."""
    scale = Scale(weights=tuple(WEIGHTS), width_mm=1.3 * outline.width_mm)
    low, high = outline.bounds_mm[1], outline.bounds_mm[3]
    at = low + (high - low) * (np.arange(800) + 0.5) / 800
    lines = shapely.linestrings([[(-100, y), (100, y)] for y in at])
    chords = shapely.length(shapely.intersection(lines, outline.region)) / scale.width_mm
    expected = [weight.of(chords).sum() * (high - low) / 800 for weight in WEIGHTS]

    lengths = scale.lengths_mm(profile_of(turn(outline.rings[0], 90.0)))

    assert lengths == pytest.approx(expected, abs=5e-3 * (high - low))


def test_only_two_boxes_wider_than_a_third_lie_side_by_side():
    """20 of 45 x 30 and 10 of 40 x 50, on 100: half of (20 x 30 + 10 x 50) at least."""
    task = mixed((45, 30, 20), (40, 50, 10), strip=100)

    assert lines_across_mm(task, 1) == pytest.approx(550.0)


def test_boxes_that_may_turn_are_weighed_by_the_lighter_turn():
    """60 x 40 on 100 upright and turned: 40 / 1 of length one abreast, 60 / 2 two abreast."""
    upright = equal(box(60, 40), 10, strip=100, angles_deg=NONE)
    turned = equal(box(60, 40), 10, strip=100, angles_deg=(0.0, 90.0))

    assert lines_across_mm(upright, 1) == pytest.approx(400.0)
    assert 240.0 <= lines_across_mm(turned, 1) <= 240.0 + 1e-6  # 40 and 60 fill the width


@settings(max_examples=20)
@given(st.lists(st.tuples(st.integers(5, 60), st.integers(5, 60)), min_size=2, max_size=5))
def test_a_mixture_of_weights_proves_no_less_than_the_area(sizes):
    task = mixed(*((w, h, 7) for w, h in sizes), strip=97, angles_deg=(0.0, 90.0))
    area = sum(7 * w * h for w, h in sizes) / 97

    assert lines_across_mm(task, 1) >= area - 1e-6
