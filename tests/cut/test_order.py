"""Order and starts of rings: what lies inside comes first, no start can be bettered."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.cut.neighbours import nearest_next
from nestplan.cut.order import TOP, Rings, cutting_order, way_through
from nestplan.cut.rings import surrounded_by
from tests.cut.handmade import hole, square


def rings_of(corners, rank=None):
    sizes = [len(ring) for ring in corners]
    return Rings(
        corners=np.concatenate(corners),
        first=np.concatenate([[0], np.cumsum(sizes)]),
        inside=surrounded_by(corners),
        rank=np.zeros(len(corners), np.int64) if rank is None else np.array(rank),
    )


def travel_mm(knife, corners, order, start):
    stops = np.vstack([knife, corners[start[order]]])
    return np.hypot(*np.diff(stops, axis=0).T).sum()


# squares of a field of 30 mm cells, each somewhere in its own cell
fields = st.lists(
    st.tuples(st.integers(0, 5), st.integers(0, 5), st.integers(4, 20)),
    min_size=1,
    max_size=20,
    unique_by=lambda cell: cell[:2],
).map(lambda cells: [square(30.0 * x + side / 2, 30.0 * y, side) for x, y, side in cells])
knives = st.tuples(st.integers(-50, 200), st.integers(-50, 200)).map(
    lambda spot: np.array(spot, dtype=float)
)


@given(fields, knives)
def test_the_way_is_never_longer_than_nearest_next(squares, knife):
    rings = rings_of(squares)
    owner = np.repeat(np.arange(len(squares)), 4)
    nearest, entry = nearest_next(knife, rings.corners, owner)

    order, start = cutting_order(rings, knife)

    assert sorted(order) == list(range(len(squares)))
    assert (owner[start] == np.arange(len(squares))).all()
    assert (
        travel_mm(knife, rings.corners, order, start)
        <= travel_mm(knife, rings.corners, nearest, entry) + 1e-6
    )


@given(fields, knives)
def test_no_ring_can_begin_at_a_better_corner(squares, knife):
    rings = rings_of(squares)
    order, start = cutting_order(rings, knife)
    planned = travel_mm(knife, rings.corners, order, start)

    for ring in range(len(squares)):
        for corner in range(4 * ring, 4 * ring + 4):
            other = start.copy()
            other[ring] = corner
            assert planned <= travel_mm(knife, rings.corners, order, other) + 1e-5


@given(fields, knives)
def test_the_last_ring_begins_where_the_knife_is_nearest(squares, knife):
    rings = rings_of(squares)
    order, start = cutting_order(rings, knife)
    stops = np.vstack([knife, rings.corners[start[order]]])

    away = np.hypot(*(squares[order[-1]] - stops[-2]).T)
    assert np.hypot(*(stops[-1] - stops[-2])) <= away.min() + 1e-6


def test_three_squares_in_a_row_by_hand():
    """A row of 10 mm squares from x = 10, 50 and 90; the knife comes from (0, 0). It need go
    no farther than the near edge of the last, wherever it enters the others on its way."""
    squares = [square(95.0, 5.0, 10.0), square(15.0, 5.0, 10.0), square(55.0, 5.0, 10.0)]
    rings = rings_of(squares)

    order, start = cutting_order(rings, np.zeros(2))

    assert order.tolist() == [1, 2, 0]
    assert travel_mm(np.zeros(2), rings.corners, order, start) == pytest.approx(90.0)


def test_what_lies_inside_is_cut_first_however_deep():
    """A plate with a hole, in it a ring-shaped decal with a hole, in that a small decal."""
    corners = [
        square(0, 0, 100),
        hole(0, 0, 80),
        square(0, 0, 60),
        hole(0, 0, 40),
        square(5, 0, 10),
        square(100, 0, 20),
    ]
    rings = rings_of(corners)

    assert rings.inside.tolist() == [TOP, 0, 1, 2, 3, TOP]
    order, _ = cutting_order(rings, np.array([-60.0, 0.0]))
    assert order.tolist() == [4, 3, 2, 1, 0, 5]


def test_a_hole_belongs_to_the_outer_ring_before_it_also_where_two_outers_touch():
    corners = [square(0, 0, 20), hole(0, 0, 10), square(20, 0, 20), hole(20, 0, 10)]

    assert surrounded_by(corners).tolist() == [TOP, 0, TOP, 2]


def test_a_decal_that_fills_a_hole_to_its_edge_lies_in_it():
    corners = [square(0, 0, 20), hole(0.1, 0.2, 10), square(0.1, 0.2, 10)]

    assert surrounded_by(corners).tolist() == [TOP, 0, 1]


def test_hundreds_of_rings_one_in_the_other_are_no_trouble():
    """Deeper than the interpreter may call itself."""
    corners = [
        ring
        for k in range(600)
        for ring in (square(0, 0, 4000 - 4 * k), hole(0, 0, 4000 - 4 * k - 2))
    ]
    order, _ = cutting_order(rings_of(corners), np.zeros(2), kicks=50)

    assert order.tolist() == list(range(1199, -1, -1))


def test_the_same_rings_are_ordered_the_same_way_every_time():
    rng = np.random.default_rng(5)
    squares = [square(x, y, 6.0) for x, y in rng.permutation(400)[:, None] // [1, 20] % 20 * 9.0]
    rings = rings_of(squares)
    one, other = (way_through(rings.corners, rings.first, np.zeros(2)) for _ in range(2))

    assert (one[0] == other[0]).all()
    assert (one[1] == other[1]).all()
