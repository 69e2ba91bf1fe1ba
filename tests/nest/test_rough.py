"""Rough shapes of a search in haste: what is legal for them is legal for the true ones."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.geometry.outline import outline_of
from nestplan.nest import Budget
from nestplan.nest.outlines import Outlines
from nestplan.nest.race import race
from nestplan.nest.rough import BAY_MM, BAY_SHARE, ROUGH_MM, rough
from nestplan.nest.task import Shape, Task
from nestplan.nest.verify import verify


def blob(seed: int, size_mm: float) -> shapely.Polygon:
    """A wavy disc of many corners, bays and all."""
    rng = np.random.default_rng(seed)
    angles = np.linspace(0, 2 * np.pi, 240, endpoint=False)
    waves = sum(rng.uniform(0, 0.12) * np.sin(k * angles + rng.uniform(0, 6)) for k in range(2, 9))
    return shapely.Polygon(
        size_mm / 2 * (1 + waves)[:, np.newaxis] * np.column_stack([np.cos(angles), np.sin(angles)])
    )


@given(st.integers(0, 10_000), st.sampled_from([8.0, 60.0, 300.0]))
def test_a_rough_shape_lacks_no_more_than_it_says_and_fills_only_bays(seed, size_mm):
    true = blob(seed, size_mm)

    found = rough(true)

    assert shapely.difference(true, found.buffer(ROUGH_MM + 1e-9)).is_empty
    left, bottom, right, top = true.bounds
    bay_mm = min(BAY_MM, BAY_SHARE * max(right - left, top - bottom))
    assert shapely.difference(found, true.buffer(ROUGH_MM + bay_mm + 1e-9)).is_empty
    assert shapely.difference(found, true.convex_hull.buffer(ROUGH_MM + 1e-9)).is_empty
    assert len(found.exterior.coords) < len(true.exterior.coords)


def mixed(copies: int) -> Task:
    """Wavy discs of two sizes, two millimetres apart."""
    shapes = tuple(
        Shape(
            name=str(seed),
            outline=outline_of(blob(seed, size_mm)),
            copies=copies,
            angles_deg=(0.0, 90.0, 180.0, 270.0),
        )
        for seed, size_mm in ((3, 70.0), (5, 40.0))
    )
    return Task(shapes=shapes, width_mm=300.0, apart_mm=((2.0, 2.0), (2.0, 2.0)))


def test_a_layout_of_rough_shapes_is_legal_for_the_true_ones():
    task = mixed(6)

    layout = Outlines()(task, Budget(steps=200, seed=1, workers=1, haste=True))

    assert layout is not None
    assert not verify(task, layout)


def test_haste_costs_little_film():
    task = mixed(6)
    budget = Budget(steps=400, seed=1, workers=1)

    exact = Outlines()(task, budget)
    hasty = Outlines()(task, Budget(steps=400, seed=1, workers=1, haste=True))

    assert exact is not None
    assert hasty is not None
    assert hasty.length_mm == pytest.approx(exact.length_mm, rel=0.05)


def test_equal_frames_of_two_quantities_are_searched_once():
    one, other = mixed(5), mixed(5)
    budget = Budget(steps=60, seed=1, workers=1, haste=True)

    assert race(one, budget) is race(other, budget)
    assert race(mixed(6), budget) is not race(one, budget)


def test_a_search_that_was_stopped_is_not_taken_for_a_full_one():
    task = mixed(4)
    stopped = Budget(steps=60, seed=1, workers=1, haste=True, stopped=lambda: True)
    full = Budget(steps=60, seed=1, workers=1, haste=True)

    cut_short = race(task, stopped)

    assert race(task, full) is not cut_short
    assert race(task, full) is race(task, full)
