"""Cells with six sides on average: the greedy choice is the least, and no cell is overstated."""

from itertools import product
from math import pi, tan

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.nest.bound_area import area_mm
from nestplan.nest.bound_hexagon import least_of_cells_mm2, mixed_hexagons_mm
from nestplan.nest.hexagon import least_polygons_mm2
from tests.nest.bound_tasks import disc_round, equal, mixed
from tests.strategies import rounds


@settings(max_examples=20)
@given(
    st.lists(st.lists(st.floats(0, 10), min_size=5, max_size=5), min_size=2, max_size=3),
    st.integers(1, 2),
)
def test_no_choice_of_sides_has_less_area(saved, copies):
    """All choices of 3 to 8 sides a copy with at most six on average, tried one by one."""
    cells = np.array([100 - np.cumsum([0, *sorted(row, reverse=True)]) for row in saved])
    each = np.repeat(cells, copies, axis=0)[: 4 * copies]
    best = min(
        sum(row[k] for row, k in zip(each, chosen, strict=True))
        for chosen in product(range(6), repeat=len(each))
        if sum(chosen) <= 3 * len(each)
    )
    rows = len(each) // copies

    assert least_of_cells_mm2(cells[:rows], np.full(rows, copies)) <= best + 1e-9


@pytest.mark.parametrize("sides", [4, 5, 6, 7, 8, 9])
def test_cells_round_a_disc_are_regular(sides):
    """k tan(pi / k) r^2, never overstated; the polygon in the disc has a little less."""
    corners = 2 * pi * np.arange(72) / 72
    disc = np.column_stack((np.cos(corners), np.sin(corners)))
    exact = sides * tan(pi / sides)

    assert 0.99 * exact < least_polygons_mm2(disc, sides)[-1] <= exact


@settings(max_examples=8)
@given(rounds(), st.integers(4, 8), st.integers(0, 2**32 - 1))
def test_no_polygon_drawn_round_another_is_smaller(outline, sides, seed):
    """Tangents at random angles, then shaken as long as the polygon shrinks."""
    ring = outline.rings[0]
    least = least_polygons_mm2(ring, sides)[-1]
    rng = np.random.default_rng(seed)
    angles = np.sort(2 * pi * (np.arange(sides) + rng.uniform(0, 0.6, sides)) / sides)
    drawn, step = round_about(ring, angles), 0.3
    for _ in range(150):
        shaken = np.sort((angles + rng.normal(0, step, sides)) % (2 * pi))
        tried, step = round_about(ring, shaken), 0.97 * step
        if tried < drawn:
            angles, drawn = shaken, tried

    assert drawn >= least * (1 - 1e-9)


def round_about(ring, angles):
    """Area that half planes touching a ring leave, facing these ways."""
    left = shapely.box(-500, -500, 500, 500)
    for normal in np.column_stack((np.cos(angles), np.sin(angles))):
        across = 2000 * np.array([-normal[1], normal[0]])
        at = normal * (ring @ normal).max()
        corners = [at - across, at + across, at + across - 2000 * normal]
        left &= shapely.Polygon([*corners, at - across - 2000 * normal])
    return left.area


def test_discs_of_two_sizes_leave_film_free_whatever_their_order():
    """Cells of six sides each: 2 sqrt(3) r^2, the area bound with pi r^2 says less."""
    discs = [equal(disc_round(d, 96), 200, strip=900).shapes[0] for d in (50, 49)]
    task = mixed((1, 1, 1), (1, 1, 1), strip=900)
    task = type(task)(shapes=tuple(discs), width_mm=900.0, apart_mm=task.apart_mm)
    hexagons = 200 * 2 * 3**0.5 * (25**2 + 24.5**2) / 900

    assert area_mm(task, 1) < 0.92 * hexagons
    assert 0.99 * hexagons < mixed_hexagons_mm(task, 1) < 1.003 * hexagons


def test_boxes_without_gutter_are_their_own_cells():
    assert mixed_hexagons_mm(mixed((50, 30, 8), (20, 40, 9), strip=200), 1) == 0.0
