"""Decals kept together: one band each, straight across the film, however many frames it takes."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import nestplan.nest.together as together_module
from nestplan.nest import Budget, Shape, Task
from nestplan.nest.parts import part_of
from nestplan.nest.together import nest_in_bands, shared
from nestplan.nest.verify import verify
from tests.marks.handmade import box
from tests.strategies import boxes, kept_together


@pytest.fixture(scope="module", autouse=True)
def quickly():
    """Parts are laid in columns: what is tested here is where they go, not how each is nested."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            together_module, "race", lambda part, budget, watch=None: together_module._sketch(part)
        )
        yield


BUDGET = Budget(steps=20, seed=1)
ROW_MM = 5 * 90 + 4 * 4  # five plates side by side


def plates(*rows: tuple[float, int], apart_mm: float = 4.0) -> Task:
    """Plates 90 wide and so high, so many of each, upright, on film that takes five across."""
    return Task(
        shapes=tuple(
            Shape(name=f"plate {k}", outline=box(90, high), copies=n, angles_deg=(0.0,))
            for k, (high, n) in enumerate(rows)
        ),
        width_mm=ROW_MM,
        apart_mm=((apart_mm,) * len(rows),) * len(rows),
    )


def counts_of(task, strip):
    return np.bincount(strip.placements.shape, minlength=len(task.shapes)).tolist()


def spans(task, strip):
    """(bottom, top) of every copy."""
    rows = zip(
        strip.placements.shape.tolist(),
        strip.placements.centre_mm[:, 1].tolist(),
        strip.placements.angle_deg.tolist(),
        strict=True,
    )
    bounds = [(task.shapes[k].outline.turned(angle).bounds_mm, y) for k, y, angle in rows]
    return np.array([(b[1] + y, b[3] + y) for b, y in bounds])


@settings(max_examples=20, deadline=None)
@given(kept_together(shapes=boxes(), most_shapes=4, most_copies=9))
def test_every_copy_lies_once_within_rules_and_bands_are_whole(given_task):
    task, together, most_mm = given_task

    strips = nest_in_bands(task, together, length_most_mm=most_mm, budget=BUDGET).strips

    rows = [zip(s.placements.shape.tolist(), s.copy, strict=True) for s in strips]
    seen = {row for each in rows for row in each}
    assert seen == {(k, c) for k, s in enumerate(task.shapes) for c in range(1, s.copies + 1)}
    assert sum(len(strip.copy) for strip in strips) == task.copies
    for strip in strips:
        part = part_of(task, tuple(counts_of(task, strip)), None)
        kept = np.unique(strip.placements.shape)
        numbered = type(strip.placements)(
            shape=np.searchsorted(kept, strip.placements.shape),
            centre_mm=strip.placements.centre_mm,
            angle_deg=strip.placements.angle_deg,
        )
        assert verify(part, numbered, length_most_mm=most_mm) == ()
        assert spans(task, strip).max() == pytest.approx(strip.length_mm, abs=1e-6)
    for shape in np.flatnonzero(together).tolist():
        assert_one_band(task, strips, shape)


def assert_one_band(task, strips, shape):
    """No other copy is nearer along the feed than it may be, nor between two lengths of a band."""
    frames = [k for k, strip in enumerate(strips) if shape in strip.placements.shape]
    assert frames == list(range(frames[0], frames[-1] + 1))
    for k in frames:
        own = strips[k].placements.shape == shape
        ends = spans(task, strips[k])
        bottom, top = ends[own, 0].min(), ends[own, 1].max()
        for other, (low, high) in zip(strips[k].placements.shape[~own], ends[~own], strict=True):
            apart = task.apart_mm[shape][other] - 1e-6
            assert high <= bottom - apart or low >= top + apart
            assert k == frames[-1] or high <= bottom
            assert k == frames[0] or low >= top


def test_bands_are_stacked_the_least_distance_apart():
    """By hand: two rows of 60 and one of 30, of which the ten make one band."""
    task = plates((60, 10), (30, 5))

    (strip,) = nest_in_bands(task, (True, False), length_most_mm=500, budget=BUDGET).strips

    assert strip.length_mm == pytest.approx(2 * 60 + 4 + 4 + 30)


def test_a_band_that_does_not_fit_goes_on_in_the_next_frame():
    """Six rows of 60, frames that hold four: all in two frames, and the rest behind the band."""
    task = plates((60, 30), (30, 5))

    strips = nest_in_bands(task, (True, False), length_most_mm=252, budget=BUDGET).strips

    assert [counts_of(task, strip) for strip in strips] == [[20, 0], [10, 5]]
    assert strips[1].length_mm == pytest.approx(2 * 60 + 4 + 4 + 30)


def test_bands_are_put_in_the_order_that_breaks_none():
    """Rows of 60: bands of three, two and one row in frames of three rows; in the job's order one
    of them would be broken."""
    task = plates((60, 10), (60, 15), (60, 5))

    strips = nest_in_bands(task, (True,) * 3, length_most_mm=188, budget=BUDGET).strips

    assert sorted(counts_of(task, strip) for strip in strips) == [[0, 15, 0], [10, 0, 5]]


def test_a_decal_that_stays_whole_leaves_its_room_to_those_that_lie_anywhere():
    """Frames of four rows: bands of three rows each, and two rows of others, one in each frame."""
    task = plates((60, 15), (60, 15), (60, 10))

    strips = nest_in_bands(task, (True, True, False), length_most_mm=252, budget=BUDGET).strips

    assert sorted(counts_of(task, strip) for strip in strips) == [[0, 15, 5], [15, 0, 5]]


def test_the_same_seed_and_steps_give_the_same_bands():
    task = plates((60, 12), (30, 9), (45, 7))
    runs = [
        nest_in_bands(task, (True, False, False), length_most_mm=200, budget=BUDGET).strips
        for _ in range(2)
    ]

    for one, other in zip(*runs, strict=True):
        assert one.placements.centre_mm.tobytes() == other.placements.centre_mm.tobytes()
        assert one.copy == other.copy


def test_a_search_that_is_stopped_at_once_still_lays_every_copy():
    task = plates((60, 12), (30, 9))
    stopped = Budget(steps=20, seed=1, stopped=lambda: True)

    strips = nest_in_bands(task, (True, False), length_most_mm=200, budget=stopped).strips

    assert sum(len(strip.copy) for strip in strips) == 21
    assert all(strip.length_mm <= 200 + 1e-6 for strip in strips)


@given(
    st.lists(st.integers(1, 40), min_size=1, max_size=4),
    st.lists(st.sampled_from((0.0, 120.0, 300.0, 555.5)), min_size=1, max_size=5),
)
def test_shares_add_up_and_stay_out_of_frames_without_room(copies, rooms):
    rooms = [*rooms, 100.0]
    task = plates(*((30.0 + k, n) for k, n in enumerate(copies)))

    shares = np.array(shared(task, tuple(copies), rooms))

    assert shares.sum(axis=0).tolist() == copies
    assert (shares[np.array(rooms) == 0] == 0).all()
