"""Motion against libraries and integrations that share no code with it."""

import numpy as np
import pytest

from nestplan.clock.motion import Pace, moves_s, path_s
from tests.clock.outside import (
    fine_corner_path_s,
    point_to_point_s,
    random_corners,
    spline_of,
    spline_s,
)

PACE = Pace(speed_mm_s=500.0, acceleration_mm_s2=5000.0, corner_mm=0.05)
BY_AXIS = Pace(
    speed_mm_s=400.0,
    acceleration_mm_s2=5000.0,
    corner_mm=0.05,
    web_speed_mm_s=250.0,
    web_acceleration_mm_s2=2500.0,
)


def test_straight_moves_take_what_a_trajectory_library_says():
    lengths = np.random.default_rng(1).uniform(0.5, 400, 50)
    zero = np.zeros(50)

    across = moves_s(np.column_stack([lengths, zero]), BY_AXIS)
    onward = moves_s(np.column_stack([zero, lengths]), BY_AXIS)

    assert across == pytest.approx(point_to_point_s(lengths, 400.0, 5000.0), abs=1e-9)
    assert onward == pytest.approx(point_to_point_s(lengths, 250.0, 2500.0), abs=1e-9)


def test_a_slanting_move_is_held_up_by_the_slower_axis():
    """At 3 : 4 the web makes 0.8 of the way: 250 / 0.8 = 312.5 mm/s and 2500 / 0.8 = 3125 mm/s²."""
    (found,) = moves_s(np.array([[120.0, 160.0]]), BY_AXIS)

    assert found == pytest.approx(200 / 312.5 + 312.5 / 3125)


@pytest.mark.parametrize("seed", range(4))
def test_smooth_splines_take_what_a_path_library_says_within_3_percent(seed):
    spline = spline_of(seed)
    points = spline(np.linspace(spline.x[0], spline.x[-1], 1500))

    wanted = spline_s(spline, BY_AXIS.speeds_mm_s, BY_AXIS.accelerations_mm_s2)

    assert path_s(points, BY_AXIS) == pytest.approx(wanted, rel=0.03)


def test_a_circle_within_limits_of_each_axis():
    """Radius 20 mm, 300 mm/s and 2000 mm/s² on either axis, rest to rest: 0.714385 s by toppra
    0.6.10, once."""
    pace = Pace(speed_mm_s=300.0, acceleration_mm_s2=2000.0, corner_mm=0.05, web_speed_mm_s=300.0)
    angles = np.linspace(0, 2 * np.pi, 1001)

    found = path_s(20 * np.column_stack([np.cos(angles), np.sin(angles)]), pace)

    assert found == pytest.approx(0.714385, rel=0.01)


@pytest.mark.parametrize("seed", range(4))
def test_polylines_with_corners_take_what_fine_steps_say_within_3_percent(seed):
    points = random_corners(seed)

    assert path_s(points, PACE) == pytest.approx(fine_corner_path_s(points, PACE), rel=0.03)


def test_a_web_as_quick_as_the_head_is_no_slower_than_one_mover():
    """Each axis alone may do what the path as a whole may: diagonals gain up to root two."""
    alike = Pace(speed_mm_s=500.0, acceleration_mm_s2=5000.0, corner_mm=0.05, web_speed_mm_s=500.0)
    points = random_corners(9)

    assert path_s(points, PACE) / 2**0.5 <= path_s(points, alike) <= path_s(points, PACE) + 1e-9
