"""Growing and shrinking: exact formulas, and the promise never to reach too far."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.geometry.offset import SAGITTA_MM, grown, quadrant_segments

# To the nanometre: GEOS divides by the square of a side, which 1e-183 mm turns into nothing.
COORDINATE_MM = st.floats(-50, 50).map(lambda value: round(value, 6))


@pytest.mark.parametrize("distance_mm", [0.5, 2.0, 10.0])
def test_a_grown_square_has_the_area_of_steiner_s_formula(distance_mm):
    """Area of a convex shape grown by d: A + P d + pi d² (Steiner 1840, quoted from memory);
    chords lose at most the sagitta along the four quarter circles."""
    square = shapely.box(0, 0, 10, 10)

    found = grown(square, distance_mm).area

    exact = 100 + 40 * distance_mm + np.pi * distance_mm**2
    assert exact - SAGITTA_MM * 2 * np.pi * distance_mm <= found <= exact


@given(st.floats(0.05, 500), st.sampled_from([0.001, 0.01, 0.1]))
def test_arcs_keep_the_sagitta_and_one_chord_less_would_not(radius_mm, sagitta_mm):
    """Sagitta of a chord over an angle a: r (1 - cos(a / 2))."""

    def sagitta(segments):
        return radius_mm * (1 - np.cos(np.pi / 4 / segments))

    segments = quadrant_segments(radius_mm, sagitta_mm)

    assert sagitta(segments) <= sagitta_mm * (1 + 1e-9) or radius_mm <= sagitta_mm
    if segments > 1:
        assert sagitta(segments - 1) > sagitta_mm * (1 - 1e-9)


@given(
    st.lists(st.tuples(COORDINATE_MM, COORDINATE_MM), min_size=3, max_size=8), st.floats(0.1, 20)
)
def test_a_grown_shape_never_reaches_too_far_and_falls_short_by_a_sagitta(points, distance_mm):
    shape = shapely.MultiPoint(points).convex_hull

    edge = shapely.get_coordinates(grown(shape, distance_mm))

    away = shapely.distance(shape, shapely.points(edge))
    assert away.max() <= distance_mm + 1e-9
    middles = (edge + np.roll(edge, 1, axis=0))[1:] / 2
    away = shapely.distance(shape, shapely.points(middles))
    assert away.min() >= distance_mm - SAGITTA_MM - 1e-9


@given(st.floats(0.1, 4.9))
def test_a_square_shrinks_on_all_sides(distance_mm):
    found = grown(shapely.box(0, 0, 10, 10), -distance_mm)

    assert found.bounds == pytest.approx(
        (distance_mm, distance_mm, 10 - distance_mm, 10 - distance_mm)
    )


def test_a_shape_shrunk_by_more_than_half_its_width_is_gone():
    assert grown(shapely.box(0, 0, 10, 10), -5.1).is_empty


def test_a_mitre_keeps_corners_and_a_bevel_cuts_them():
    """A square of 10 grown by 1: mitre 12² = 144; bevel loses four triangles of 1/2."""
    square = shapely.box(0, 0, 10, 10)

    assert grown(square, 1, join="mitre").area == pytest.approx(144)
    assert grown(square, 1, join="bevel").area == pytest.approx(142)
