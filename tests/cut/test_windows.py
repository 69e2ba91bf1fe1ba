"""Windows of web travel: everything whole in its window, the earlier ones first."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.cut import Knife, plan_cut
from nestplan.cut.knife import turned_round
from nestplan.cut.windows import Windows, window_of
from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.geometry.outline import signed_area_mm2
from tests.cut.handmade import decal, frames, hole, square

spans = st.lists(st.tuples(st.floats(0, 1000), st.floats(0.1, 100)), min_size=1, max_size=30).map(
    lambda rows: np.array([(y, y + length) for y, length in rows])
)


@given(spans, st.booleans())
def test_a_window_is_no_longer_than_the_web_moves_and_none_is_empty(rows, from_trailing):
    window = window_of(rows, Windows(length_mm=150.0, from_trailing=from_trailing))

    assert set(window) == set(range(window.max() + 1))
    for k in range(window.max() + 1):
        here = rows[window == k]
        assert here[:, 1].max() - here[:, 0].min() <= 150.0 + 1e-3


@given(spans)
def test_what_lies_inside_is_in_no_later_window(rows):
    window = window_of(rows, Windows(length_mm=150.0))

    for a, (low, high) in enumerate(rows):
        for b, (begin, end) in enumerate(rows):
            if begin <= low and high <= end:
                assert window[a] <= window[b]


def test_a_ring_longer_than_a_window_is_refused():
    with pytest.raises(Fault, match="moves 80 mm of film") as found:
        window_of(np.array([[0.0, 90.0]]), Windows(length_mm=80.0))

    assert found.value.code == OUT_OF_REACH


def test_kiss_before_through_within_a_window_and_windows_in_turn():
    kinds = {0: "kiss", 1: "through"}
    decals = tuple(decal(kind, (square(0, 0, 20),), cut=kind) for kind in kinds.values())
    lying = [
        (k, (x, y))
        for y in (20, 60, 220, 260)
        for x in (50, 90)
        for k in (0, 1)
        if (x == 50) == (k == 0)
    ]
    nest, marks = frames([lying], [[(0, 0)]])
    knife = Knife(windows=Windows(length_mm=100.0))

    (frame,) = plan_cut(decals, nest, marks, knife).frames

    assert [(ring.window, ring.kind) for ring in frame.strokes] == [
        (window, kind) for window in (0, 1) for kind in ("kiss", "kiss", "through", "through")
    ]
    back = Knife(windows=Windows(length_mm=100.0, from_trailing=True))
    (frame,) = plan_cut(decals, nest, marks, back).frames
    assert frame.strokes[0].points_mm[0, 1] > 200


@pytest.mark.parametrize(("turning", "sign"), [("clockwise", -1), ("anticlockwise", 1)])
def test_a_knife_that_needs_it_runs_every_ring_the_same_way_round(turning, sign):
    plate = decal("plate", (square(0, 0, 100), hole(0, 0, 60)))
    nest, marks = frames([[(0, (100, 100))]], [[(10, 10)]])

    (frame,) = plan_cut((plate,), nest, marks, Knife(turning=turning)).frames

    assert [np.sign(signed_area_mm2(ring.points_mm)) for ring in frame.strokes] == [sign] * 2
    (free,) = plan_cut((plate,), nest, marks).frames
    for ring, other in zip(frame.strokes, free.strokes, strict=True):
        assert (ring.points_mm[0] == other.points_mm[0]).all()
        assert (turned_round(ring.points_mm, "either") == ring.points_mm).all()
