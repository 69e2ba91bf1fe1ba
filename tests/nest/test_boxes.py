"""Box heuristics: legal, repeatable, never shorter than a known optimum and seldom far off."""

import json
from dataclasses import replace

import numpy as np
import pytest
import rectpack
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.nest.bound import lower_bound
from nestplan.nest.boxes import Boxes, half_gaps_mm, price_steps
from nestplan.nest.engine import Budget
from nestplan.nest.task import Obstacle, Shape, Task
from nestplan.nest.verify import verify
from tests.open_data import open_data
from tests.strategies import boxes, centred, tasks

AMPLE = Budget(steps=400_000, seed=1)
SCANT = Budget(steps=400, seed=1)

# Hopper & Turton 2000 (EJOR 128, 34-57), Burke, Kendall & Whitwell 2004 (Oper. Res. 52,
# 655-671) and Hopper 2000 (thesis): perfect packings, so the optimum is known.
KNOWN = ("c1_1", "c2_3", "c3_1", "c4_3", "burke_n1", "burke_n3", "hopper_n1a", "hopper_t1a")


def mixed(*sizes, strip, gutter=0.0, angles_deg=(0.0, 90.0)):
    """A task of boxes (width, height, copies)."""
    shapes = tuple(
        Shape(
            name=f"plate {w:g} x {h:g}",
            outline=centred(shapely.box(0, 0, w, h)),
            copies=copies,
            angles_deg=angles_deg,
        )
        for w, h, copies in sizes
    )
    apart = ((float(gutter),) * len(shapes),) * len(shapes)
    return Task(shapes=shapes, width_mm=float(strip), apart_mm=apart)


def known_instance(name):
    data = json.loads((open_data("rect") / f"{name}.json").read_text())
    sizes = [(item["w"], item["h"], item["demand"]) for item in data["items"]]
    return mixed(*sizes, strip=data["strip_width"]), float(data["optimum_height"])


@given(tasks(most_copies=8))
def test_every_task_gets_a_legal_layout_no_shorter_than_the_bound(task):
    layout = Boxes()(task, SCANT)

    assert layout is not None
    assert layout.engine == "boxes"
    assert verify(task, layout) == ()
    assert layout.length_mm >= lower_bound(task).length_mm - 1e-6


@pytest.mark.parametrize("name", KNOWN)
def test_a_known_optimum_is_never_beaten_and_missed_by_a_tenth_at_most(name):
    task, optimum = known_instance(name)

    layout = Boxes()(task, AMPLE)

    assert verify(task, layout) == ()
    assert optimum - 1e-6 <= layout.length_mm <= 1.1 * optimum


def test_a_perfect_packing_is_found():
    """burke_n1: ten boxes fill 40 x 40 without a gap."""
    task, optimum = known_instance("burke_n1")

    assert Boxes()(task, AMPLE).length_mm == pytest.approx(optimum, abs=1e-6)


def test_gutters_lie_between_boxes_and_not_round_them():
    """30 + 4 + 66 fill 100; 20 high."""
    task = mixed((30, 20, 1), (66, 20, 1), strip=100, gutter=4)

    layout = Boxes()(task, SCANT)

    assert layout.length_mm == pytest.approx(20.0, abs=1e-9)
    assert sorted(layout.placements.centre_mm[:, 0].tolist()) in (
        pytest.approx([15.0, 67.0], abs=1e-6),
        pytest.approx([33.0, 85.0], abs=1e-6),
    )


def test_only_a_shape_that_may_turn_is_turned():
    """On 50 mm the long plate has to lie along the feed; only one of the two may."""
    task = mixed((80, 10, 2), (30, 12, 3), strip=50)
    stiff = replace(task.shapes[1], angles_deg=(0.0, 180.0))
    layout = Boxes()(replace(task, shapes=(task.shapes[0], stiff)), SCANT)

    turned = layout.placements.angle_deg == 90.0
    assert (turned == (layout.placements.shape == 0)).all()


def test_a_shape_that_does_not_fit_has_no_answer():
    assert Boxes()(mixed((80, 10, 2), strip=50, angles_deg=(0.0,)), SCANT) is None


def test_obstacles_have_no_answer():
    mark = Obstacle(outline=centred(shapely.box(0, 0, 6, 6)), apart_mm=3.0)

    assert Boxes()(replace(mixed((30, 10, 2), strip=50), obstacles=(mark,)), AMPLE) is None


def test_thousands_of_boxes_are_left_to_others():
    assert Boxes()(mixed((30, 10, 5000), (20, 10, 5000), strip=1370), AMPLE) is None


def test_a_stopped_search_hands_back_what_it_has():
    task = mixed((30, 20, 9), (25, 11, 9), strip=100)
    looks = iter(range(1000))

    assert Boxes()(task, replace(AMPLE, stopped=lambda: True)) is None
    stopped = Boxes()(task, replace(AMPLE, stopped=lambda: next(looks) >= 3))
    assert verify(task, stopped) == ()
    assert stopped.length_mm >= Boxes()(task, AMPLE).length_mm


@settings(max_examples=20)
@given(tasks(shapes=boxes()), st.integers(0, 7))
def test_a_larger_budget_never_gives_a_longer_layout(task, doublings):
    small = Boxes()(task, Budget(steps=4 * 2**doublings, seed=1))
    large = Boxes()(task, Budget(steps=8 * 2**doublings, seed=1))

    if small is not None:
        assert large.length_mm <= small.length_mm + 1e-6


def test_the_same_task_gives_the_same_bytes_whatever_the_seed():
    task = mixed((30, 20, 9), (25, 11, 9), (40, 13.3, 5), strip=100, gutter=1.7)

    first, second = Boxes()(task, AMPLE), Boxes()(task, replace(AMPLE, seed=7, workers=1))

    assert first.placements.centre_mm.tobytes() == second.placements.centre_mm.tobytes()
    assert first.placements.angle_deg.tobytes() == second.placements.angle_deg.tobytes()


def test_whoever_waits_hears_of_every_shorter_layout():
    """What is told is the extent of the boxes, up to the roundest 0.1 nm."""
    heard = []
    task = mixed((30, 20, 9), (25, 11, 9), strip=100, gutter=2)

    layout = Boxes()(task, AMPLE, lambda length_mm, share: heard.append(length_mm))

    assert heard == sorted(heard, reverse=True)
    assert heard[-1] == pytest.approx(layout.length_mm, abs=1e-6)


@given(tasks(most_shapes=4))
def test_half_gaps_add_up_to_what_any_two_must_keep(task):
    half = np.array(half_gaps_mm(task))

    assert (half[:, np.newaxis] + half >= np.array(task.apart_mm) - 1e-12).all()


def test_half_gaps_hold_where_two_shapes_keep_more_from_each_other_than_from_themselves():
    task = replace(mixed((30, 20, 1), (25, 11, 1), strip=100), apart_mm=((1.0, 6.0), (6.0, 1.0)))

    layout = Boxes()(task, SCANT)

    assert half_gaps_mm(task) == [3.0, 3.0]
    assert verify(task, layout) == ()


def test_a_run_over_more_boxes_costs_more_and_free_rectangles_cost_most():
    assert price_steps(rectpack.SkylineBl, 100) < price_steps(rectpack.SkylineBl, 200)
    assert price_steps(rectpack.SkylineBl, 100) < price_steps(rectpack.MaxRectsBl, 100)
