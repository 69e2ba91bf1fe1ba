"""Shared edges: every edge is cut, and cut once; pieces that hold others are cut last."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.cut import NO_RING, Wishes, plan_cut
from nestplan.cut.along import length_mm
from nestplan.cut.shared import shared_edges
from tests.cut.handmade import decal, frames, hole, square

SHARE = Wishes(share_edges=True)


def box(x, y, wide, tall):
    return np.array([[x, y], [x + wide, y], [x + wide, y + tall], [x, y + tall]], dtype=float)


def union_of(rings):
    return shapely.union_all([shapely.LinearRing(ring) for ring in rings])


def cut_of(rings):
    """Every stroke: paths in place of rings that share, and the other rings."""
    found = shared_edges(rings)
    lines = [(path.points_mm, path.closed) for path in found.paths]
    lines += [(ring, True) for k, ring in enumerate(rings) if k not in found.rings]
    return found, lines


# boxes on a coarse grid: in rows, as bricks, apart, with steps and corners that only touch
layouts = st.lists(
    st.tuples(st.integers(0, 9), st.integers(0, 9), st.integers(1, 4), st.integers(1, 3)),
    min_size=1,
    max_size=14,
).map(lambda each: _apart([box(5.0 * x, 4.0 * y, 5.0 * w, 4.0 * h) for x, y, w, h in each]))


def _apart(boxes):
    kept = []
    for ring in boxes:
        area = shapely.Polygon(ring)
        if all(shapely.Polygon(other).intersection(area).area < 1e-9 for other in kept):
            kept.append(ring)
    return kept


@given(layouts)
def test_every_edge_is_cut_and_cut_once(rings):
    """What is cut is as long as all edges together, each counted once, and covers them."""
    found, lines = cut_of(rings)
    edges = union_of(rings)

    total = sum(length_mm(points, closed=closed) for points, closed in lines)
    drawn = shapely.union_all(
        [shapely.LineString(np.vstack([p, p[:1]]) if c else p) for p, c in lines]
    )

    assert total == pytest.approx(edges.length)
    assert drawn.buffer(1e-6).covers(edges)
    assert edges.buffer(1e-6).covers(drawn)
    twice = sum(shapely.LinearRing(ring).length for ring in rings)
    assert found.length_mm == pytest.approx(twice - edges.length)


@given(layouts, st.floats(0.1, 1.4), st.floats(-0.003, 0.003))
def test_it_holds_for_fields_that_are_turned_and_for_edges_a_hair_apart(rings, angle, off):
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    turned = [(ring + (off * (k % 2), 0.0)) @ turn for k, ring in enumerate(rings)]
    _, lines = cut_of(turned)

    total = sum(length_mm(points, closed=closed) for points, closed in lines)

    assert total == pytest.approx(union_of(rings).length, abs=0.01 * (1 + len(rings)) ** 2)


def test_a_grid_of_labels_is_cut_in_straight_lines_and_its_frame():
    """Three by four: two lines one way, three the other, one round the field."""
    found = shared_edges([box(20.0 * i, 8.0 * j, 20.0, 8.0) for i in range(3) for j in range(4)])

    assert sorted(path.closed for path in found.paths) == [False] * 5 + [True]
    assert found.length_mm == pytest.approx(2 * 32 + 3 * 60)
    assert all(
        np.ptp(path.points_mm, axis=0).min() < 1e-9 for path in found.paths if not path.closed
    )


def test_rings_that_only_touch_in_a_corner_or_stand_apart_share_nothing():
    assert shared_edges([box(0, 0, 10, 10), box(10, 10, 10, 10)]).paths == ()
    assert shared_edges([box(0, 0, 10, 10), box(10.02, 0, 10, 10)]).paths == ()
    assert shared_edges([box(0, 0, 10, 10)]).paths == ()
    assert shared_edges([]).paths == ()


def planned(decals, places, wishes=SHARE):
    nest, marks = frames([places], [[(0.0, 0.0)]])
    return plan_cut(decals, nest, marks, None, wishes)


def test_the_plan_cuts_less_and_lifts_less_than_ring_by_ring():
    label = decal("label", (box(-20, -10, 40, 20),), bleed_mm=0)
    places = [(0, (60 + 40 * i, 60 + 20 * j)) for j in range(5) for i in range(4)]

    shared, each = planned((label,), places), planned((label,), places, Wishes())

    (frame,) = shared.frames
    assert len(frame.strokes) == 3 + 4 + 1
    assert shared.contours == each.contours == 20
    assert shared.length_mm == pytest.approx(6 * 160 + 5 * 100)
    assert each.length_mm == pytest.approx(20 * 120)
    assert shared.extras.shared_mm == pytest.approx(each.length_mm - shared.length_mm)
    assert 0 < shared.travel_bound_mm <= shared.travel_mm < each.travel_mm


@pytest.mark.parametrize("cut", ["kiss", "through"])
def test_the_frame_of_a_field_is_cut_after_the_lines_within(cut):
    label = decal("label", (box(-20, -10, 40, 20),), cut=cut, bleed_mm=0)
    plan = planned((label,), [(0, (60 + 40 * i, 60 + 20 * j)) for j in range(3) for i in range(3)])

    closed = [stroke.closed for stroke in plan.frames[0].strokes]

    assert closed == [False] * 4 + [True]


def test_holes_come_before_the_last_edge_of_their_label():
    tag = decal("tag", (box(-20, -10, 40, 20), hole(10, 0, 6)), cut="through", bleed_mm=0)
    plan = planned((tag,), [(0, (60 + 40 * i, 60)) for i in range(4)])

    strokes = plan.frames[0].strokes
    holes = [k for k, stroke in enumerate(strokes) if stroke.ring == 1]
    assert len(holes) == 4
    assert strokes[-1].ring == NO_RING
    assert max(holes) < len(strokes) - 1


def test_a_decal_that_fills_a_hole_to_its_edge_shares_all_of_it():
    frame_ = decal("frame", (square(0, 0, 60), hole(0, 0, 30)), bleed_mm=0)
    core = decal("core", (square(0, 0, 30),), bleed_mm=0)

    plan = planned((frame_, core), [(0, (100, 100)), (1, (100, 100))])

    assert [stroke.closed for stroke in plan.frames[0].strokes] == [True, True]
    assert plan.length_mm == pytest.approx(240 + 120)
    assert plan.frames[0].strokes[-1].points_mm.max() == pytest.approx(140)


def test_kinds_of_cut_share_nothing_with_each_other():
    kiss = decal("kiss", (box(-10, -10, 20, 20),), bleed_mm=0)
    through = decal("through", (box(-10, -10, 20, 20),), cut="through", bleed_mm=0)

    plan = planned((kiss, through), [(0, (100, 100)), (1, (120, 100))])

    assert [(s.kind, s.closed) for s in plan.frames[0].strokes] == [
        ("kiss", True),
        ("through", True),
    ]
