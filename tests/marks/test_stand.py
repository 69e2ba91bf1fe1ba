"""Marks along an edge: no gap over the spacing, as even as the safe zone allows."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.marks.stand import Edge, edge_places, evenly, least_between


def edge(*y_mm: float) -> Edge:
    return Edge(places_mm=np.array([(0.0, y) for y in y_mm]))


def test_marks_on_a_free_edge_stand_evenly():
    places = evenly(edge(*range(0, 1001)), between=2, spacing_mm=400, apart_mm=10)

    assert [y for _, y in places] == pytest.approx([0, 333, 667, 1000], abs=1)


def test_a_blocked_stretch_longer_than_the_spacing_cannot_be_bridged():
    assert least_between(edge(0, 100, 600, 700), spacing_mm=400) is None
    assert evenly(edge(0, 100, 600, 700), between=2, spacing_mm=400, apart_mm=10) is None


def test_a_short_edge_needs_no_mark_between_its_ends():
    assert least_between(edge(0, 400), spacing_mm=400) == 0


@given(st.sets(st.integers(1, 1999), min_size=0, max_size=60), st.integers(300, 1500))
def test_the_fewest_marks_are_enough_and_one_less_is_not(between, spacing):
    candidates = edge(0.0, *sorted(float(y) for y in between), 2000.0)
    count = least_between(candidates, spacing_mm=spacing)
    if count is None:
        widest = max(np.diff(candidates.places_mm[:, 1]))
        assert widest > spacing
        return

    places = evenly(candidates, between=count, spacing_mm=spacing, apart_mm=0.5)
    assert max(np.diff([y for _, y in places])) <= spacing
    if count > 0:
        assert evenly(candidates, between=count - 1, spacing_mm=spacing, apart_mm=0.5) is None


def test_the_place_nearest_the_edge_is_taken_for_each_y():
    zone = shapely.union(shapely.box(20, 0, 30, 10), shapely.box(24, 10, 30, 20))

    places = edge_places(zone, x_from_mm=18, x_to_mm=40, y_from_mm=0, y_to_mm=20).places_mm

    assert places[places[:, 1] < 9][:, 0] == pytest.approx(20)
    assert places[places[:, 1] > 11][:, 0] == pytest.approx(24)
    assert (places[0, 1], places[-1, 1]) == (0, 20)


def test_from_the_right_the_place_farthest_right_is_taken():
    zone = shapely.box(20, 0, 30, 10)

    places = edge_places(zone, x_from_mm=40, x_to_mm=18, y_from_mm=0, y_to_mm=10).places_mm

    assert places[:, 0] == pytest.approx(30)
