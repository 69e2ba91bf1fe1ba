"""Mixes of boxes: legal, repeatable, never shorter than a known optimum and mostly on it."""

import json
from dataclasses import replace

import numpy as np
import pytest
import rectpack
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.nest.bound import lower_bound
from nestplan.nest.boxes import Boxes
from nestplan.nest.engine import Budget
from nestplan.nest.first_boxes import price_steps
from nestplan.nest.grown_boxes import half_gaps_mm
from nestplan.nest.task import Obstacle, Shape, Task
from nestplan.nest.verify import verify
from tests.open_data import open_data
from tests.strategies import boxes, centred, tasks

AMPLE = Budget(steps=40_000, seed=1)
SCANT = Budget(steps=400, seed=1)

# Hopper & Turton 2000 (EJOR 128, 34-57), Burke, Kendall & Whitwell 2004 (Oper. Res. 52,
# 655-671) and Hopper 2000 (thesis): perfect packings, so the optimum is known.
REACHED = ("c1_1", "c1_2", "c2_3", "c3_1", "c3_3", "burke_n1", "burke_n2", "burke_n3", "hopper_n1a")
NEARLY = ("c7_3", "burke_n12", "hopper_n5a")


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


@pytest.mark.parametrize("name", REACHED)
def test_the_known_optimum_of_a_small_instance_is_reached(name):
    """Without a gap: up to 30 boxes fill the strip to the last corner."""
    task, optimum = known_instance(name)

    layout = Boxes()(task, AMPLE)

    assert verify(task, layout) == ()
    assert layout.length_mm == pytest.approx(optimum, abs=1e-6)


@pytest.mark.parametrize("name", NEARLY)
def test_a_known_optimum_of_many_boxes_is_never_beaten_and_nearly_reached(name):
    task, optimum = known_instance(name)

    layout = Boxes()(task, replace(AMPLE, steps=8000))

    assert verify(task, layout) == ()
    assert optimum - 1e-6 <= layout.length_mm <= 1.05 * optimum


def test_searching_orders_shortens_what_the_first_fillings_reach():
    heard = []
    task, optimum = known_instance("c3_1")

    Boxes()(task, AMPLE, lambda length_mm, share: heard.append(length_mm))

    assert heard[0] > heard[-1] == pytest.approx(optimum, abs=1e-6)


def test_gutters_lie_between_boxes_and_not_round_them():
    """30 + 4 + 66 fill 100; 20 high."""
    task = mixed((30, 20, 1), (66, 20, 1), strip=100, gutter=4)

    layout = Boxes()(task, SCANT)

    assert layout.length_mm == pytest.approx(20.0, abs=1e-9)
    assert sorted(layout.placements.centre_mm[:, 0].tolist()) in (
        pytest.approx([15.0, 67.0], abs=1e-6),
        pytest.approx([33.0, 85.0], abs=1e-6),
    )


def test_a_box_that_needs_no_bleed_lies_nearer_the_edge_than_one_that_does():
    """100 wide with nothing to bleed fills the film of 100; 96 keeps 2 on either side."""
    task = mixed((96, 30, 2), (100, 20, 1), strip=100, gutter=4)
    bleeding = replace(task.shapes[0], edge_mm=2.0)
    task = replace(task, shapes=(bleeding, task.shapes[1]))

    layout = Boxes()(task, AMPLE)

    assert verify(task, layout) == ()
    assert layout.length_mm == pytest.approx(2 * 30 + 20 + 2 * 4, abs=1e-6)


def test_the_widest_gutter_is_not_kept_from_the_ends_of_the_strip():
    """Only the two of 40 keep 10 apart, all others 2: one of them at each end, 2 between."""
    task = mixed((40, 10, 2), (40, 30, 1), strip=40, gutter=2, angles_deg=(0.0,))
    layout = Boxes()(replace(task, apart_mm=((10.0, 6.0), (6.0, 2.0))), AMPLE)

    assert layout.length_mm == pytest.approx(10 + 6 + 30 + 6 + 10, abs=1e-6)


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
    small = Boxes()(task, Budget(steps=8 * 2**doublings, seed=1))
    large = Boxes()(task, Budget(steps=16 * 2**doublings, seed=1))

    if small is not None:
        assert large.length_mm <= small.length_mm + 1e-6


MANY = (
    (30, 20, 9),
    (25, 11, 9),
    (40, 13.3, 5),
    (17.2, 9.4, 12),
    (51, 8.1, 3),
)


def test_a_larger_budget_never_gives_a_longer_layout_of_many_boxes():
    task = mixed(*MANY, strip=200, gutter=1.7)
    steps = (300, 1000, 3000, 10_000)

    lengths = [Boxes()(task, Budget(steps=n, seed=3)).length_mm for n in steps]

    assert lengths == sorted(lengths, reverse=True)
    assert lengths[-1] < lengths[0]


@pytest.mark.parametrize("workers", [1, 2, 3])
def test_the_same_seed_steps_and_workers_give_the_same_bytes(workers):
    task = mixed(*MANY, strip=200, gutter=1.7)
    budget = Budget(steps=6000, seed=5, workers=workers)

    first, second = Boxes()(task, budget), Boxes()(task, budget)

    assert first.placements.centre_mm.tobytes() == second.placements.centre_mm.tobytes()
    assert first.placements.angle_deg.tobytes() == second.placements.angle_deg.tobytes()


def test_orders_are_not_searched_where_outlines_are_far_from_boxes():
    """Triangles fill half their boxes: ten thousand times the steps find the same."""
    burgee = centred(shapely.Polygon([(0, 0), (60, 0), (30, 40)]))
    flag = centred(shapely.Polygon([(0, 0), (45, 0), (0, 45)]))
    shapes = tuple(
        Shape(name=name, outline=outline, copies=9, angles_deg=(0.0, 180.0))
        for name, outline in (("burgee", burgee), ("flag", flag))
    )
    task = Task(shapes=shapes, width_mm=200.0, apart_mm=((3.0, 3.0), (3.0, 3.0)))

    quick = Boxes()(task, AMPLE)
    patient = Boxes()(task, replace(AMPLE, steps=10_000 * AMPLE.steps))

    assert quick.placements.centre_mm.tobytes() == patient.placements.centre_mm.tobytes()


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
