"""Grown contours and the convex polygons inside contours are never more than the truth."""

from math import pi

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.nest.bound_contours import carved, convex_inside, convex_part, grown_area_mm2, hull_of
from tests.strategies import boxes, centred, discs, rounds, stars


def box(width, height):
    return shapely.box(0, 0, width, height)


def test_a_grown_box_with_a_hole_has_the_area_worked_by_hand():
    """40 x 40 grown by 2 outwards, its hole of 20 x 20 shrunk to 16 x 16."""
    frame = centred(box(40, 40) - shapely.box(10, 10, 30, 30))
    exact = 1600 + 2 * 160 + 4 * pi - 256

    assert exact - 0.1 <= grown_area_mm2(frame, 2.0) <= exact


def test_a_grown_angle_has_the_area_worked_by_hand():
    """Five corners gain a quarter disc each, at the dent a square is not counted twice."""
    ell = centred(shapely.Polygon([(0, 0), (30, 0), (30, 10), (10, 10), (10, 30), (0, 30)]))
    exact = 500 + 2 * 120 + 5 * pi - 4

    assert exact - 0.15 <= grown_area_mm2(ell, 2.0) <= exact


@given(stars(), st.floats(0.1, 5))
def test_a_grown_area_is_a_little_less_than_shapely_finds_with_fine_arcs(outline, radius):
    fine = outline.region.buffer(radius, quad_segs=200).area

    assert 0.97 * fine <= grown_area_mm2(outline, radius) <= (1 + 1e-4) * fine


@given(rounds(), st.floats(0, 5))
def test_a_convex_outline_grows_by_steiners_formula(outline, radius):
    expected = outline.area_mm2 + radius * outline.length_mm + pi * radius**2

    assert grown_area_mm2(outline, radius) == pytest.approx(expected)


@given(st.one_of(rounds(), discs(), boxes()))
def test_a_convex_outline_is_known_even_when_flattening_dented_it(outline):
    """A corner is put in the middle of every side, a billionth too far in."""
    ring = outline.rings[0]
    inward = ring.mean(axis=0) - ring
    middles = (ring + np.roll(ring, -1, axis=0)) / 2 + 1e-9 * inward
    dented = centred(shapely.Polygon(np.stack((ring, middles), axis=1).reshape(-1, 2)))

    polygon = convex_inside(dented)

    assert polygon is not None
    assert dented.region.covers(shapely.Polygon(polygon))
    assert shapely.Polygon(polygon).area >= (1 - 1e-5) * outline.area_mm2


@given(stars())
def test_an_outline_with_real_dents_is_not_taken_for_convex(outline):
    hull_area = outline.region.convex_hull.area

    assert (convex_inside(outline) is None) == (outline.area_mm2 < (1 - 1e-4) * hull_area)


@settings(max_examples=25)
@given(stars())
def test_a_convex_part_lies_inside_and_turns_left(outline):
    part = convex_part(outline)
    if part is None:  # nothing simple was found
        return

    inside = shapely.Polygon(part)
    assert outline.region.buffer(1e-9).contains(inside)
    assert inside.convex_hull.area == pytest.approx(inside.area, rel=1e-9)


def test_the_convex_part_of_a_notched_plate_is_nearly_what_is_left_beside_the_notch():
    """A notch 10 deep in the side of 60 x 40: the cut along its bottom leaves 50 x 40."""
    notched = centred(box(60, 40) - shapely.box(50, 15, 60, 25))

    assert 1900 < shapely.Polygon(convex_part(notched)).area < 2000


def test_a_part_cut_through_the_middle_is_symmetric():
    """A square with two bites out of opposite sides, 5 deep: 30 x 40 could be left."""
    square = shapely.box(-20, -20, 20, 20)
    bitten = square - shapely.box(15, -3, 20, 3) - shapely.box(-20, -3, -15, 3)

    part = shapely.Polygon(carved(hull_of(square), bitten, through_middle=True))

    assert 1100 < part.area < 1200
    assert part.symmetric_difference(shapely.transform(part, np.negative)).area < 1e-3
