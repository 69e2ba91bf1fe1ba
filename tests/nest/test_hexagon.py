"""The least hexagon is exact, or a little less, and never more."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.nest.hexagon import CORNERS_MOST, least_hexagon_mm2
from tests.strategies import rounds


def regular(corners, radius=1.0):
    angles = 2 * np.pi * np.arange(corners) / corners
    return radius * np.column_stack((np.cos(angles), np.sin(angles)))


def area(points):
    x, y = points.T
    return 0.5 * abs(x @ np.roll(y, -1) - y @ np.roll(x, -1))


@pytest.mark.parametrize(
    ("corners", "area_mm2"),
    [(7, 2.9724746), (8, 3.1213203), (9, 3.1870123), (10, 3.2164408), (12, 3.2320508)],
)
def test_regular_polygons_have_the_least_hexagon_known(corners, area_mm2):
    """Computed elsewhere by enumeration over flush edges; 8 also by the density
    (4 + 4 sqrt 2) / (5 + 4 sqrt 2) of the densest packing of octagons."""
    assert least_hexagon_mm2(regular(corners)) == pytest.approx(area_mm2, abs=1e-7)


def test_an_octagon_is_as_dense_as_its_known_packing():
    octagon = regular(8)
    density = (4 + 4 * np.sqrt(2)) / (5 + 4 * np.sqrt(2))

    assert area(octagon) / least_hexagon_mm2(octagon) == pytest.approx(density, rel=1e-12)


@pytest.mark.parametrize("corners", [3, 4, 5, 6])
def test_a_polygon_of_up_to_six_sides_is_its_own_least_hexagon(corners):
    assert least_hexagon_mm2(regular(corners)) == pytest.approx(area(regular(corners)))


def test_a_fine_circle_is_understated_by_little():
    """2 sqrt(3) r^2 for the true circle; the polygon inside it has less."""
    found = least_hexagon_mm2(regular(500))

    assert 0.995 * 2 * np.sqrt(3) <= found <= 2 * np.sqrt(3)


def test_many_corners_are_thinned_to_a_polygon_inside():
    """A box with rounded corners of 1000 chords each lies between box and box less corners."""
    quarter = np.linspace(0, np.pi / 2, 1000)
    arcs = [
        np.column_stack((np.cos(quarter + turn), np.sin(quarter + turn))) * 6 + middle
        for turn, middle in zip(
            np.pi / 2 * np.arange(4), [(39, 24), (-39, 24), (-39, -24), (39, -24)], strict=True
        )
    ]
    rounded = np.concatenate(arcs)

    assert len(rounded) > CORNERS_MOST
    assert area(rounded) * 0.999 < least_hexagon_mm2(rounded) < 90 * 60


def test_a_side_may_touch_a_single_corner_at_its_own_middle():
    """A boat seen from behind: flat keel, leaning sides, round deck.

    A level side that touches only the keel saves one side for the deck; by symmetry it
    touches at its middle. All other sides lie on edges of the boat.
    """
    turns = np.linspace(0.3, np.pi - 0.3, 12)
    deck = np.column_stack((0.7 * np.cos(turns), 1.2 + 0.7 * np.sin(turns)))
    boat = np.concatenate(([(-1.0, 0.0), (0.0, -0.02), (1.0, 0.0)], deck))
    along = np.roll(boat, -1, axis=0) - boat
    facing = np.arctan2(-along[:, 0], along[:, 1])
    level = -np.pi / 2
    drawn = [
        tangent_hexagon(boat, np.sort([level, *facing[list(edges)]]))
        for edges in combinations(range(2, len(boat)), 5)
    ]

    assert least_hexagon_mm2(boat) == pytest.approx(min(drawn), rel=1e-9)


@settings(max_examples=15)
@given(rounds(), st.integers(0, 2**32 - 1))
def test_no_hexagon_drawn_round_a_polygon_is_smaller(outline, seed):
    """Six tangents at random angles, then each angle shaken as long as the hexagon shrinks."""
    polygon = outline.rings[0]
    least = least_hexagon_mm2(polygon)
    rng = np.random.default_rng(seed)
    for _ in range(3):
        angles = np.sort(2 * np.pi * (np.arange(6) + rng.uniform(0, 0.9, 6)) / 6)
        drawn, step = tangent_hexagon(polygon, angles), 0.5
        for _ in range(100):
            shaken = np.sort((angles + rng.normal(0, step, 6)) % (2 * np.pi))
            tried = tangent_hexagon(polygon, shaken)
            angles, drawn, step = (
                (shaken, tried, step) if tried < drawn else (angles, drawn, 0.97 * step)
            )
        assert drawn >= least - 1e-9 * least


def tangent_hexagon(polygon, angles):
    """Area of the hexagon whose sides touch the polygon and face these ways."""
    gaps = np.diff(np.append(angles, angles[0] + 2 * np.pi))
    if gaps.max() >= np.pi - 1e-3 or gaps.min() <= 1e-6:
        return np.inf
    normals = np.column_stack((np.cos(angles), np.sin(angles)))
    reach = (polygon @ normals.T).max(axis=0)
    corners = [
        np.linalg.solve(normals[[i, (i + 1) % 6]], reach[[i, (i + 1) % 6]]) for i in range(6)
    ]
    return area(np.array(corners)) if ordered(np.array(corners), normals) else np.inf


def ordered(corners, normals):
    """Whether each side runs the right way round: none is cut away by its neighbours."""
    sides = corners - np.roll(corners, 1, axis=0)
    along = np.column_stack((-normals[:, 1], normals[:, 0]))
    return bool(((sides * along).sum(axis=1) >= -1e-12).all())
