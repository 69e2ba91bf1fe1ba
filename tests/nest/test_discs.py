"""Straight lines of discs, for true circles and for the polygons that outlines are."""

from math import pi, sqrt

import numpy as np
import pytest
import shapely

from nestplan.nest.discs import Discs, all_lines, is_round
from nestplan.nest.engine import Budget
from tests.nest.hand_shapes import QUARTER, RING, disc, shape, task
from tests.nest.test_outlines import assert_legal
from tests.nest.test_patterns import many

BUDGET = Budget(steps=1, seed=1)


class Circles:
    """Centres of true circles keep a distance."""

    def __init__(self, apart_mm):
        self.apart_mm = apart_mm

    def up_mm(self, aside_mm):
        return sqrt(max(self.apart_mm**2 - aside_mm**2, 0.0))

    aside_mm = up_mm


def shortest(diameter, copies, width_mm):
    """The shortest lines of true circles that touch, and the film they take."""
    lines = all_lines(Circles(diameter), copies, width_mm - diameter)
    found = min(lines, key=lambda each: each.length_mm)
    return found, found.length_mm + diameter


@pytest.mark.parametrize("height", [0.0, 0.3, 0.5, 0.8, sqrt(3) / 2])
@pytest.mark.parametrize("copies", [2, 3, 10, 41])
def test_a_strip_too_narrow_for_two_rows_holds_a_zig_zag(height, copies):
    """Two centres differ by sqrt(1 - h^2) lengthwise at least, and the zig-zag attains it.

    Elementary; n circles of d = 1 on a strip of 1 + h take 1 + (n - 1) sqrt(1 - h^2).
    """
    assert shortest(1.0, copies, 1.0 + height)[1] == pytest.approx(
        1 + (copies - 1) * sqrt(1 - height**2), abs=1e-12
    )


# Counts by hand; the caps are Oler's (Acta Math. 105, 1961): circles in W x L are at most
# (2 / sqrt 3)(W - d)(L - d) / d^2 + (W + L - 2 d) / d + 1.
@pytest.mark.parametrize(
    ("wide", "long", "diameter", "grid", "hexagonal", "cap"),
    [
        (600, 1000, 50, 240, 254, 272),
        (600, 1000, 60, 160, 181, 188),
        (300, 300, 60, 25, 23, 27),
        (100, 100, 10, 100, 105, 112),
    ],
)
def test_as_many_fit_as_in_square_or_hexagonal_rows_and_never_more_than_oler_allows(
    wide, long, diameter, grid, hexagonal, cap
):
    assert shortest(diameter, max(grid, hexagonal), wide)[1] <= long + 1e-9
    assert shortest(diameter, cap + 1, wide)[1] > long


def test_many_discs_come_near_the_densest_lattice_and_stay_below_it():
    """pi / sqrt 12 (Thue 1910, L. Fejes Toth 1940), in any convex container; from memory.

    An edge of the film leaves about a quarter of a disc in every row free.
    """
    for wide in (10.0, 30.0, 100.0):
        copies = int(10 * wide**2)
        density = copies * pi / 4 / (wide * shortest(1.0, copies, wide)[1])
        assert (1 - 0.6 / wide) * pi / sqrt(12) < density < pi / sqrt(12)


def test_full_rows_stand_square_where_the_count_asks_for_it():
    """11 on room for 2.3 between centres: rows of 3 at 1.15, one of 2 nested, two rows square."""
    lines, length_mm = shortest(1.0, 11, 3.3)

    assert length_mm == pytest.approx(2 + 2 * sqrt(1 - 0.575**2), abs=1e-12)
    assert (lines.full, lines.short, lines.beside) == (3, 1, 1)


@pytest.mark.parametrize("copies", [1, 2, 7, 11, 23, 24, 25, 52, 53])
@pytest.mark.parametrize("width", [1.0, 1.4, 1.9, 2.3, 3.74, 5.02])
def test_all_centres_lie_in_the_room_and_none_too_near(copies, width):
    room = width - 1.0
    for lines in all_lines(Circles(1.0), copies, room):
        centres = lines.centres()[:copies]
        across, along = centres.T[::-1] if lines.along else centres.T
        assert len(centres) == copies
        assert min(across.min(), along.min()) >= -1e-9
        assert across.max() <= room + 1e-9
        assert along.max() <= lines.length_mm + 1e-9
        points = shapely.points(centres)
        near = shapely.STRtree(points).query(points, predicate="dwithin", distance=1 - 1e-9)
        assert near.shape[1] == copies, lines


@pytest.mark.parametrize(
    ("corners", "copies", "width_mm"), [(24, 23, 300.0), (33, 60, 301.7), (64, 120, 600.0)]
)
def test_polygons_are_laid_legally_and_not_longer_than_the_circles_round_them(
    corners, copies, width_mm
):
    asked = many(disc(45, corners), copies, width_mm, 3.0)
    found = Discs()(asked, BUDGET)
    assert_legal(asked, found)
    across_mm = 45 / np.cos(pi / corners)
    lines = all_lines(Circles(across_mm + 3.0), copies, width_mm - across_mm)
    assert found.length_mm <= min(each.length_mm for each in lines) + across_mm + 1e-6


def test_only_what_is_round_counts_as_a_disc():
    """A ring does, by its outer contour; a hexagon's corners lie on a circle, but few."""
    assert is_round(task(shape("disc", 3), width_mm=200.0))
    assert is_round(many(RING, 3, 200.0, 2.0))
    assert not is_round(many(disc(40, 6), 3, 200.0, 2.0))
    for name in ("rectangle", "star", "sickle", "islands"):
        assert not is_round(task(shape(name, 3), width_mm=200.0))


def test_edges_are_kept_and_turns_that_change_the_outline_are_tried():
    """Of 25 corners, turned by quarters: four outlines."""
    asked = task(shape("disc", 9, QUARTER, edge_mm=4.0), width_mm=100.0)
    assert_legal(asked, Discs()(asked, BUDGET))
    asked = many(disc(30, 25), 9, 100.0, 2.0)
    assert_legal(asked, Discs()(asked, BUDGET))
