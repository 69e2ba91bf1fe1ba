"""Overcut: the ring closes and the knife runs on along it by so much, no more."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.cut import Knife, plan_cut
from nestplan.cut.overcut import lifted_at, run_on
from nestplan.faults import Fault
from tests.cut.handmade import decal, frames, square

SQUARE = square(0, 0, 20)


@given(st.floats(0.05, 70.0), st.integers(0, 3))
def test_the_way_is_longer_by_the_overcut_and_stays_on_the_ring(over, begin):
    ring = np.roll(SQUARE, -begin, axis=0)
    drawn = run_on(ring, over)
    line = shapely.LineString(drawn)

    assert line.length == pytest.approx(80 + over)
    assert shapely.LinearRing(SQUARE).buffer(1e-6).covers(line)
    assert drawn[-1] == pytest.approx(lifted_at(ring, over)[0])


def plan_of(*sizes, over=0.5, turning="either"):
    decals = tuple(decal(f"size {size}", (square(0, 0, size),)) for size in sizes)
    nest, marks = frames([[(k, (60 + 100 * k, 60)) for k in range(len(sizes))]], [[(0, 0)]])
    return plan_cut(decals, nest, marks, Knife(overcut_mm=over, turning=turning))


def test_each_ring_is_one_open_line_that_passes_its_start_by_the_overcut():
    plan = plan_of(20, 30)

    for stroke in plan.frames[0].strokes:
        line = shapely.LineString(stroke.points_mm)
        assert not stroke.closed and stroke.is_piece and stroke.overcut_mm == 0.5
        back = line.interpolate(line.length - 0.5)
        assert back.distance(shapely.Point(stroke.points_mm[0])) < 1e-9
    assert plan.length_mm == pytest.approx(80 + 120 + 2 * 0.5)
    assert 0 < plan.travel_bound_mm <= plan.travel_mm


@pytest.mark.parametrize("turning", ["clockwise", "anticlockwise"])
def test_it_runs_on_the_way_the_knife_turns(turning):
    (stroke,) = plan_of(20, turning=turning).frames[0].strokes

    first, end = (stroke.points_mm[k] - (60, 70) for k in (0, -1))
    across = first[0] * end[1] - first[1] * end[0]
    assert (across > 0) == (turning == "anticlockwise")


def test_travel_leaves_from_where_the_overcut_ends():
    plan = plan_of(20, 30, over=6.0)

    one, other = plan.frames[0].strokes
    travel = np.hypot(*one.points_mm[0]) + np.hypot(*(other.points_mm[0] - one.points_mm[-1]))
    assert plan.travel_mm == pytest.approx(travel)


def test_an_overcut_longer_than_a_ring_is_refused():
    with pytest.raises(Fault, match="a ring of size 5 is only 20 mm round"):
        plan_of(50, 5, over=20.0)
