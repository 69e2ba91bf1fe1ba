"""The cut of a run: every ring once, where it lies, in an order that keeps film in place."""

import numpy as np
import pytest

from nestplan.cut import plan_cut
from tests.cut.handmade import decal, frames, hole, square
from tests.files.handmade import CONTOURS, PLACES, a_run, placed_run


def test_every_ring_of_every_copy_is_cut_once_in_its_frame_where_it_lies():
    run = a_run()
    plan = plan_cut(run.artwork.decals, run.nest, run.marks)

    for frame, places in zip(plan.frames, PLACES, strict=True):
        rings = {(ring.decal, ring.copy, ring.ring): ring for ring in frame.strokes}
        wanted = {
            (place[0], place[1], index): ring
            for place in places
            for index, ring in enumerate(placed_run(place).rings)
        }
        assert len(frame.strokes) == len(wanted)
        assert set(rings) == set(wanted)
        for name, ring in wanted.items():
            assert same_ring(rings[name].points_mm, ring), name
            assert rings[name].kind == run.artwork.decals[name[0]].cut
    assert plan.contours == 8
    assert plan.length_mm == pytest.approx(4 * sum(c.length_mm for c in CONTOURS))


def same_ring(one, other):
    """Equal but for where it starts; the way round is kept."""
    shifts = (np.roll(other, -k, axis=0) for k in range(len(other)))
    return any(np.allclose(one, shifted, atol=1e-9, rtol=0) for shifted in shifts)


def test_all_kiss_cuts_come_before_all_through_cuts_in_every_frame():
    run = a_run()

    for frame in plan_cut(run.artwork.decals, run.nest, run.marks).frames:
        kinds = [ring.kind for ring in frame.strokes]
        assert kinds == sorted(kinds)  # k before t
        assert set(kinds) == {"kiss", "through"}


def test_travel_goes_from_the_first_mark_of_each_frame_through_every_start():
    run = a_run()
    plan = plan_cut(run.artwork.decals, run.nest, run.marks)

    travel = 0.0
    for frame, cut in zip(run.marks.frames, plan.frames, strict=True):
        stops = [(frame.marks[0].x_mm, frame.marks[0].y_mm)]
        stops += [tuple(ring.points_mm[0]) for ring in cut.strokes]
        travel += np.hypot(*np.diff(np.array(stops), axis=0).T).sum()
    assert plan.travel_mm == pytest.approx(travel)


@pytest.mark.parametrize("cut", ["kiss", "through"])
def test_a_decal_in_a_hole_is_cut_before_the_ring_round_it(cut):
    """The small one is farther from the first mark than the plate's own outer ring."""
    plate = decal("plate", (square(0, 0, 100), hole(0, 0, 60)), cut=cut)
    small = decal("small", (square(0, 0, 20),), cut=cut)
    nest, marks = frames([[(0, (100, 100)), (1, (100, 100)), (1, (300, 100))]], [[(10, 10)]])

    (frame,) = plan_cut((plate, small), nest, marks).frames

    cut_as = [(ring.decal, ring.copy, ring.ring) for ring in frame.strokes]
    assert cut_as.index((1, 1, 0)) < cut_as.index((0, 1, 1)) < cut_as.index((0, 1, 0))


def test_kiss_before_through_holds_also_for_a_through_cut_inside_a_kiss_cut():
    plate = decal("plate", (square(0, 0, 100), hole(0, 0, 60)), cut="kiss")
    small = decal("small", (square(0, 0, 20),), cut="through")
    nest, marks = frames([[(1, (100, 100)), (0, (100, 100))]], [[(10, 10)]])

    (frame,) = plan_cut((plate, small), nest, marks).frames

    assert [(ring.decal, ring.ring) for ring in frame.strokes] == [(0, 1), (0, 0), (1, 0)]


def test_the_through_cuts_begin_near_to_where_the_kiss_cuts_ended():
    """One kiss cut far from the first mark; of two through cuts one lies near the mark."""
    kiss, through = (decal(kind, (square(0, 0, 10),), cut=kind) for kind in ("kiss", "through"))
    nest, marks = frames([[(0, (500, 500)), (1, (20, 20)), (1, (450, 450))]], [[(0, 0)]])

    (frame,) = plan_cut((kiss, through), nest, marks).frames

    assert [(ring.kind, ring.copy) for ring in frame.strokes] == [
        ("kiss", 1),
        ("through", 2),
        ("through", 1),
    ]


def test_strips_are_shifted_to_where_they_lie_on_the_film():
    nest, marks = frames([[(0, (20, 30))], [(0, (20, 30))]], [[(0, 0)], [(0, 1000)]], x0_mm=7.0)

    plan = plan_cut((decal("plate", (square(0, 0, 10),)),), nest, marks)

    for frame, centre in zip(plan.frames, [(27, 40), (27, 1040)], strict=True):
        (ring,) = frame.strokes
        assert ring.points_mm.mean(axis=0).tolist() == list(centre)
    assert [frame.strokes[0].copy for frame in plan.frames] == [1, 2]


def test_travel_by_hand():
    """Mark at (0, 0); squares of 10 mm from (20, 10) and from (50, 10) in run coordinates.
    In at the far corner (30, 10) and 20 mm on: 51.6 mm. In at the near one: 22.4 + 30."""
    nest, marks = frames([[(0, (55, 5)), (0, (25, 5))]], [[(0, 0)]])

    plan = plan_cut((decal("plate", (square(0, 0, 10),)),), nest, marks)

    assert [ring.copy for ring in plan.frames[0].strokes] == [2, 1]
    assert plan.travel_mm == pytest.approx(np.hypot(30, 10) + 20)
    assert plan.length_mm == pytest.approx(80)


def test_rings_cannot_be_written_to():
    run = a_run()
    plan = plan_cut(run.artwork.decals, run.nest, run.marks)

    with pytest.raises(ValueError, match="read-only"):
        plan.frames[0].strokes[0].points_mm[0, 0] = 0.0
