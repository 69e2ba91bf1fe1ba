"""Rings, holes, areas and turns of outlines, against shapely and by hand."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.geometry.outline import (
    Outline,
    cos_sin,
    oriented,
    outline_of,
    polygons_of,
    signed_area_mm2,
    turn,
)

RADII, PLACES = st.floats(1, 50), st.floats(-500, 500)


@st.composite
def star_polygons(draw, radius=RADII, at=PLACES):
    """A polygon that sees its centre: always simple, seldom convex."""
    radii = draw(st.lists(radius, min_size=3, max_size=12))
    x, y = draw(at), draw(at)
    angles = np.linspace(0, 2 * np.pi, len(radii), endpoint=False)
    return np.column_stack([x + radii * np.cos(angles), y + radii * np.sin(angles)])


@st.composite
def regions(draw):
    """Up to three islands, each with up to two holes."""
    parts = []
    for k in range(draw(st.integers(1, 3))):
        ring = draw(star_polygons(radius=st.floats(20, 50), at=st.floats(-3, 3))) + (200 * k, 0)
        middle = ring.mean(axis=0)
        holes = [
            draw(star_polygons(radius=st.floats(1, 2.5), at=st.just(0.0))) + middle + (dx, 0)
            for dx in (-3, 3)[: draw(st.integers(0, 2))]
        ]
        part = shapely.Polygon(ring, holes)
        parts.append(part if part.is_valid else shapely.Polygon(ring))
    return shapely.MultiPolygon(parts) if len(parts) > 1 else parts[0]


angles = st.floats(-720, 720) | st.sampled_from([0, 90, 180, 270, 360, -90])


@given(regions())
def test_an_outline_and_its_region_are_the_same_area(region):
    outline = outline_of(region)

    assert outline.region.symmetric_difference(region).area <= 1e-9 * region.area
    assert outline.area_mm2 == pytest.approx(region.area)
    assert outline.length_mm == pytest.approx(region.length)
    assert outline.bounds_mm == pytest.approx(region.bounds)


@given(regions())
def test_outers_run_counter_clockwise_and_stand_before_their_holes(region):
    outline = outline_of(region)

    outer = None
    for ring in outline.rings:
        if shapely.LinearRing(ring).is_ccw:
            outer = shapely.Polygon(ring)
        else:
            assert outer is not None
            assert outer.contains(shapely.Polygon(ring))
    holes = sum(len(part.interiors) for part in polygons_of(region))
    assert sum(signed_area_mm2(ring) < 0 for ring in outline.rings) == holes


@given(regions(), angles)
def test_a_turn_keeps_area_and_length(region, angle):
    outline = outline_of(region)

    turned = outline.turned(angle)

    assert turned.area_mm2 == pytest.approx(outline.area_mm2)
    assert turned.length_mm == pytest.approx(outline.length_mm)


@given(regions(), st.floats(0.1, 10), st.floats(-100, 100), st.floats(-100, 100))
def test_scale_and_shift_do_to_area_and_bounds_what_they_must(region, factor, dx, dy):
    outline = outline_of(region)

    changed = outline.scaled(factor).moved(dx, dy)

    assert changed.area_mm2 == pytest.approx(outline.area_mm2 * factor**2)
    assert changed.length_mm == pytest.approx(outline.length_mm * factor)
    assert changed.width_mm == pytest.approx(outline.width_mm * factor)
    assert changed.height_mm == pytest.approx(outline.height_mm * factor)
    shift = np.array([dx, dy, dx, dy])
    assert changed.bounds_mm == pytest.approx(np.array(outline.bounds_mm) * factor + shift)


@given(star_polygons())
def test_signed_area_is_shapely_s_and_changes_sign_when_reversed(ring):
    assert signed_area_mm2(ring) == pytest.approx(shapely.Polygon(ring).area)
    assert signed_area_mm2(ring[::-1]) == pytest.approx(-shapely.Polygon(ring).area)


def test_area_does_not_drown_far_from_the_origin():
    """A square of 1 mm, 50 m down the film: without care 1e9 is taken from 1e9."""
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=float) + (1370, 50_000)

    assert signed_area_mm2(square) == 1.0


@given(star_polygons(), st.booleans())
def test_oriented_runs_the_wanted_way_through_the_same_points(ring, ccw):
    found = oriented(ring[::-1], ccw=ccw)

    assert shapely.LinearRing(found).is_ccw == ccw
    np.testing.assert_array_equal(np.sort(found, axis=0), np.sort(ring, axis=0))
    assert found.base is None, "a fresh array, for outlines make theirs read-only"


def test_quarter_turns_are_exact():
    np.testing.assert_array_equal(turn(np.array([[3.0, 1.0]]), 90), [[-1, 3]])
    np.testing.assert_array_equal(turn(np.array([[3.0, 1.0]]), -450), [[1, -3]])
    assert [cos_sin(angle) for angle in (0, 90, 180, 270, 360)] == [
        (1, 0),
        (0, 1),
        (-1, 0),
        (0, -1),
        (1, 0),
    ]


@given(angles, angles)
def test_turns_add_up(one, two):
    points = np.array([[3.0, 1.0], [-2.0, 5.0]])

    np.testing.assert_allclose(
        turn(turn(points, one), two), turn(points, one + two), atol=1e-10, rtol=0
    )


def test_a_plate_with_a_hole_by_hand():
    """40 by 30 mm less a hole of 10 by 5: 1150 mm², 140 + 30 = 170 mm of knife."""
    plate = outline_of(shapely.box(0, 0, 40, 30) - shapely.box(10, 10, 20, 15))

    assert plate.area_mm2 == pytest.approx(1150)
    assert plate.length_mm == pytest.approx(170)
    assert plate.bounds_mm == (0, 0, 40, 30)
    assert len(plate.rings) == 2


def test_lines_and_points_are_no_part_of_an_outline():
    mixed = shapely.GeometryCollection(
        [shapely.box(0, 0, 1, 1), shapely.Point(5, 5), shapely.LineString([(0, 0), (9, 9)])]
    )

    assert len(outline_of(mixed).rings) == 1


def test_rings_cannot_be_written_to():
    plate = outline_of(shapely.box(0, 0, 1, 1))

    with pytest.raises(ValueError, match="read-only"):
        plate.rings[0][0, 0] = 5


@pytest.mark.parametrize("rings", [(), (np.zeros((2, 2)),), (np.zeros((3, 3)),), (np.zeros(6),)])
def test_what_is_no_ring_is_our_own_bug(rings):
    with pytest.raises(AssertionError):
        Outline(rings=rings)
