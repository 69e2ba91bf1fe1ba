"""A nest handed in from a former plan: what may stay stays, and little else changes."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings

from nestplan.job.former import FormerMark
from nestplan.nest.carry import beside_anew, carried_notes, carry_over
from nestplan.nest.engine import Budget
from nestplan.nest.placements import Layout, Placements
from nestplan.nest.task import Shape, Task
from nestplan.nest.verify import verify
from tests.nest.hand_shapes import HAND_DRAWN, centred
from tests.strategies import former_plan, laid_out, tasks

BUDGET = Budget(steps=20, seed=1)
LONG_MM = 10_000.0


def plates(copies, *, gutter_mm=4.0, width_mm=400.0, size=(90.0, 60.0)):
    """Equal plates, four in a row at 94 mm."""
    outline = centred(shapely.box(0, 0, *size))
    shape = Shape(name="berth plate", outline=outline, copies=copies, angles_deg=(0.0, 180.0))
    return Task(shapes=(shape,), width_mm=width_mm, apart_mm=((gutter_mm,),))


def rows_of_four(copies, *, apart_mm=4.0, leave_out=()):
    """Plates laid by hand, row by row, but for some places."""
    places = [k for k in range(copies + len(leave_out)) if k not in leave_out]
    step = 90.0 + apart_mm, 60.0 + apart_mm
    centre = np.array([(45.0 + step[0] * (k % 4), 30.0 + step[1] * (k // 4)) for k in places])
    placements = Placements(
        shape=np.zeros(copies, dtype=np.intp), centre_mm=centre, angle_deg=np.zeros(copies)
    )
    return Layout(placements=placements, length_mm=0.0, engine="hand")


def places(strip):
    """Where the copies of a strip lie, to a thousandth."""
    laid = strip.placements
    return {(shape, round(x, 3), round(y, 3), angle) for shape, (x, y), angle in laid.each()}


def carried_over(task, former, **more):
    divided = carry_over(
        task, former, **{"x0_mm": 0.0, "length_most_mm": LONG_MM, "budget": BUDGET} | more
    )
    for strip in divided.strips:
        copies = np.bincount(strip.placements.shape, minlength=len(task.shapes)).tolist()
        assert verify(task, strip.placements, copies=copies) == ()
    laid = [
        (shape, copy)
        for strip in divided.strips
        for shape, copy in zip(strip.placements.shape.tolist(), strip.copy, strict=True)
    ]
    assert sorted(laid) == [(k, n + 1) for k, s in enumerate(task.shapes) for n in range(s.copies)]
    return divided, divided.carried


@settings(max_examples=15)
@given(laid_out())
def test_an_unchanged_job_keeps_every_copy_in_its_place(drawn):
    task, layout = drawn
    former = former_plan(task, layout, x0_mm=12.5)
    divided, carried = carried_over(task, former, x0_mm=12.5)

    assert (carried.stayed, carried.moved, carried.came, carried.went) == (task.copies, 0, 0, 0)
    assert len(divided.strips) == 1
    assert places(divided.strips[0]) == places(layout)
    assert divided.strips[0].anew == frozenset()


@settings(max_examples=8)
@given(laid_out(), tasks(most_copies=3))
def test_whatever_the_former_plan_was_the_nest_is_legal(drawn, task):
    """Another job's plan: shapes of the same names, other contours, quantities, distances."""
    former = former_plan(*drawn)
    kept = carry_over(task, former, x0_mm=0.0, length_most_mm=LONG_MM, budget=BUDGET)
    if kept is not None:
        _, carried = carried_over(task, former)
        assert carried.stayed + carried.moved + carried.came == task.copies
        assert carried.stayed + carried.moved + carried.went == carried.before


def test_places_rounded_to_a_millionth_are_still_kept():
    """Thirds of a millimetre, exactly a gutter apart: six decimals bring some nearer."""
    task = plates(12, gutter_mm=1 / 3)
    former = former_plan(task, rows_of_four(12, apart_mm=1 / 3))
    _, carried = carried_over(task, former)

    assert carried.stayed == 12


def test_fewer_copies_leave_the_end_of_the_run():
    former = former_plan(plates(12), rows_of_four(12))
    divided, carried = carried_over(plates(8), former)

    assert (carried.stayed, carried.went) == (8, 4)
    assert divided.strips[0].length_mm == pytest.approx(2 * 60 + 4)


def test_a_frame_without_copies_goes():
    former = former_plan(plates(16), rows_of_four(12), rows_of_four(4))
    divided, _ = carried_over(plates(11), former)

    assert len(divided.strips) == 1


def test_more_copies_come_into_free_places_first():
    """Two places were left free in the first row; the strip grows no longer."""
    former = former_plan(plates(10), rows_of_four(10, leave_out=(1, 2)))
    divided, carried = carried_over(plates(12), former)

    assert (carried.stayed, carried.came) == (10, 2)
    assert divided.strips[0].length_mm == pytest.approx(3 * 60 + 2 * 4)
    assert len(divided.strips[0].anew) == 2


def test_more_copies_than_there_is_room_for_lengthen_the_last_frame_then_open_another():
    """Frames take three rows; the first is full, the second has one, eleven come."""
    former = former_plan(plates(16), rows_of_four(12), rows_of_four(4))
    divided, carried = carried_over(plates(27), former, length_most_mm=3 * 60 + 2 * 4)

    assert (carried.stayed, carried.came) == (16, 11)
    assert [len(strip.placements) for strip in divided.strips] == [12, 12, 3]
    assert [len(strip.anew) for strip in divided.strips] == [0, 8, 3]


def test_what_comes_keeps_clear_of_where_marks_stand():
    """A mark stands in the one free place: the copy that comes goes elsewhere."""
    former = former_plan(plates(11), rows_of_four(11, leave_out=(5,)))
    frame = former.frames[0]
    mark = FormerMark(x_mm=45.0 + 94.0, y_mm=frame.y0_mm + 30.0 + 64.0)
    marked = replace(former, frames=(frame.model_copy(update={"marks": [mark]}),))

    free, _ = carried_over(plates(12), former)
    kept, _ = carried_over(plates(12), marked)

    assert free.strips[0].length_mm == pytest.approx(3 * 60 + 2 * 4)
    assert kept.strips[0].length_mm == pytest.approx(4 * 60 + 3 * 4)


def test_a_larger_gutter_moves_only_what_stands_too_near():
    """Rows stand 10 mm apart, columns 4: with 6 mm every second of a row may stay."""
    laid = rows_of_four(8)
    centre = laid.placements.centre_mm + [(0.0, 6.0 * (k // 4)) for k in range(8)]
    former = former_plan(
        plates(8), replace(laid, placements=replace(laid.placements, centre_mm=centre))
    )
    _, carried = carried_over(plates(8, gutter_mm=6.0), former)

    assert (carried.stayed, carried.moved) == (4, 4)


def test_a_narrower_film_keeps_the_columns_that_are_on_it():
    former = former_plan(plates(8), rows_of_four(8))
    _, carried = carried_over(plates(8, width_mm=290.0), former)

    assert (carried.stayed, carried.moved) == (6, 2)


def test_a_changed_contour_is_placed_anew_and_the_others_stay():
    star = Shape(
        name="compass star",
        outline=centred(HAND_DRAWN["star"]),
        copies=3,
        angles_deg=(0.0,),
    )
    both = replace(plates(8), shapes=(*plates(8).shapes, star), apart_mm=((4.0,) * 2,) * 2)
    laid = rows_of_four(8).placements
    stars = Placements(
        shape=np.ones(3, dtype=np.intp),
        centre_mm=np.array([(30.0 + 50.0 * k, 160.0) for k in range(3)]),
        angle_deg=np.zeros(3),
    )
    layout = Layout(
        placements=Placements(
            shape=np.concatenate([laid.shape, stars.shape]),
            centre_mm=np.concatenate([laid.centre_mm, stars.centre_mm]),
            angle_deg=np.concatenate([laid.angle_deg, stars.angle_deg]),
        ),
        length_mm=0.0,
        engine="hand",
    )
    larger = replace(star, outline=star.outline.scaled(1.1))
    _, carried = carried_over(
        replace(both, shapes=(both.shapes[0], larger)), former_plan(both, layout)
    )

    assert (carried.stayed, carried.moved, carried.came) == (8, 3, 0)


def test_nothing_to_keep_is_said():
    former = former_plan(plates(8), rows_of_four(8))
    task = plates(8, size=(91.0, 60.0))

    assert carry_over(task, former, x0_mm=0.0, length_most_mm=LONG_MM, budget=BUDGET) is None
    notes = carried_notes(former, "pier", None, ())
    assert [note.level for note in notes] == ["look", "look"]
    assert '"regatta"' in notes[0].text
    assert "nested anew" in notes[1].text


def test_what_keeping_the_places_costs_is_told():
    """One copy in each of three rows stays; anew all three lie in one row."""
    former = former_plan(plates(4), rows_of_four(4, leave_out=(1, 2, 3, 5, 6, 7)))
    task = plates(3)
    divided, carried = carried_over(task, former)
    divided = beside_anew(task, divided, length_most_mm=LONG_MM, budget=BUDGET)
    notes = carried_notes(former, "regatta", carried, divided.tried)

    assert (carried.stayed, carried.went) == (3, 1)
    assert "costs 128.0 mm of film" in notes[-1].text


def test_the_same_former_plan_gives_the_same_bytes():
    former = former_plan(plates(10), rows_of_four(10, leave_out=(1, 2)))
    once, again = (carried_over(plates(14), former)[0] for _ in range(2))

    for one, other in zip(once.strips, again.strips, strict=True):
        assert one.placements.centre_mm.tobytes() == other.placements.centre_mm.tobytes()
