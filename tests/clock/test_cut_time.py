"""Cut time by hand: every second has its cause."""

from dataclasses import replace
from math import sqrt

import numpy as np
import pytest

from nestplan.clock.cut_time import cut_s
from nestplan.clock.motion import Pace, path_s
from nestplan.cut import Knife, plan_cut
from nestplan.cut.windows import Windows
from nestplan.job import Machine
from tests.cut.handmade import decal, frames, square
from tests.files.handmade import a_run


def cutter(**changes):
    """500 mm/s and 5000 mm/s²: a move of d mm >= 50 takes d / 500 + 0.1 s, else 2 sqrt(d / a)."""
    keys = {
        "name": "cutter",
        "does": ["cut"],
        "width_mm": 1400.0,
        "speed_mm_s": 500.0,
        "acceleration_mm_s2": 5000.0,
        "frame_greatest_mm": 2000.0,
        "sensor": {
            "shape": "disc",
            "size_mm": 6.0,
            "clear_mm": 5.0,
            "spacing_mm": 900.0,
            "read_s": 1.5,
            "repeatability_mm": 0.05,
        },
    }
    return Machine.model_validate(keys | changes)


PACE = Pace(speed_mm_s=500.0, acceleration_mm_s2=5000.0, corner_mm=0.05)
PLATE = decal("plate", (square(0, 0, 100),))


def one_frame(*kinds):
    """One square of 100 mm per kind, from (300, 0), (600, 0) ... in run coordinates; marks at
    (0, 0) and (300, 0)."""
    decals = tuple(decal(kind, (square(0, 0, 100),), cut=kind) for kind in kinds)
    lying = [(k, (350.0 + 300 * k, 40.0)) for k in range(len(kinds))]
    nest, marks = frames([lying], [[(0, 0), (300, 0)]])
    return marks, plan_cut(decals, nest, marks)


def test_one_square_by_hand():
    """Two marks of 1.5 s; 300 mm there, 300 mm back and 300 mm to the square, 0.7 s each;
    the square itself, tested apart; one lift."""
    marks, cut = one_frame("kiss")
    ring_s = path_s(np.array([[0, 0], [100, 0], [100, 100], [0, 100], [0, 0.0]]), PACE)

    found = cut_s(cutter(lift_s=0.2), marks, cut)

    assert found == pytest.approx(2 * 1.5 + 3 * 0.7 + ring_s + 0.2)


@pytest.mark.parametrize(
    ("key", "worth_s"),
    [("wind_back_s", 1), ("lift_s", 2), ("tool_change_s", 1)],
)
def test_each_key_counts_as_often_as_it_happens(key, worth_s):
    """One run, two rings, one change from kiss to through."""
    marks, cut = one_frame("kiss", "through")

    assert cut_s(cutter(**{key: 7.0}), marks, cut) - cut_s(cutter(), marks, cut) == pytest.approx(
        7.0 * worth_s
    )


def test_one_tool_for_both_cuts_is_never_changed():
    marks, cut = one_frame("kiss", "through")
    one = cutter(tool_change_s=30.0, tools={"kiss": "blade", "through": "blade"})

    assert cut_s(one, marks, cut) == pytest.approx(cut_s(cutter(), marks, cut))


def test_the_tool_is_changed_back_for_the_next_frame():
    kinds = ("kiss", "through")
    decals = tuple(decal(kind, (square(0, 0, 100),), cut=kind) for kind in kinds)
    lying = [(0, (350.0, 40.0)), (1, (650.0, 40.0))]
    nest, marks = frames([lying, lying], [[(0, 0)], [(0, 1000)]])
    cut = plan_cut(decals, nest, marks)

    more = cut_s(cutter(tool_change_s=10.0), marks, cut) - cut_s(cutter(), marks, cut)

    assert more == pytest.approx(3 * 10.0)


def test_from_frame_to_frame_the_web_runs_on_to_the_next_first_mark():
    """The second frame costs its mark, the way from (100, 0) to (0, 1000) in run coordinates,
    the way from there to its square, and the square."""
    nest, marks = frames([[(0, (150, 40))], [(0, (150, 40))]], [[(0, 0)], [(0, 1000)]])
    cut = plan_cut((PLATE,), nest, marks)
    first = replace(marks, frames=marks.frames[:1]), replace(cut, frames=cut.frames[:1])
    ring_s = path_s(np.array([[0, 0], [100, 0], [100, 100], [0, 100], [0, 0.0]]), PACE)

    more = cut_s(cutter(), marks, cut) - cut_s(cutter(), *first)

    on_s = sqrt(100**2 + 1000**2) / 500 + 0.1
    assert more == pytest.approx(on_s + 1.5 + 0.3 + ring_s)


def test_copies_timed_once_take_what_each_takes_alone():
    """Different starts, angles and two decals of equal sides: no ring borrows another's time."""
    run = a_run()
    rhomb = decal("rhomb", (np.array([[-30.0, 0], [0, -40], [30, 0], [0, 40]]),))
    plate = decal("plate", (square(0, 0, 50),))
    nest, marks = frames(
        [[(k % 2, (100.0 * k, 90.0 * (k % 3))) for k in range(10)]], [[(0, 0), (900, 0)]]
    )
    for marks_of, cut in (
        (run.marks, plan_cut(run.artwork.decals, run.nest, run.marks)),
        (marks, plan_cut((rhomb, plate), nest, marks)),
    ):
        assert cut_s(cutter(), marks_of, cut) == pytest.approx(
            sum(
                path_s(np.vstack([ring.points_mm, ring.points_mm[:1]]), PACE)
                for frame in cut.frames
                for ring in frame.strokes
            )
            + moves_s(marks_of, cut)
            + 1.5 * sum(len(frame.marks) for frame in marks_of.frames)
        )


def moves_s(marks, cut):
    stops = []
    for frame, cuts in zip(marks.frames, cut.frames, strict=True):
        stops += [(mark.x_mm, mark.y_mm) for mark in (*frame.marks, frame.marks[0])]
        stops += [tuple(ring.points_mm[0]) for ring in cuts.strokes]
    away = np.hypot(*np.diff(np.array(stops), axis=0).T)
    return sum(d / 500 + 0.1 if d >= 50 else 2 * sqrt(d / 5000) for d in away)


def test_winding_on_to_the_next_window_is_counted():
    """Two squares 600 mm apart along the feed, a web that moves 200 mm: one winding on."""
    nest, marks = frames([[(0, (350, 60)), (0, (350, 660))]], [[(0, 0)]])
    whole = plan_cut((PLATE,), nest, marks)
    by_window = plan_cut((PLATE,), nest, marks, Knife(windows=Windows(length_mm=200.0)))

    assert cut_s(cutter(window_s=9.0), marks, whole) == cut_s(cutter(), marks, whole)
    assert cut_s(cutter(window_s=9.0), marks, by_window) == pytest.approx(
        cut_s(cutter(), marks, by_window) + 9.0
    )
