"""The check's own geometry, against figures worked by hand and against what was put in."""

from math import pi

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.check.fit_ring import fit_ring
from nestplan.check.outlines import (
    Pose,
    apart_mm,
    area_mm2,
    bled,
    holes_of,
    length_mm,
    region_of,
    same_points,
)
from tests.files.handmade import BURGEE

SQUARE = np.array([[-5.0, -5.0], [5.0, -5.0], [5.0, 5.0], [-5.0, 5.0]])
L_SHAPE = np.array([[0.0, 0.0], [30, 0], [30, 8], [10, 8], [10, 20], [0, 20]])
DISC = 20.0 * np.column_stack([np.cos(np.arange(96) * pi / 48), np.sin(np.arange(96) * pi / 48)])

poses = st.builds(
    Pose,
    x_mm=st.floats(-2000, 2000),
    y_mm=st.floats(-30_000, 30_000),
    angle_deg=st.floats(-180, 180),
    scale=st.floats(0.5, 2.0),
    mirrored=st.booleans(),
)


def test_a_pose_mirrors_then_turns_then_shifts():
    """(3, 1) mirrored is (-3, 1), turned by 90 degrees (-1, -3), shifted by (10, 20) (9, 17)."""
    pose = Pose(x_mm=10, y_mm=20, angle_deg=90, mirrored=True)

    assert pose.put(np.array([[3.0, 1.0]])).tolist() == [pytest.approx([9, 17])]


@given(poses)
def test_a_pose_can_be_undone(pose):
    assert pose.back(pose.put(L_SHAPE)) == pytest.approx(L_SHAPE, abs=1e-6)


@given(poses, st.integers(0, 5), st.booleans())
def test_a_ring_is_found_wherever_it_was_put(pose, start, backward):
    seen = np.roll(pose.put(L_SHAPE), start, axis=0)
    fit = fit_ring(L_SHAPE, seen[::-1] if backward else seen, Pose(x_mm=0, y_mm=0))

    assert fit.off_mm < 1e-6
    assert fit.pose.put(L_SHAPE) == pytest.approx(pose.put(L_SHAPE), abs=1e-6)
    assert fit.pose.mirrored == pose.mirrored


@given(st.floats(-1.8, 1.8))
def test_a_turned_disc_is_seen_by_its_corners(angle):
    """96 corners repeat every 3.75 degrees: the smallest turn is taken."""
    fit = fit_ring(DISC, Pose(x_mm=7, y_mm=8, angle_deg=angle).put(DISC), Pose(x_mm=0, y_mm=0))

    assert fit.pose.angle_deg == pytest.approx(angle, abs=1e-6)


def test_a_square_that_looks_the_same_is_not_called_turned():
    planned = Pose(x_mm=100, y_mm=100, angle_deg=90)
    seen = Pose(x_mm=101, y_mm=100).put(SQUARE)

    fit = fit_ring(SQUARE, seen, planned)

    assert (fit.pose.angle_deg, fit.pose.x_mm) == (pytest.approx(90), pytest.approx(101))


def test_a_ring_with_other_points_on_it_is_still_found():
    """A cutter may start between two corners: the same line with points more."""
    extra = np.insert(L_SHAPE, 1, [[12.0, 0.0], [20.0, 0.0]], axis=0)
    pose = Pose(x_mm=50, y_mm=60, angle_deg=12)
    fit = fit_ring(L_SHAPE, pose.put(extra), Pose(x_mm=50, y_mm=60, angle_deg=10))

    assert fit.pose.angle_deg == pytest.approx(12, abs=0.01)
    assert fit.off_mm < 0.01


def test_another_shape_does_not_fit():
    assert fit_ring(L_SHAPE, BURGEE.rings[0], Pose(x_mm=0, y_mm=0)).off_mm > 3


def test_the_same_points_may_start_anywhere_and_run_either_way():
    rolled = np.roll(L_SHAPE, 2, axis=0)

    assert same_points(L_SHAPE, rolled)
    assert same_points(L_SHAPE, rolled[::-1])
    assert not same_points(L_SHAPE, rolled + (0.011, 0))


def test_area_and_length_of_an_l():
    """30 x 8 + 10 x 12 = 360; round it once: 2 (30 + 20) = 100."""
    assert (area_mm2(L_SHAPE), length_mm(L_SHAPE)) == (360, 100)


def test_even_odd_and_winding_differ_where_rings_run_the_same_way():
    """ISO 32000-1 8.5.3.3: the hole is filled by winding number, left open by even-odd."""
    rings = [2 * SQUARE, SQUARE]

    assert region_of(rings).area == 300
    assert region_of(rings, even_odd=False).area == 400
    assert region_of([2 * SQUARE, SQUARE[::-1]], even_odd=False).area == 300


def test_an_island_in_a_hole_is_filled_again():
    region = region_of([4 * SQUARE, 2 * SQUARE, SQUARE])

    assert region.area == 1600 - 400 + 100
    assert [hole.area for hole in holes_of(region)] == [400]


def test_a_grown_square_has_the_area_of_steiner():
    """Steiner's formula, 19th century, handbook value: A + P r + pi r^2."""
    assert bled(shapely.Polygon(SQUARE), 2.0).area == pytest.approx(100 + 80 + 4 * pi, abs=0.03)


def test_apart_is_the_greatest_distance_between_edges():
    moved = shapely.Polygon(SQUARE + (0.4, 0.3))

    assert apart_mm(shapely.Polygon(SQUARE), moved) == pytest.approx(0.5)
