"""No way is shorter than the bound: against every order and every start of few rings."""

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.cut import plan_cut, programme
from nestplan.cut.entries import entries_of, halved
from nestplan.cut.interior import least
from nestplan.cut.programme import END, START, Programme
from nestplan.cut.proof import Proof, proof_within
from nestplan.cut.regions import regions
from nestplan.cut.search import best_starts
from nestplan.cut.subtours import over_edge
from nestplan.cut.travel_bound import _first_legs, _priced, travel_bound_mm
from tests.cut.handmade import square
from tests.cut.test_order import fields, knives
from tests.files.handmade import a_run

POINTS = 24  # tried on each ring, so that the best way is known from above


def dotted(ring):
    """Points along a square, its corners among them."""
    shares = np.arange(POINTS // 4)[:, None] / (POINTS // 4)
    return np.concatenate(
        [a + shares * (b - a) for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True)]
    )


def best_way_mm(knife, squares, phase):
    points = np.concatenate([dotted(ring) for ring in squares])
    first = np.arange(0, len(points) + 1, POINTS)
    lengths = []
    for order in permutations(range(len(squares))):
        if (np.diff(phase[list(order)]) < 0).any():
            continue
        start = best_starts(knife, points, first, np.array(order))
        stops = np.vstack([knife, points[start[list(order)]]])
        lengths.append(np.hypot(*np.diff(stops, axis=0).T).sum())
    return min(lengths)


@settings(max_examples=15)
@given(fields, knives, st.data())
def test_no_order_and_no_start_goes_below_it(squares, knife, data):
    squares = squares[:4]
    phase = np.array([data.draw(st.integers(0, 2)) for _ in squares])

    rounds, halvings = data.draw(st.integers(1, 6)), data.draw(st.integers(0, 3))
    bound = travel_bound_mm(knife, squares, phase, rounds=rounds, proof=Proof(halvings=halvings))

    assert 0 <= bound <= best_way_mm(knife, squares, phase) + 1e-6


def test_squares_in_a_row_cost_the_gaps_between_them_at_least():
    """5 mm to the edge of the first and three gaps of 15 mm; with the widths that one point of
    entry makes the knife walk over, 80 mm. What fractions of a way can do lies between."""
    squares = [square(25.0 * k, 0.0, 10.0) for k in range(4)]

    bound = travel_bound_mm(np.zeros(2), squares, np.zeros(4, dtype=int))

    assert 50.0 - 1e-6 <= bound <= 80.0


def test_two_heaps_far_apart_are_joined_in_the_bound():
    """Short legs alone would do without it: that is what the cuts are for."""
    near = [square(x, y, 8.0) for x in (0, 10) for y in (0, 10)]
    far = [ring + [1000.0, 0.0] for ring in near]

    bound = travel_bound_mm(np.array([-6.0, 0.0]), near + far, np.zeros(8, dtype=int))

    assert bound > 980.0


def test_phases_are_walked_one_after_the_other():
    """Kiss here, through there, kiss here again would be three ways; the phases allow one."""
    rings = [square(0, 0, 10), square(500, 0, 10), square(0, 20, 10), square(500, 20, 10)]
    kiss_and_through = travel_bound_mm(np.zeros(2), rings, np.array([0, 0, 1, 1]))
    anyhow = travel_bound_mm(np.zeros(2), rings, np.zeros(4, dtype=int))

    assert kiss_and_through > 970.0
    assert 480.0 < anyhow < 600.0


def test_many_rings_are_bounded_by_their_nearest_neighbours():
    """40 x 40 squares of 8 mm every 10 mm: 2 mm apart, each but one reached from another."""
    rings = [square(10.0 * x, 10.0 * y, 8.0) for x in range(40) for y in range(40)]

    assert travel_bound_mm(np.zeros(2), rings, np.zeros(1600, dtype=int)) == pytest.approx(
        1599 * 2.0
    )


def test_a_leg_goes_over_the_edge_where_one_end_lies_inside():
    legs = np.array([[0, 1], [1, 2], [-1, 0], [-2, 2]])

    over = over_edge(legs, np.array([True, True, False]))

    assert over.tolist() == [False, True, True, False]


def test_the_plan_says_its_bound():
    run = a_run()
    plan = plan_cut(run.artwork.decals, run.nest, run.marks)

    assert 0 < plan.travel_bound_mm <= plan.travel_mm


def test_more_pieces_prove_more_of_rings_side_by_side():
    """Sixteen squares of 30 mm, 3 mm apart: most of the way lies along their sides, where long
    pieces let it move for nothing."""
    squares = [square(33.0 * x, 33.0 * y, 30.0) for x in range(4) for y in range(4)]
    phase = np.zeros(16, dtype=int)

    few, more = (
        travel_bound_mm(np.array([-5.0, -5.0]), squares, phase, proof=Proof(pieces=pieces))
        for pieces in (4, 24)
    )

    assert few < more


def test_halved_pieces_prove_more_until_the_work_is_stopped():
    squares = [square(33.0 * x, 33.0 * y, 30.0) for x in range(3) for y in range(3)]
    asked = (np.array([-5.0, -5.0]), squares, np.zeros(9, dtype=int))

    once, more = (
        travel_bound_mm(*asked, proof=Proof(pieces=4, halvings=halvings)) for halvings in (0, 2)
    )
    stopped = travel_bound_mm(*asked, proof=Proof(pieces=4, halvings=2, stopped=lambda: True))

    assert stopped == once < more


def test_halves_cover_what_the_pieces_did():
    squares = [square(25.0 * k, 0.0, 10.0) for k in range(3)]
    entries = entries_of(squares, 4)
    which = np.arange(12) % 3 == 0

    finer, parent = halved(squares, entries, which)

    length_mm = np.array([line.length for line in finer.line])
    assert np.allclose(length_mm, finer.length_mm)
    assert np.allclose(np.bincount(parent, weights=length_mm), 10.0)
    assert (finer.ring == entries.ring[parent]).all()
    assert (np.bincount(parent) == np.where(which, 2, 1)).all()


def test_every_way_keeps_the_singles():
    """A way through one piece of each of four squares: from a piece to one ring goes one leg."""
    squares = [square(25.0 * k, 0.0, 10.0) for k in range(4)]
    entries = entries_of(squares, 2)
    made = Programme(ring=entries.ring, phase=np.zeros(4, dtype=int))
    way = [START, 0, 3, 4, 7, END]
    made.add_legs(np.sort(np.column_stack([way[:-1], way[1:]]), axis=1), np.ones(5))
    made.add_singles(np.argwhere(np.ones((8, 4), dtype=bool)))
    entered = np.isin(np.arange(8), way).astype(float)

    rows = made._single_rows() @ np.concatenate([entered, np.ones(5)])

    assert rows.max() == 0.0  # as many as may be
    assert rows.min() == -1.0  # none goes from an entered piece to a ring that is far along


def test_prices_that_are_too_high_give_way():
    """The proof stands on the prices as they are mended, not on what the solver says of them."""
    squares = [square(25.0 * k, 0.0, 10.0) for k in range(4)]
    entries = entries_of(squares, 8)
    made = Programme(ring=entries.ring, phase=np.zeros(4, dtype=int))
    made.add_legs(*_first_legs(np.zeros(2), entries, np.zeros(4, dtype=int)))
    made.cuts = regions(squares, entries)
    solved = made.solve()
    too_high = replace(solved, worth=solved.worth + 6.0)

    lacking, _, _ = _priced(made, entries, too_high)

    assert made.proven(too_high, np.zeros(32)) > 80.0 + 1e-6  # more than the best way
    assert made.proven(too_high, lacking) <= 80.0 + 1e-6


def test_every_way_enters_and_leaves_a_region():
    squares = [square(25.0 * k, 0.0, 10.0) for k in range(4)]
    entries = entries_of(squares, 8)
    way = [START, *(8 * np.arange(4)), END]
    legs = np.column_stack([way[:-1], way[1:]])

    found = regions(squares, entries)

    assert len(found) >= 4
    assert all(over_edge(legs, cut.inside).sum() >= 2 for cut in found)
    assert all(cut.inside[entries.ring == cut.ring].all() for cut in found)


def test_a_longer_search_proves_more_closely():
    shares = [0.001, 0.1, 1.0, 2.0, 8.5]
    proofs = [proof_within(share) for share in shares]

    assert [proof.pieces for proof in proofs] == [4, 8, 16, 16, 16]
    assert [proof.halvings for proof in proofs] == [0, 0, 0, 1, 3]


@pytest.mark.parametrize("solves", [0, 1])
def test_a_solver_that_gives_up_leaves_what_is_proven(monkeypatch, solves):
    """Squares 15 mm apart, one after the other: the nearest neighbour of each is a bound too."""
    squares = [square(25.0 * k, 0.0, 10.0) for k in range(4)]
    answers = iter([least] * solves + [lambda *_: None] * 9)
    monkeypatch.setattr(programme, "least", lambda *given: next(answers)(*given))

    bound = travel_bound_mm(np.zeros(2), squares, np.zeros(4, dtype=int))

    assert 45.0 - 1e-6 <= bound <= 80.0
