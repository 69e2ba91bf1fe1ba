"""The grid finds what a look at all points finds."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from nestplan.cut.neighbours import NOBODY, near_lists, nearest_next
from tests.cut.handmade import spots


@given(spots, st.integers(1, 12))
def test_near_lists_are_what_sorting_all_distances_gives(points, most):
    near = near_lists(points, most)

    for p, row in enumerate(near):
        away = np.hypot(*(points - points[p]).T)
        away[p] = np.inf
        others = np.argsort(away, kind="stable")[: len(points) - 1]  # ties: lower number first
        wanted = others[:most].tolist() + [NOBODY] * max(0, most - len(others))
        assert row.tolist() == wanted


@given(spots, st.data(), st.tuples(st.integers(-40, 60), st.integers(-40, 60)))
def test_each_visit_goes_to_the_nearest_owner_left(points, data, start):
    rings = data.draw(st.integers(1, len(points)))
    owner = np.arange(len(points)) % rings

    order, entry = nearest_next(np.array(start, dtype=float), points, owner)

    assert sorted(order) == list(range(rings))
    here, left = np.array(start, dtype=float), set(range(rings))
    for who in order.tolist():
        away = np.hypot(*(points - here).T)
        assert owner[entry[who]] == who
        assert away[entry[who]] == min(away[p] for p in range(len(points)) if owner[p] in left)
        here, left = points[entry[who]], left - {who}


def test_points_on_one_line_and_on_one_spot_are_found():
    line = np.column_stack([np.arange(50.0), np.zeros(50)])

    assert nearest_next(np.zeros(2), line, np.arange(50))[0].tolist() == list(range(50))
    assert near_lists(np.zeros((4, 2)), 2).tolist() == [[1, 2], [0, 2], [0, 1], [0, 1]]
