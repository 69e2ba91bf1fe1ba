"""Fixed areas as such: marks, lanes, a frame with a hole in it; kept clear of to the letter."""

from math import sqrt

import numpy as np
import pytest
import shapely

from nestplan.geometry.outline import outline_of
from nestplan.nest.engine import Budget
from nestplan.nest.outlines import Outlines
from nestplan.nest.race import race
from nestplan.nest.task import Obstacle
from nestplan.nest.verify import verify
from tests.nest.hand_shapes import disc, shape, task
from tests.nest.test_outlines import assert_legal, lying

BUDGET = Budget(steps=150, seed=1)
ONE = Budget(steps=5, seed=1)  # a single piece needs no search


def obstacle(area, apart_mm=0.0):
    return Obstacle(outline=outline_of(area), apart_mm=apart_mm)


def at(area, x, y):
    return shapely.transform(area, lambda points: points + (x, y))


def test_a_lane_narrows_the_strip_just_by_its_width():
    """Plates 40 wide, two and a gutter are 83: beside a lane of 17 they fill 100 to the hair.

    Were the lane kept clear of by a thousandth more, all four would lie in one column.
    """
    lane = obstacle(shapely.box(83.0, 0.0, 100.0, 500.0))
    plates = task(shape("rectangle", 4, (0.0,)), width_mm=100.0, obstacles=(lane,))
    found = Outlines()(plates, BUDGET)

    assert_legal(plates, found)
    assert 2 * 25 + 3 - 1e-6 <= found.length_mm < 2 * 25 + 3 + 1


def test_marks_in_the_corners_push_plates_by_just_their_clear_zone():
    """A mark of 6 in each lower corner, 3 clear: one plate of 40 has room between them."""
    marks = tuple(
        obstacle(at(shapely.box(-3, -3, 3, 3), x, 3.0), apart_mm=3.0) for x in (3.0, 55.0)
    )
    plates = task(shape("rectangle", 1, (0.0,)), width_mm=58.0, obstacles=marks)
    found = Outlines()(plates, ONE)

    assert_legal(plates, found)
    assert found.length_mm == pytest.approx(25.0, abs=1e-6)
    assert found.placements.centre_mm[0, 0] == pytest.approx(29.0, abs=1e-6)


def test_a_mark_a_hair_wider_lifts_the_plate_over_its_corners():
    """3.001 from a corner that lies 3 aside: the plate begins sqrt(3.001² - 3²) above the marks."""
    marks = tuple(
        obstacle(at(shapely.box(-3, -3, 3, 3), x, 3.0), apart_mm=3.001) for x in (3.0, 55.0)
    )
    plates = task(shape("rectangle", 1, (0.0,)), width_mm=58.0, obstacles=marks)
    found = Outlines()(plates, ONE)

    assert_legal(plates, found)
    least_mm = 6.0 + sqrt(3.001**2 - 9.0) + 25.0
    assert least_mm - 1e-6 <= found.length_mm < least_mm + 0.2


def test_the_hole_of_an_obstacle_is_film_like_any_other():
    """A frame fills the strip; its window holds a plate, else the strip is twice as long."""
    ring = shapely.box(0, 0, 100, 60).difference(shapely.box(25, 15, 75, 50))
    plates = task(shape("rectangle", 1, (0.0,)), width_mm=100.0, obstacles=(obstacle(ring, 5.0),))
    found = race(plates, Budget(steps=1000, seed=1)).best

    assert verify(plates, found) == ()
    box = lying(plates, found)[0].bounds
    assert box[0] >= 30 - 1e-6 and box[2] <= 70 + 1e-6  # 40 wide in a window of 50 less 2 x 5
    assert box[1] >= 20 - 1e-6 and box[3] <= 45 + 1e-6  # and 25 high in 35 less 2 x 5


def test_obstacles_never_shorten_and_the_race_always_answers():
    rng = np.random.default_rng(4)
    plates = task(shape("rectangle", 6), shape("star", 4), width_mm=140.0)
    for _ in range(3):
        places = rng.uniform((0, 0), (140, 120), (5, 2))
        fixed = tuple(obstacle(at(disc(12), *place), 3.0) for place in places.tolist())
        asked = task(*plates.shapes, width_mm=140.0, obstacles=fixed)
        best = race(asked, Budget(steps=1, seed=1)).best
        assert verify(asked, best) == ()


def test_a_dent_of_an_obstacle_is_used():
    """A hook leaves a bay of 31 by 46: the plate of 25 by 40 stands upright in it."""
    hook = shapely.box(0, 0, 80, 100).difference(shapely.box(40, 0, 77, 46))
    plates = task(shape("rectangle", 1), width_mm=80.0, obstacles=(obstacle(hook, 3.0),))
    found = Outlines()(plates, ONE)

    assert_legal(plates, found)
    assert found.length_mm <= 43.0 + 1e-6
