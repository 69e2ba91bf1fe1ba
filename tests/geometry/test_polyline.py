"""Flattened curves: how far off, how wide, and that no chord is wasted."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.geometry.polyline import Arc, Cubic, Line, map_points, without_repeats

coordinate = st.floats(-100, 100).map(lambda x: round(x, 3))
point = st.tuples(coordinate, coordinate)
cubics = st.lists(point, min_size=4, max_size=4).map(lambda p: Cubic(points=np.array(p)))
limbs = st.tuples(point, point, point).map(np.array)
arcs = st.builds(
    lambda p, start, sweep: Arc(points=p, start_rad=start, sweep_rad=sweep),
    limbs,
    st.floats(-7, 7),
    st.floats(0.01, 2 * np.pi) | st.floats(-2 * np.pi, -0.01),
)
affines = st.lists(st.floats(-3, 3), min_size=6, max_size=6).map(
    lambda a: np.array([a[:3], a[3:], [0, 0, 1]])
)


def dense(curve, n=4001) -> np.ndarray:
    """Points of the curve by its definition, not by ours."""
    t = np.linspace(0, 1, n)[:, np.newaxis]
    if isinstance(curve, Arc):
        angle = curve.start_rad + t * curve.sweep_rad
        return curve.points[0] + np.cos(angle) * curve.points[1] + np.sin(angle) * curve.points[2]
    level = [curve.points[k] + 0 * t for k in range(len(curve.points))]
    while len(level) > 1:  # de Casteljau
        level = [a + t * (b - a) for a, b in pairwise(level)]
    return level[0]


def away(points, chords) -> np.ndarray:
    """Distance of points (n, 2) from a polyline (m, 2)."""
    a, along = chords[:-1], np.diff(chords, axis=0)
    length2 = np.maximum((along**2).sum(axis=1), 1e-300)
    share = np.clip(((points[:, None] - a) * along).sum(axis=2) / length2, 0, 1)
    return np.hypot(*(points[:, None] - a - share[..., None] * along).T).min(axis=0)


@given(cubics | arcs)
@pytest.mark.parametrize("off_mm", [0.02, 0.5])
def test_no_point_of_a_curve_is_farther_from_its_chords_than_allowed(off_mm, curve):
    chords = curve.flattened(off_mm)

    assert away(dense(curve, 501), chords).max() <= off_mm + 1e-9


@given(cubics | arcs)
def test_a_flattened_curve_is_as_wide_and_high_as_the_curve(curve):
    chords, true = curve.flattened(5.0), dense(curve)

    assert np.all(chords.min(axis=0) <= true.min(axis=0) + 1e-9)
    assert np.all(chords.max(axis=0) >= true.max(axis=0) - 1e-9)
    np.testing.assert_allclose(np.ptp(chords, axis=0), np.ptp(true, axis=0), atol=1e-3)


@given(cubics | arcs)
def test_chords_begin_and_end_where_the_curve_does(curve):
    chords, true = curve.flattened(0.5), dense(curve, 2)

    np.testing.assert_allclose(chords[[0, -1]], true, atol=1e-9)


@given(cubics | arcs, affines)
def test_a_mapped_curve_is_the_curve_of_the_mapped_points(curve, affine):
    np.testing.assert_allclose(
        dense(curve.mapped(affine), 9), map_points(dense(curve, 9), affine), atol=1e-9
    )


@given(cubics | arcs)
def test_directions_are_those_of_the_first_and_last_piece(curve):
    """A direction is the limit of short chords; a thousandth of the curve is short enough to
    tell it within a few degrees unless the curve nearly stops there."""
    first, last = curve.directions()
    for way, (here, there) in ((first, dense(curve)[:2]), (last, dense(curve)[-2:])):
        chord = there - here
        if np.hypot(*way) < 1 or np.hypot(*chord) < 1e-6:
            continue
        cosine = way @ chord / np.hypot(*way) / np.hypot(*chord)
        assert cosine > 0.99


def test_a_circle_has_the_chords_its_sagitta_needs():
    """Radius 50 mm, 0.02 mm: a chord spans 2 acos(1 - 0.02/50) = 0.05657 rad, so a quarter
    needs 28 and the circle 112; the sagitta is then 50 (1 - cos(pi/112)) = 0.0197 mm."""
    circle = Arc(points=np.array([[0, 0], [50, 0], [0, 50.0]]), start_rad=0, sweep_rad=2 * np.pi)

    chords = circle.flattened(0.02)

    assert len(chords) == 113
    middles = (chords[1:] + chords[:-1]) / 2
    assert 50 - np.hypot(*middles.T) == pytest.approx(50 * (1 - np.cos(np.pi / 112)), abs=1e-9)


def test_four_cubics_for_a_circle_bulge_as_the_handbook_says():
    """With handles of 0.5522847498 r the radial error is 0 to +2.725e-4 r (Riskus 2006 and
    others; the figure computed here from the curve): 0.0136 mm on a radius of 50 mm. This is
    why circles are never flattened from cubics here."""
    k = 0.5522847498
    quarter = Cubic(points=50 * np.array([[1, 0], [1, k], [k, 1], [0, 1]]))

    radial = np.hypot(*quarter.flattened(1e-6).T) / 50 - 1

    assert radial.max() == pytest.approx(2.725e-4, rel=1e-3)
    assert radial.min() >= -1e-9


def test_a_line_is_its_two_ends():
    line = Line(points=np.array([[0.0, 0.0], [3.0, 4.0]]))

    np.testing.assert_array_equal(line.flattened(0.02), [[0, 0], [3, 4]])


def test_a_curve_of_no_length_is_a_point_twice():
    still = Cubic(points=np.full((4, 2), 7.0))

    np.testing.assert_array_equal(still.flattened(0.02), [[7, 7], [7, 7]])


@given(st.lists(st.tuples(st.integers(-3, 3), st.integers(-3, 3)), min_size=1, max_size=12))
def test_points_without_repeats_stand_apart_and_keep_their_ends(points):
    points = np.array(points, dtype=float)

    kept = without_repeats(points, 1.5)

    np.testing.assert_array_equal(kept[-1], points[-1])
    if len(kept) > 1:
        np.testing.assert_array_equal(kept[0], points[0])
        assert np.hypot(*np.diff(kept[:-1], axis=0).T).min(initial=9) > 1.5
    assert away(points, np.concatenate([kept, kept[-1:]])).max() <= 1.5 + 1.5
