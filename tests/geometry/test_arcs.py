"""Arcs are found where a curve was flattened, and nowhere else."""

from math import pi, tan

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.geometry.arcs import CHORD_MM, bulges_of, circle_of
from nestplan.geometry.outline import FLATTEN_MM
from tests.strategies import outlines

QUARTER = tan(pi / 8)  # bulge of a quarter circle (DXF reference, LWPOLYLINE group 42)


def rounded(width: float, height: float, radius: float) -> np.ndarray:
    """A rounded rectangle, counter-clockwise, chords within 0.02 mm."""
    steps = int(np.ceil(pi / 2 / (2 * np.arccos(1 - FLATTEN_MM / radius))))
    turns = np.linspace(0, pi / 2, steps + 1)
    corner = radius * np.column_stack([np.cos(turns), np.sin(turns)])
    x, y = width / 2 - radius, height / 2 - radius
    parts = []
    for k, middle in enumerate([(x, y), (-x, y), (-x, -y), (x, -y)]):
        c, s = [(1, 0), (0, 1), (-1, 0), (0, -1)][k]
        parts.append(corner @ np.array([[c, s], [-s, c]]) + middle)
    return np.vstack(parts)


def as_line(ring: np.ndarray) -> shapely.LineString:
    """Lines and arcs as finely as anybody could look at them."""
    kept = bulges_of(ring)
    points = []
    for (at, bulge), (to, _) in zip(kept, [*kept[1:], kept[0]], strict=True):
        start, end = (complex(*ring[k]) for k in (at, to))
        if not bulge:
            points.append(start)
            continue
        centre = (start + end) / 2 + 1j * (end - start) * (1 - bulge**2) / (4 * bulge)
        turns = np.linspace(0, 4 * np.arctan(bulge), 400, endpoint=False)
        points += list(centre + (start - centre) * np.exp(1j * turns))
    return shapely.LinearRing([(p.real, p.imag) for p in points])


def test_a_rounded_rectangle_is_four_lines_and_four_quarter_circles():
    bulges = [bulge for _, bulge in bulges_of(rounded(90, 60, 8))]

    assert sorted(bulges)[:4] == [0, 0, 0, 0]
    assert sorted(bulges)[4:] == pytest.approx([QUARTER] * 4, abs=1e-6)


def test_a_clockwise_ring_has_negative_bulges():
    bulges = [bulge for _, bulge in bulges_of(rounded(90, 60, 8)[::-1])]

    assert min(bulges) == pytest.approx(-QUARTER, abs=1e-6)
    assert max(bulges) == 0


def test_a_flattened_circle_is_found_with_centre_and_radius():
    turns = np.linspace(0, 2 * pi, 100, endpoint=False)
    found = circle_of(np.column_stack([7 + 15 * np.cos(turns), 15 * np.sin(turns) - 2]))

    assert found is not None
    assert (found.x_mm, found.y_mm, found.radius_mm) == pytest.approx((7, -2, 15))


@pytest.mark.parametrize("sides", [3, 4, 6, 8, 12])
def test_a_regular_polygon_that_was_drawn_as_one_stays_one(sides):
    """Its corners lie on a circle, but its sides leave it."""
    turns = np.linspace(0, 2 * pi, sides, endpoint=False)
    ring = 20 * np.column_stack([np.cos(turns), np.sin(turns)])

    assert circle_of(ring) is None
    assert bulges_of(ring) == [(k, 0.0) for k in range(sides)]


def test_an_ellipse_is_no_circle():
    turns = np.linspace(0, 2 * pi, 200, endpoint=False)

    assert circle_of(np.column_stack([15 * np.cos(turns), 14.9 * np.sin(turns)])) is None


@settings(max_examples=60)
@given(outlines(), st.floats(0.3, 12))
def test_lines_and_arcs_leave_no_ring_by_more_than_curves_are_flattened(outline, by):
    """Any shape, its corners rounded."""
    round_one = shapely.buffer(outline.region, by, quad_segs=32)
    for ring in shapely.get_parts(shapely.get_parts(round_one)):
        points = np.asarray(ring.exterior.coords)[:-1]
        apart = shapely.hausdorff_distance(as_line(points), shapely.LinearRing(points))
        assert apart <= CHORD_MM + 0.001
        assert bulges_of(points)[0][0] == 0  # the knife starts where it was told to
