"""Extra copies on free film: all that fit where that is known, none that breaks a rule."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings

from nestplan.geometry.outline import outline_of
from nestplan.nest import Budget, Obstacle, Placements, Shape, Strip, Task
from nestplan.nest.fill import filled
from nestplan.nest.verify import verify
from tests.marks.handmade import box
from tests.nest.hand_shapes import RING, centred
from tests.strategies import laid_out

BUDGET = Budget(steps=1000, seed=1)


def strip_of(shape: Shape, centres, length_mm):
    """One frame's strip of upright copies."""
    n = len(centres)
    placements = Placements(
        shape=np.zeros(n, dtype=np.intp),
        centre_mm=np.array(centres, dtype=np.float64).reshape(-1, 2),
        angle_deg=np.zeros(n),
    )
    return Strip(placements=placements, copy=tuple(range(1, n + 1)), length_mm=length_mm)


def plates(copies: int) -> tuple[Task, Strip]:
    """Plates of 90 x 60 in rows of five, which fill the width to a hair."""
    shape = Shape(name="plate", outline=box(90, 60), copies=copies, angles_deg=(0.0,))
    task = Task(shapes=(shape,), width_mm=5 * 90 + 4 * 4, apart_mm=((4.0,),))
    centres = [(45 + 94 * (k % 5), 30 + 64 * (k // 5)) for k in range(copies)]
    return task, strip_of(shape, centres, 60 + 64 * ((copies - 1) // 5))


@pytest.mark.parametrize("copies", [1, 5, 7, 11, 15])
def test_rows_that_fit_to_a_hair_are_filled_up(copies):
    """The gutter is kept exactly, and so there is just room for the rest of the last row."""
    task, strip = plates(copies)

    full = filled(task, strip, 0, within_mm=(0.0, strip.length_mm), budget=BUDGET)

    assert len(full.copy) == -(-copies // 5) * 5
    assert full.copy == tuple(range(1, len(full.copy) + 1))
    assert full.placements.centre_mm[:copies].tobytes() == strip.placements.centre_mm.tobytes()
    assert full.length_mm == strip.length_mm


def test_a_copy_goes_into_a_hole_that_holds_it():
    """In a ring with a hole of 40 mm there is room for a box whose corners are 4 mm off it."""
    ring = Shape(name="ring", outline=centred(RING), copies=1, angles_deg=(0.0,))
    inner = Shape(name="box", outline=box(22, 22), copies=0, angles_deg=(0.0,))
    task = Task(shapes=(ring, inner), width_mm=62.0, apart_mm=((4.0, 4.0), (4.0, 4.0)))
    high = ring.outline.height_mm
    strip = strip_of(ring, [(31.0, high / 2)], high)

    full = filled(task, strip, 1, within_mm=(0.0, high), budget=BUDGET)

    assert len(full.copy) == 2
    assert np.hypot(*(full.placements.centre_mm[1] - (31.0, high / 2))) < 5.0


def test_obstacles_and_the_stretch_that_is_given_are_kept():
    task, strip = plates(6)
    mark = Obstacle(outline=outline_of(shapely.box(100, 70, 110, 80)), apart_mm=2.0)

    round_it = filled(
        replace(task, obstacles=(mark,)), strip, 0, within_mm=(0.0, 124.0), budget=BUDGET
    )
    below = filled(task, strip, 0, within_mm=(0.0, 120.0), budget=BUDGET)

    assert len(round_it.copy) == 9  # the mark takes the place of one of four
    assert below is strip


@settings(max_examples=15, deadline=None)
@given(laid_out(most_shapes=2, most_copies=4, turns=((0.0,), (0.0, 90.0, 180.0, 270.0))))
def test_no_rule_is_broken_and_no_copy_moves(given_layout):
    task, layout = given_layout
    n = len(layout.placements)
    strip = Strip(
        placements=layout.placements, copy=tuple(range(1, n + 1)), length_mm=layout.length_mm
    )

    full = filled(task, strip, 0, within_mm=(0.0, layout.length_mm), budget=BUDGET)

    copies = np.bincount(full.placements.shape, minlength=len(task.shapes)).tolist()
    broken = verify(task, full.placements, copies=copies, length_most_mm=layout.length_mm)
    assert broken == ()
    assert full.placements.centre_mm[:n].tobytes() == layout.placements.centre_mm.tobytes()
    again = filled(task, strip, 0, within_mm=(0.0, layout.length_mm), budget=BUDGET)
    assert again.placements.centre_mm.tobytes() == full.placements.centre_mm.tobytes()


def test_a_fill_that_is_stopped_leaves_the_strip_as_it_was():
    task, strip = plates(6)
    stopped = Budget(steps=1000, seed=1, stopped=lambda: True)

    assert filled(task, strip, 0, within_mm=(0.0, 124.0), budget=stopped) is strip
