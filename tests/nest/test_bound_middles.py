"""Middles keep apart: regions hold only steps that are too short, and bounds follow Oler."""

from math import sqrt

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.geometry.outline import turn
from nestplan.nest.bound import lower_bound
from nestplan.nest.bound_apart import clear_mm, middle_of
from nestplan.nest.bound_middles import narrow_strip_mm, olers_mm, unit_region
from tests.nest.bound_tasks import NONE, box, disc_round, equal
from tests.nest.hand_shapes import ANGLE, ISLANDS, RING, SICKLE, star
from tests.strategies import centred, outlines

SHAPES = [ANGLE, ISLANDS, RING, SICKLE, star(50, 22), disc_round(30, 24), box(30, 20)]


def apart(outline, first_deg, second_deg, step):
    """Distance of two copies about their middles; nothing when they overlap."""
    at_middle = shapely.transform(outline.region, lambda p: p - middle_of(outline))
    one = shapely.transform(at_middle, lambda p: turn(p, first_deg))
    other = shapely.transform(at_middle, lambda p: turn(p, second_deg) + step)
    if shapely.intersection(one, other).area > 1e-9:
        return -1.0
    return float(one.distance(other))


@settings(max_examples=20)
@given(
    st.one_of(st.sampled_from(SHAPES).map(centred), outlines()),
    st.sampled_from([(0.0,), (0.0, 180.0), (0.0, 90.0, 180.0, 270.0), (30.0, 60.0)]),
    st.sampled_from([0.0, 2.0]),
    st.integers(0, 2**32 - 1),
)
def test_every_step_in_the_region_brings_two_copies_too_near(outline, angles, gap, seed):
    region = unit_region(outline, angles, gap)
    if region is None:
        return
    rng = np.random.default_rng(seed)
    corners = region.corners
    for _ in range(8):
        mix = rng.dirichlet(np.full(len(corners), 0.2))
        step = mix @ corners * 0.9999
        first, second = rng.choice(angles, 2)
        assert apart(outline, float(first), float(second), step) < max(gap, 1e-9)


@settings(max_examples=15)
@given(
    st.one_of(st.sampled_from(SHAPES).map(centred), outlines()),
    st.sampled_from([0.0, 15.0, 90.0, 180.0]),
    st.floats(0, 360),
)
def test_no_two_copies_have_middles_nearer_than_said(outline, turned, direction):
    clear = clear_mm(outline, turned)
    step = clear * 0.9999 * np.array([np.cos(np.radians(direction)), np.sin(np.radians(direction))])

    assert clear == 0 or apart(outline, 0.0, turned, step) < 1e-9


def test_triangles_that_may_not_be_turned_waste_a_third():
    """The densest packing of translates of a triangle covers two thirds (Fáry 1950, from
    memory): half the difference body is a hexagon of 3 / 2 the triangle's area."""
    triangle = shapely.Polygon([(0, 0), (40, 0), (10, 30)])
    region = unit_region(centred(triangle), NONE, 0.0)

    assert region.lattice_mm2 == pytest.approx(1.5 * triangle.area, rel=1e-4)


def test_boxes_that_may_not_be_turned_stand_in_whole_rows_and_columns():
    """With boxes as unit Oler's inequality is an identity: n <= (a + 1) (b + 1)."""
    task = equal(box(60, 40), 50, strip=300, angles_deg=NONE)

    assert olers_mm(task, 1) == pytest.approx(400.0, abs=0.01)


@pytest.mark.parametrize("turned", [0.0, 90.0, 180.0])
def test_stars_do_come_as_near_as_said(turned):
    """Points reach into notches: in one direction, one per cent further on is far enough."""
    outline = centred(star(50, 22))
    clear = 1.01 * clear_mm(outline, turned)
    turns = np.radians(np.arange(0, 360, 2))

    steps = clear * np.column_stack((np.cos(turns), np.sin(turns)))
    assert any(apart(outline, 0.0, turned, step) >= 0 for step in steps)


def test_the_stars_bound_is_far_above_the_area():
    """60 stars of 100 mm, gutter 3, on 1370 mm: the area asks for 161.3 mm, the best layout
    known has 267.8 mm."""
    bound = lower_bound(equal(star(50, 22), 60, strip=1370, gutter=3))

    assert 215.0 < bound.length_mm < 267.8


def test_rings_are_packed_no_closer_than_discs_of_their_size():
    """No ring fits into its like: middles keep the outer diameter, though 44 % is hole."""
    ring = centred(disc_round(60) - disc_round(40, 40))

    assert clear_mm(ring, 0.0) == pytest.approx(60.0, rel=1e-3)
    assert lower_bound(equal(ring.region, 50, strip=600)).reason == "Oler's bound for middles"


@pytest.mark.parametrize("higher", [0.0, 0.3, sqrt(3) / 2])
def test_discs_in_a_narrow_strip_follow_the_closed_form(higher):
    """d (1 + (n - 1) sqrt(1 - h^2)) for a strip of d (1 + h)."""
    task = equal(disc_round(10, 720), 10, strip=10 * (1 + higher))
    expected = 10 * (1 + 9 * sqrt(1 - higher**2))

    assert narrow_strip_mm(task, 1) == pytest.approx(expected, abs=0.01)


def test_frames_have_their_own_ends():
    """Each frame is as high as a disc beyond its middles; one disc fewer has a way to go."""
    one, two = (narrow_strip_mm(equal(disc_round(10, 720), 10, strip=10), f) for f in (1, 2))

    assert one == pytest.approx(100.0, abs=1e-3)
    assert two == pytest.approx(100.0, abs=1e-3)
