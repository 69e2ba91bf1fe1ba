"""Layouts stacked: as near as the verifier allows, and in the shortest order."""

from itertools import pairwise, permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.nest import Placements, Shape, Task
from nestplan.nest.contact import rise_mm
from nestplan.nest.order import EXACT_MOST, shortest_order
from nestplan.nest.parts import joined
from nestplan.nest.verify import verify
from tests import strategies
from tests.marks.handmade import box

CLOSER_MM = 0.01


@settings(max_examples=60)
@given(st.data())
def test_stacked_layouts_touch_and_do_not_overlap(data):
    task = data.draw(strategies.tasks())
    below, above = (data.draw(strategies.shelves(task)).placements for _ in range(2))
    twice = [2 * shape.copies for shape in task.shapes]

    rise = rise_mm(task, below, above)
    touching = joined([below, above.moved(0.0, rise)])
    closer = joined([below, above.moved(0.0, rise - CLOSER_MM)])

    assert verify(task, touching, copies=twice) == ()
    assert verify(task, closer, copies=twice)


def test_a_tooth_rises_only_as_far_as_the_gap_below_it_asks():
    """Two posts 40 high with 30 between them; a block 20 wide comes down between them, 5 mm
    from the floor plate below, however many copies lie higher up."""
    task = Task(
        shapes=tuple(
            Shape(name=name, outline=box(*size), copies=2, angles_deg=(0.0,))
            for name, size in (("post", (35, 40)), ("tooth", (20, 20)), ("plate", (100, 10)))
        ),
        width_mm=100.0,
        apart_mm=((5.0,) * 3,) * 3,
    )
    below = _at([(2, 50, 5), (0, 17.5, 35), (0, 82.5, 35)])
    above = _at([(1, 50, 10)] + [(2, 50, 100 + 15 * k) for k in range(300)])

    assert rise_mm(task, below, above) == pytest.approx(15.0)


def _at(rows):
    return Placements(
        shape=np.array([row[0] for row in rows], dtype=np.intp),
        centre_mm=np.array([row[1:] for row in rows], dtype=float),
        angle_deg=np.zeros(len(rows)),
    )


@given(
    st.integers(1, 6).flatmap(
        lambda n: st.lists(st.integers(0, 50), min_size=n * n, max_size=n * n)
    )
)
def test_no_order_is_shorter(steps):
    many = round(len(steps) ** 0.5)
    steps = np.array(steps, dtype=float).reshape(many, many)

    order = shortest_order(steps)

    assert sorted(order) == list(range(many))
    assert _total(steps, order) == min(_total(steps, each) for each in permutations(range(many)))


def test_of_very_many_layouts_each_is_stacked_once():
    rng = np.random.default_rng(4)
    steps = rng.random((EXACT_MOST + 3,) * 2)

    assert sorted(shortest_order(steps)) == list(range(EXACT_MOST + 3))


def _total(steps, order):
    return sum(steps[one, other] for one, other in pairwise(order))
