"""A way made shorter: never longer, nothing near left to gain, near published optima."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.cut.neighbours import NOBODY, near_lists, nearest_next
from nestplan.cut.shorten import (
    GAIN_MM,
    MOVED_MOST,
    NEAR,
    _put_elsewhere,
    _turn_round,
    free_rules,
    shortened,
)
from tests.cut.handmade import spots
from tests.open_data import open_data


def way_mm(points, order, *, closed=False):
    stops = points[np.append(order, order[0])] if closed else points[order]
    return np.hypot(*np.diff(stops, axis=0).T).sum()


def nearest_first(points):
    return nearest_next(points[0], points, np.arange(len(points)))[0]


@given(spots)
@pytest.mark.parametrize("closed", [False, True])
def test_every_stop_stays_the_first_is_first_and_the_way_is_never_longer(closed, points):
    before = nearest_first(points)
    after = shortened(points, before, closed=closed)

    assert sorted(after) == list(range(len(points)))
    assert after[0] == before[0]
    assert way_mm(points, after, closed=closed) <= way_mm(points, before, closed=closed) + 1e-9


@given(spots)
def test_no_stretch_turned_round_makes_an_open_way_shorter(points):
    """With so few stops everyone is near to everyone, so this is 2-opt proven to be done."""
    points = points[:NEAR]
    order = shortened(points, nearest_first(points))

    least = min(
        way_mm(points, np.concatenate([order[:i], order[i : j + 1][::-1], order[j + 1 :]]))
        for i, j in combinations(range(1, len(order) + 1), 2)
    )
    assert way_mm(points, order) <= least + GAIN_MM * 2


@given(spots)
def test_no_stretch_of_three_put_elsewhere_makes_an_open_way_shorter(points):
    points = points[:NEAR]
    order = shortened(points, nearest_first(points)).tolist()

    for stops in range(1, MOVED_MOST + 1):
        for low in range(1, len(order) - stops + 1):
            held, rest = order[low : low + stops], order[:low] + order[low + stops :]
            for gap in range(1, len(rest) + 1):
                for stretch in (held, held[::-1]):
                    other = rest[:gap] + stretch + rest[gap:]
                    assert way_mm(points, order) <= way_mm(points, other) + GAIN_MM * 2


@given(spots, st.integers(0, 2**32 - 1))
@pytest.mark.parametrize("move", [_turn_round, _put_elsewhere])
@pytest.mark.parametrize("closed", [False, True])
@pytest.mark.parametrize("lines", ["none", "two ways", "some one way"])
def test_every_single_move_makes_the_way_shorter(lines, closed, move, points, seed):
    """A move that only says so would be mended by the next one, or go on for ever.
    Stops that are lines are left elsewhere than they are entered, and turned round with a
    stretch; those that run one way only never are."""
    rng, tail = np.random.default_rng(seed), len(points)
    places = np.vstack([points, points[:1]])
    way = np.concatenate([[0], 1 + rng.permutation(tail - 1), [tail]])
    near = near_lists(places, NEAR)
    near = near if closed else np.where(np.isin(near, [tail]), NOBODY, near)
    places = np.hstack([places, places])
    rules = free_rules(tail + 1)
    if lines != "none":
        places[1:tail, 2:] += rng.integers(-5, 6, (tail - 1, 2))
    if lines == "some one way":
        rules.one_way[1:tail] = rng.random(tail - 1) < 0.3
    for stop in range(tail + closed):
        before, at, entered = way.copy(), np.argsort(way), places.copy()

        gain, free = np.zeros(1), NOBODY if closed else tail
        moved = move(places, way, at, near, free, rules, stop, np.empty(6, int), gain)

        saved = lifted_mm(entered, before, closed) - lifted_mm(places, way, closed)
        assert (saved > GAIN_MM / 2) if moved else (way == before).all()
        assert gain[0] == pytest.approx(saved, abs=1e-9)
        assert (at == np.argsort(way)).all()
        assert (way[0], way[-1]) == (0, tail)
        assert (places[rules.one_way] == entered[rules.one_way]).all()


def lifted_mm(places, way, closed):
    """From where each stop is left to where the next is entered."""
    way = way if closed else way[:-1]
    return np.hypot(*(places[way[1:], :2] - places[way[:-1], 2:]).T).sum()


def test_a_crossing_is_undone():
    """Round a square of 10 mm: 10 + 10 + 10 instead of 10 + 14.1 + 10 with the diagonal."""
    corners = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]])

    order = shortened(corners, np.array([0, 1, 3, 2]))

    assert way_mm(corners, order) == pytest.approx(30.0)


# TSPLIB95 (G. Reinelt, ORSA Journal on Computing 3, 1991, 376-384): optimal closed tours
# with every distance rounded to a whole number.
OPTIMA = {
    "berlin52": 7542,
    "eil51": 426,
    "st70": 675,
    "eil76": 538,
    "kroA100": 21282,
    "eil101": 629,
    "lin105": 14379,
    "a280": 2579,
}


@pytest.mark.parametrize("name", OPTIMA)
def test_a_tour_is_within_8_percent_of_the_published_optimum(name):
    points = tsplib_points(open_data(f"tsp/{name}.tsp"))
    before = nearest_first(points)
    tours = [rounded_tour(points, way) for way in (before, shortened(points, before, closed=True))]

    assert OPTIMA[name] <= tours[1] <= 1.08 * OPTIMA[name] < tours[0]


def tsplib_points(path):
    rows = [line.split() for line in path.read_text().splitlines()]
    return np.array([row[1:] for row in rows if len(row) == 3 and row[0].isdigit()], dtype=float)


def rounded_tour(points, order):
    stops = points[np.append(order, order[0])]
    return np.floor(np.hypot(*np.diff(stops, axis=0).T) + 0.5).sum()
