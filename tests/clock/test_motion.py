"""Motion along paths, against closed forms.

Uniform acceleration is elementary, and so are corner circles; expected figures were worked
out from the formulas named beside them, apart from this code. The straight moves agree with
an independent trajectory generator (ruckig 0.19.4, jerk unlimited) to 1e-12, checked once.
"""

from math import cos, hypot, pi, radians, sin, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.clock.motion import (
    Pace,
    corner_speeds_mm_s,
    joint_speeds_mm_s,
    merged,
    path_s,
    straight_s,
)

PACE = Pace(speed_mm_s=500.0, acceleration_mm_s2=5000.0, corner_mm=0.05)


def corner(turn_deg, leg_mm=100.0):
    """Two long legs with a turn of so many degrees between them."""
    turn = radians(turn_deg)
    return np.array([[-leg_mm, 0.0], [0.0, 0.0], [leg_mm * cos(turn), leg_mm * sin(turn)]])


def circle(radius_mm, angles):
    return radius_mm * np.column_stack([np.cos(angles), np.sin(angles)])


# d / v + v / a where the speed is reached, else 2 sqrt(d / a)
@pytest.mark.parametrize(
    ("length_mm", "time_s"),
    [(100, 0.3), (50, 0.2), (20, 0.126491106), (5, 0.063245553), (1, 0.028284271), (0, 0.0)],
)
def test_a_straight_move_from_rest_to_rest(length_mm, time_s):
    assert straight_s(np.array([length_mm]), PACE)[0] == pytest.approx(time_s, abs=1e-9)


# from 200 to 100 mm/s: peak sqrt((2 a d + 200² + 100²) / 2), at 5 mm 223.606798 mm/s
@pytest.mark.parametrize(("length_mm", "time_s"), [(100, 0.25), (5, 0.029442719)])
def test_a_straight_move_with_speed_at_its_ends(length_mm, time_s):
    found = straight_s(np.array([length_mm]), PACE, 200.0, 100.0)[0]

    assert found == pytest.approx(time_s, abs=1e-9)


# v = sqrt(a R), R = d sin(i/2) / (1 - sin(i/2)), i = 180 degrees less the turn
@pytest.mark.parametrize(
    ("turn_deg", "speed_mm_s"),
    [
        (15, 170.212),
        (30, 84.184),
        (45, 55.084),
        (60, 40.200),
        (90, 24.567),
        (120, 15.811),
        (150, 9.343),
    ],
)
@pytest.mark.parametrize("side", [1, -1])
def test_a_corner_slows_the_head_so_that_it_passes_within_corner_mm(turn_deg, side, speed_mm_s):
    assert corner_speeds_mm_s(corner(side * turn_deg), PACE)[0] == pytest.approx(
        speed_mm_s, abs=5e-4
    )


def test_straight_on_costs_nothing_and_turning_back_stops_the_head():
    assert corner_speeds_mm_s(corner(0), PACE)[0] == PACE.speed_mm_s
    assert corner_speeds_mm_s(corner(180), PACE)[0] == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("chords", [32, 64, 256, 1024])
def test_a_circle_is_as_fast_as_its_radius_allows_however_fine_the_chords(chords):
    """sqrt(a R) = sqrt(5000 x 10) = 223.607 mm/s, as long as no chord is 0.05 mm off the arc;
    32 chords are 10 (1 - cos(pi / 32)) = 0.048 mm off."""
    points = circle(10.0, np.linspace(0, 2 * pi, chords + 1))

    assert corner_speeds_mm_s(points, PACE) == pytest.approx(np.full(chords - 1, sqrt(5e4)))


@given(st.lists(st.floats(0.01, 0.19), min_size=4, max_size=60))
def test_a_curve_chopped_unevenly_is_as_fast_as_one_chopped_evenly(steps):
    points = circle(10.0, np.cumsum(steps))

    assert corner_speeds_mm_s(points, PACE) == pytest.approx(
        np.full(len(steps) - 2, sqrt(5e4)), rel=1e-6
    )


# backward and forward pass by hand: v² = cap² or v_next² + 2 a s
@pytest.mark.parametrize(
    ("lengths_mm", "caps_mm_s", "speeds_mm_s", "times_s"),
    [
        (
            [10, 2, 30],
            [0, 60, 90, 0],
            [0, 60, 90, 0],
            [0.098883697, 0.022571804, 0.174500000],
        ),
        (
            [0.2, 0.5, 8],
            [0, 60, 150, 0],
            [0, 34.641016, 64.807407, 0],
            [0.011547005, 0.010055464, 0.086100827],
        ),
    ],
)
def test_speeds_at_corners_and_times_between_them(lengths_mm, caps_mm_s, speeds_mm_s, times_s):
    pace = Pace(speed_mm_s=300.0, acceleration_mm_s2=3000.0, corner_mm=0.05)
    lengths = np.array(lengths_mm, dtype=float)

    speeds = joint_speeds_mm_s(lengths, np.array(caps_mm_s, dtype=float), 3000.0)

    assert speeds == pytest.approx(speeds_mm_s, abs=1e-6)
    assert straight_s(lengths, pace, speeds[:-1], speeds[1:]) == pytest.approx(times_s, abs=1e-9)


@given(
    st.lists(st.tuples(st.floats(0.01, 50), st.floats(0, 400)), min_size=1, max_size=30),
)
def test_no_corner_speed_can_be_raised_alone(stretches):
    """Each is at its cap, or a neighbour and the acceleration leave no more: all highest."""
    lengths = np.array([length for length, _ in stretches])
    caps = np.array([0.0, *(cap for _, cap in stretches[:-1]), 0.0])

    speeds = joint_speeds_mm_s(lengths, caps, 3000.0)

    gains = 2 * 3000.0 * lengths
    assert (speeds <= caps).all()
    assert (np.abs(np.diff(speeds**2)) <= gains * (1 + 1e-9) + 1e-9).all()
    reachable = np.minimum(
        np.concatenate([[np.inf], speeds[:-1] ** 2 + gains]),
        np.concatenate([speeds[1:] ** 2 + gains, [np.inf]]),
    )
    assert speeds**2 == pytest.approx(np.minimum(caps**2, reachable), rel=1e-9, abs=1e-9)


def test_a_rounded_square_takes_what_its_closed_form_says():
    """60 x 60 mm, corners of 10 mm, from rest in the middle of a side; a = 2000 along the
    path and across it, v = 200. On the arcs sqrt(2000 x 10) = 141.421 mm/s. Straight pieces
    and arcs added up give 1.378603 s. Chords begin to turn one chord late, so they are
    faster by about 8 x 0.06 mm x (1 / 141 - 1 / 200), a thousandth."""
    pace = Pace(speed_mm_s=200.0, acceleration_mm_s2=2000.0, corner_mm=0.05)
    quarter = np.linspace(-pi / 2, 0, 257)
    side = np.array([[0.0, -30.0]])
    points = [side]
    for k in range(4):
        turn = pi / 2 * k
        spin = np.array([[cos(turn), sin(turn)], [-sin(turn), cos(turn)]])
        points.append((np.array([20.0, -20.0]) + circle(10.0, quarter)) @ spin)
    points.append(side)

    assert path_s(np.concatenate(points), pace) == pytest.approx(1.378602869, rel=2e-3)


def test_a_square_is_four_moves_that_hardly_slow_at_three_corners():
    """100 mm sides from corner to corner, corner speed c = 24.567 mm/s (90 degrees): two
    sides from 0 to c and two from c to c, each (2 x 500 - ends) / a + steady / v."""
    c = sqrt(5000 * 0.05 * sin(pi / 4) / (1 - sin(pi / 4)))
    outer = (1000 - c) / 5000 + (100 - (2 * 500**2 - c**2) / 1e4) / 500
    inner = (1000 - 2 * c) / 5000 + (100 - (2 * 500**2 - 2 * c**2) / 1e4) / 500
    points = np.array([[0, 0], [100, 0], [100, 100], [0, 100], [0, 0]], dtype=float)

    assert path_s(points, PACE) == pytest.approx(2 * outer + 2 * inner)


def test_a_corner_drawn_as_specks_is_one_corner_to_the_head():
    """A right angle with a fillet of 0.01 mm in eight chords takes as long as a sharp one."""
    fillet = np.array([50.0, 0.0]) + [-0.01, 0.01] + circle(0.01, np.linspace(-pi / 2, 0, 9))
    ends = np.array([[0.0, 0.0]]), np.array([[50.0, 50.0]])
    sharp = np.concatenate([ends[0], [[50.0, 0.0]], ends[1]])

    drawn = path_s(np.concatenate([ends[0], fillet, ends[1]]), PACE)

    assert drawn == pytest.approx(path_s(sharp, PACE), rel=1e-3)


def test_points_on_one_spot_change_nothing():
    once = corner(60)
    twice = np.repeat(once, 2, axis=0)

    assert path_s(twice, PACE) == pytest.approx(path_s(once, PACE))
    assert path_s(np.zeros((3, 2)), PACE) == 0.0


# floats of a hundredth of a millimetre, so that points coincide and specks occur
paths = st.lists(
    st.tuples(st.integers(-2000, 2000), st.integers(-2000, 2000)), min_size=2, max_size=25
).map(lambda spots: np.array(spots) / 100)


@given(paths, st.floats(0.01, 2.0))
def test_merging_keeps_ends_and_length_and_leaves_no_speck(points, apart_mm):
    kept, lengths = merged(points, apart_mm)

    whole = sum(hypot(*leg) for leg in np.diff(points, axis=0))
    assert lengths.sum() == pytest.approx(whole)
    if len(lengths):
        assert (kept[0] == points[0]).all()
        assert (kept[-1] == points[-1]).all()
    assert len(lengths) == 1 or (lengths >= apart_mm * (1 - 1e-9)).all()


@given(paths)
def test_no_path_is_faster_than_its_length_straight_and_none_slower_than_stop_and_go(points):
    legs = np.hypot(*np.diff(points, axis=0).T)
    time_s = path_s(points, PACE)

    assert time_s >= float(straight_s(np.array([legs.sum()]), PACE)[0]) - 1e-9
    assert time_s <= straight_s(legs, PACE).sum() + 1e-9


@given(paths, st.floats(-180, 180), st.booleans())
def test_a_path_turned_mirrored_or_run_backward_takes_the_same_time(points, angle_deg, mirror):
    turn = radians(angle_deg)
    spin = np.array([[cos(turn), sin(turn)], [-sin(turn), cos(turn)]])
    other = points @ spin * (-1 if mirror else 1, 1)

    assert path_s(other + (7, 9), PACE) == pytest.approx(path_s(points, PACE), rel=1e-6)
