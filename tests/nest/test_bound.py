"""Every bound stays below every layout, and is as sharp as its source says."""

import json
from dataclasses import replace
from math import pi, sqrt

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.nest.bound import BOUNDS, lower_bound
from nestplan.nest.bound_area import area_mm
from nestplan.nest.boxes import Boxes
from nestplan.nest.columns import Columns
from nestplan.nest.engine import Budget
from nestplan.nest.outlines import Outlines
from nestplan.nest.task import Obstacle, Task
from nestplan.nest.verify import verify
from tests.bench.instances import instance
from tests.nest.bound_tasks import NONE, box, disc_round, equal, mixed, replace_copies
from tests.nest.hand_shapes import star
from tests.open_data import open_data
from tests.strategies import (
    boxes,
    centred,
    discs,
    equal_copies,
    laid_out,
    round_polygon,
    rounds,
    shelves,
    stars,
    tasks,
)

BUDGET = Budget(steps=20, seed=1)
SHORT = Budget(steps=3, seed=1)


def each_bound(task, frames=1):
    """Every bound by its name, not only the greatest."""
    return {reason: length_mm(task, frames) for reason, length_mm in BOUNDS}


def several(*regions, strip, copies=60, gutter=2.0):
    """So many copies of each."""
    shapes = tuple(equal(region, copies, strip=strip).shapes[0] for region in regions)
    apart = ((gutter,) * len(shapes),) * len(shapes)
    return Task(shapes=shapes, width_mm=float(strip), apart_mm=apart)


STAR = star(50, 22)  # of the decal set drawn for us, 60 copies with gutter 3 on 1370 mm


# -- no layout is shorter


@settings(max_examples=20)
@given(laid_out())
def test_no_layout_on_shelves_is_shorter(case):
    task, layout = case

    for reason, length_mm in each_bound(task).items():
        assert layout.length_mm >= length_mm - 1e-6, reason


@settings(max_examples=25)
@given(
    st.one_of(equal_copies(boxes()), equal_copies(discs()), equal_copies(rounds()), tasks(boxes())),
)
def test_no_layout_of_the_quick_engines_is_shorter(task):
    lengths = each_bound(task)
    for engine in (Columns(), Boxes()):
        layout = engine(task, BUDGET)
        for reason, length_mm in lengths.items():
            assert layout is None or layout.length_mm >= length_mm - 1e-6, reason


@settings(max_examples=4)
@given(equal_copies(st.one_of(stars(), rounds()), most_copies=5, turns=((0.0, 180.0),)))
def test_no_layout_of_the_search_over_outlines_is_shorter(task):
    """Bays and points reach into each other here; every layout is verified."""
    layout = Outlines()(task, SHORT)
    if layout is None or verify(task, layout):
        return

    for reason, length_mm in each_bound(task).items():
        assert layout.length_mm >= length_mm - 1e-6, reason


@settings(max_examples=25)
@given(tasks(), st.data())
def test_no_two_frames_together_are_shorter(task, data):
    """The copies are shared out over two frames, and each is laid on shelves."""
    counts = [data.draw(st.integers(0, shape.copies)) for shape in task.shapes]
    rest = [shape.copies - n for shape, n in zip(task.shapes, counts, strict=True)]
    halves = [part(task, counts), part(task, rest)]
    if None in halves:
        return
    lengths = [data.draw(shelves(half)).length_mm for half in halves]

    for reason, length_mm in each_bound(task, frames=2).items():
        assert sum(lengths) >= length_mm - 1e-6, reason


def part(task, counts):
    """The task with these counts, without shapes that are not wanted; None: nothing is."""
    kept = [i for i, count in enumerate(counts) if count]
    if not kept:
        return None
    return replace(
        task,
        shapes=tuple(replace(task.shapes[i], copies=counts[i]) for i in kept),
        apart_mm=tuple(tuple(task.apart_mm[i][j] for j in kept) for i in kept),
    )


RECTANGLES = [f"c{group}_{number}" for group in range(1, 8) for number in (1, 3)]
RECTANGLES += [f"burke_n{number}" for number in range(1, 14, 2)]
RECTANGLES += [f"hopper_{name}" for name in ("n1a", "n3a", "n5a", "t1a", "t4a")]


@pytest.mark.parametrize("name", RECTANGLES)
def test_the_optimum_of_a_perfect_packing_is_reached_and_not_passed(name):
    """Hopper & Turton 2000, Burke et al. 2004, Hopper 2000: no film is wasted at the
    optimum, so the area alone proves it, and no other bound may say more."""
    data = json.loads((open_data("rect") / f"{name}.json").read_text())
    sizes = [(item["w"], item["h"], item["demand"]) for item in data["items"]]
    optimum = float(data["optimum_height"])
    for angles_deg in (NONE, (0.0, 90.0)):
        task = mixed(*sizes, strip=data["strip_width"], angles_deg=angles_deg)

        assert max(each_bound(task).values()) <= optimum + 1e-6
        assert lower_bound(task).length_mm == pytest.approx(optimum)


@pytest.mark.parametrize("name", ["dighe1", "dighe2"])
def test_the_optimum_of_a_jigsaw_is_reached_and_not_passed(name):
    """ESICUP's jigsaws: all pieces fill 100 by 100 exactly."""
    task = instance(open_data("irregular") / f"{name}.json").task

    assert max(each_bound(task).values()) <= 100.0 + 1e-6
    assert lower_bound(task).length_mm == pytest.approx(100.0)


@pytest.mark.parametrize(
    ("name", "best_known"),
    [("albano", 9692.1), ("marques", 75.176), ("shapes0", 57.012), ("swim", 5541.7)],
)
def test_no_published_length_is_below_the_bound(name, best_known):
    """Lengths of the solution files published with arXiv 2509.13329 (2025)."""
    task = instance(open_data("irregular") / f"{name}.json").task

    assert max(each_bound(task).values()) <= best_known


# -- each bound where it is the greatest


@pytest.mark.parametrize(
    ("task", "reason"),
    [
        (equal(box(90, 60), 1, strip=200, angles_deg=NONE), "longest single decal"),
        (mixed((50, 30, 8), (20, 40, 9), strip=200), "area with gutters"),
        (mixed((60, 40, 3), (51, 30, 2), strip=100), "wide decals, one behind the other"),
        (mixed((45, 30, 20), (40, 50, 10), strip=100, angles_deg=NONE), "lines across the film"),
        (equal(box(60, 40), 200, strip=600, gutter=3), "hexagon bound"),
        (several(disc_round(50), disc_round(40), strip=600), "mixed hexagon bound"),
        (equal(box(60, 40), 200, strip=600, gutter=3, angles_deg=NONE), "whole rows"),
        (equal(disc_round(50), 272, strip=600), "Oler's bound for middles"),
        (equal(STAR, 60, strip=1370, gutter=3), "Oler's bound for middles"),
        (equal(disc_round(10), 10, strip=13), "middles in a narrow strip"),
    ],
)
def test_each_bound_is_the_greatest_somewhere(task, reason):
    assert lower_bound(task).reason == reason


def test_every_bound_has_such_an_instance():
    named = test_each_bound_is_the_greatest_somewhere.pytestmark[0].args[1]

    assert {reason for _, reason in named} == {reason for reason, _ in BOUNDS}


def test_the_longest_decal_is_measured_as_it_may_lie():
    assert lower_bound(equal(box(90, 60), 1, strip=200)).length_mm == pytest.approx(60.0)
    # on 80 mm the long side cannot lie across
    assert lower_bound(equal(box(90, 60), 1, strip=80)).length_mm == pytest.approx(90.0)


def test_at_any_angle_the_least_width_of_the_hull_counts():
    """A triangle with sides 3, 4, 5 is 12 / 5 across its longest side."""
    triangle = shapely.Polygon([(0, 0), (40, 0), (0, 30)])
    task = equal(triangle, 1, strip=200, angles_deg=NONE, any_angle=True)

    assert lower_bound(task).length_mm == pytest.approx(24.0)


def test_the_area_bound_is_the_formula():
    """Two mixes of boxes, gutter 4: each grown by 2, in a strip grown by 2 all round."""
    task = mixed((50, 30, 80), (20, 40, 90), strip=200, gutter=4)
    grown = 80 * (1500 + 2 * 160 + 4 * pi) + 90 * (800 + 2 * 120 + 4 * pi)

    assert area_mm(task, 1) == pytest.approx(grown / 204 - 4)
    assert area_mm(task, 3) == pytest.approx(grown / 204 - 12)


def test_bleed_at_the_edges_narrows_the_strip():
    """Bleed 2 and gutter 4: contours grown by 2 lie exactly on the film."""
    task = mixed((50, 30, 80), (20, 40, 90), strip=200, gutter=4)
    bled = replace(task, shapes=tuple(replace(s, edge_mm=2.0) for s in task.shapes))
    grown = 80 * (1500 + 2 * 160 + 4 * pi) + 90 * (800 + 2 * 120 + 4 * pi)

    assert area_mm(bled, 1) == pytest.approx(grown / 200 - 4)


def test_decals_without_bleed_may_use_the_film_to_its_edges():
    """Five plates across the whole film, and one with bleed 3 between its edges: 60 mm."""
    task = mixed((100, 10, 5), (94, 10, 1), strip=100)
    bled = replace(task.shapes[1], edge_mm=3.0)

    assert lower_bound(replace(task, shapes=(task.shapes[0], bled))).length_mm <= 60.0


def test_200_rectangles_of_60_by_40_need_what_the_hexagon_says():
    """Fejes Tóth 1950 with 2707.794 from the closed form and 2708.228 from the least hexagon
    of the grown rectangle (worked out elsewhere): 200 A / 603 - 3. Rows of 14 turned need 942.
    """
    bound = lower_bound(equal(box(60, 40), 200, strip=600, gutter=3))

    assert 895.108 <= bound.length_mm <= 200 * 2708.228 / 603 - 3


def test_a_shape_with_dents_has_no_hexagon_bound():
    """The theorem is for convex shapes; two L-shapes fill their common box to the last."""
    ell = shapely.Polygon([(0, 0), (30, 0), (30, 10), (10, 10), (10, 30), (0, 30)])

    bound = lower_bound(equal(ell, 50, strip=200))

    assert bound.reason == "area with gutters"
    assert bound.length_mm == pytest.approx(50 * 500 / 200)


def test_plates_that_may_not_turn_need_whole_rows():
    """600 mm with gutter 3 hold 9 plates of 60 across, so 200 take 23 rows of 43."""
    task = equal(box(60, 40), 200, strip=600, gutter=3, angles_deg=NONE)

    assert lower_bound(task).length_mm == pytest.approx(23 * 43 - 3, abs=1e-3)


@pytest.mark.parametrize("copies", [3, 4, 6, 7, 9])
def test_plates_that_fill_the_width_exactly_are_not_counted_twice_on_their_seams(copies):
    task = equal(box(100.1, 50), copies, strip=300.3, angles_deg=NONE)

    assert lower_bound(task).length_mm <= 50.0 * -(-copies // 3)
    # six are two full rows: nothing is wasted, and the area proves it
    assert lower_bound(replace_copies(task, 6)).length_mm == pytest.approx(100.0)


def test_boxes_wider_than_half_lie_one_behind_the_other():
    """Strip packing example with W = 100: the area asks for 137.6, the wide ones for 180."""
    task = mixed((60, 40, 3), (51, 30, 2), (35, 25, 4), strip=100)

    assert lower_bound(task).length_mm == pytest.approx(180.0, abs=1e-6)


def test_boxes_of_half_the_width_lie_side_by_side():
    assert lower_bound(mixed((50, 40, 2), (50, 40, 2), strip=100)).length_mm <= 80.0


@pytest.mark.parametrize(
    ("strip", "length_mm", "diameter", "cap"),
    [(600, 1000, 50, 272), (600, 1000, 60, 188), (300, 300, 60, 27), (100, 100, 10, 112)],
)
def test_discs_beyond_olers_cap_do_not_fit(strip, length_mm, diameter, cap):
    """Oler 1961 (Acta Math. 105, 19-48, from memory): n <= 2 / sqrt(3) (W-d)(L-d) / d^2 +
    (W + L - 2d) / d + 1."""
    discs_at_cap = equal(disc_round(diameter), cap, strip=strip)

    assert lower_bound(discs_at_cap).length_mm <= length_mm
    assert lower_bound(replace_copies(discs_at_cap, cap + 1)).length_mm > length_mm


@pytest.mark.parametrize(
    ("higher", "length"), [(0.0, 10.0), (0.3, 9.585453), (0.5, 8.794229), (sqrt(3) / 2, 5.5)]
)
def test_ten_discs_in_a_narrow_strip_zigzag(higher, length):
    """d (1 + (n - 1) sqrt(1 - h^2)) in a strip of d (1 + h), and a zigzag attains it.

    The polygon lies inside the disc, so it needs no more, and a little less.
    """
    task = equal(round_polygon(5, 512), 10, strip=10 * (1 + higher))

    assert 10 * length - 0.02 <= lower_bound(task).length_mm <= 10 * length + 1e-5


def test_obstacles_change_nothing():
    task = equal(box(60, 40), 20, strip=600, gutter=3)
    mark = Obstacle(outline=centred(box(6, 6)), apart_mm=3.0)

    assert lower_bound(replace(task, obstacles=(mark,))) == lower_bound(task)


@settings(max_examples=10)
@given(tasks())
def test_wider_film_never_needs_more(task):
    wider = replace(task, width_mm=task.width_mm + 50)

    assert lower_bound(wider).length_mm <= lower_bound(task).length_mm + 1e-3
