"""A run in frames: every copy once, no frame too long, equal mixes, full frames where shorter."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import nestplan.nest.divide as divide_module
import nestplan.nest.race as race_module
from nestplan.nest import Budget, Shape, Task
from nestplan.nest.divide import balanced, nest_in_frames
from nestplan.nest.parts import part_of
from nestplan.nest.race import race
from nestplan.nest.verify import verify
from tests.marks.handmade import box

BUDGET = Budget(steps=40, seed=1)


def task(*shapes: tuple[float, float, int], width_mm: float = 500.0) -> Task:
    """Boxes (width, height, copies) that keep 4 mm."""
    return Task(
        shapes=tuple(
            Shape(name=f"box {w:g}", outline=box(w, h), copies=n, angles_deg=(0.0, 90.0))
            for w, h, n in shapes
        ),
        width_mm=width_mm,
        apart_mm=((4.0,) * len(shapes),) * len(shapes),
    )


@given(st.lists(st.integers(1, 60), min_size=1, max_size=5), st.integers(1, 7))
def test_frames_share_every_shape_evenly(copies, frames):
    asked = task(*((40.0 + 10 * k, 30.0, n) for k, n in enumerate(copies)))

    mixes = np.array(balanced(asked, frames))

    assert mixes.sum(axis=0).tolist() == copies
    assert (mixes.max(axis=0) - mixes.min(axis=0)).max() <= 1


def test_every_copy_is_cut_once_and_every_frame_fits():
    asked = task((90, 60, 31), (50, 40, 17))

    divided = nest_in_frames(asked, length_most_mm=300.0, budget=BUDGET)

    assert len(divided.strips) > 1
    seen = set()
    for strip in divided.strips:
        assert strip.length_mm <= 300.0 + 1e-6
        for shape, copy in zip(strip.placements.shape.tolist(), strip.copy, strict=True):
            assert (shape, copy) not in seen
            seen.add((shape, copy))
    assert seen == {(0, k) for k in range(1, 32)} | {(1, k) for k in range(1, 18)}


def test_each_frame_is_legal_by_itself():
    asked = task((90, 60, 20), (70, 30, 14))

    divided = nest_in_frames(asked, length_most_mm=250.0, budget=BUDGET)

    for strip in divided.strips:
        counts = np.bincount(strip.placements.shape, minlength=2).tolist()
        part = part_of(asked, tuple(counts), 250.0)
        assert verify(part, strip.placements) == ()


def test_for_one_shape_full_frames_beat_ragged_ones():
    """Rows of five: 35 copies in frames of at most four rows are 4 + 3 rows, not 18 + 17
    copies in four rows each. By hand: 4 * 60 + 3 * 4 + 3 * 60 + 2 * 4 mm."""
    asked = Task(
        shapes=(Shape(name="plate", outline=box(90, 60), copies=35, angles_deg=(0.0,)),),
        width_mm=5 * 90 + 4 * 4,
        apart_mm=((4.0,),),
    )

    divided = nest_in_frames(asked, length_most_mm=4 * 60 + 3 * 4, budget=BUDGET)

    assert sum(strip.length_mm for strip in divided.strips) == pytest.approx(252 + 188)


def test_one_long_nest_is_cut_where_that_is_shorter(monkeypatch):
    """Rows of five: 3 rows of 46 and 3 of 96 mm, 4 mm apart, frames of at most 246 mm. Equal
    mixes have rows that are not full. Cut by hand: 3 * 46 + 96 + 3 * 4 mm, and 2 * 96 + 4 mm.
    """
    monkeypatch.setattr(divide_module, "LONG_LEAST", 2)
    asked = task((96, 46, 15), (96, 96, 15), width_mm=5 * 96 + 4 * 4)
    upright = tuple(replace(shape, angles_deg=(0.0,)) for shape in asked.shapes)
    asked = replace(asked, shapes=upright)

    divided = nest_in_frames(asked, length_most_mm=246.0, budget=BUDGET)

    assert [strip.length_mm for strip in divided.strips] == pytest.approx([246, 196])
    assert divided.engine == "columns, cut"
    others = [tried.length_mm for tried in divided.tried if tried.length_mm is not None]
    assert len(others) > 2
    assert min(others) == pytest.approx(246 + 196)
    for strip in divided.strips:
        counts = tuple(np.bincount(strip.placements.shape, minlength=2).tolist())
        assert verify(asked, strip.placements, copies=counts, length_most_mm=246.0) == ()
    assert sorted(copy for strip in divided.strips for copy in strip.copy) == sorted(
        2 * list(range(1, 16))
    )


def test_one_frame_is_enough_where_all_fits():
    assert len(nest_in_frames(task((90, 60, 9)), length_most_mm=900.0, budget=BUDGET).strips) == 1


def test_a_layout_that_breaks_a_rule_never_wins(monkeypatch):
    """An engine that lays everything on one spot would be the shortest of all."""

    class Heap:
        name = "heap"

        def __call__(self, task, budget, tell):
            layout = race_module.Columns()(task, budget)
            centre = np.tile(layout.placements.centre_mm[:1], (len(layout.placements), 1))
            return replace(layout, placements=replace(layout.placements, centre_mm=centre))

    monkeypatch.setattr(race_module, "Boxes", Heap)
    asked = task((90, 60, 9))
    raced = race(asked, BUDGET)

    assert raced.refused == ("heap",)
    assert verify(asked, raced.best) == ()
    assert raced.reached_mm["heap"] is None


def test_the_race_names_the_winner_and_says_what_the_others_reached():
    raced = race(task((90, 60, 12)), BUDGET)

    assert raced.best.engine in raced.reached_mm
    known = [length for length in raced.reached_mm.values() if length is not None]
    assert raced.best.length_mm == pytest.approx(min(known))
