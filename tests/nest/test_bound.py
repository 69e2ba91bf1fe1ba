"""Every bound stays below every layout, and is as sharp as its source says."""

import json
from dataclasses import replace
from math import pi, sqrt

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.nest.bound import (
    convex_inside,
    grown_area_mm2,
    lower_bound,
    radius_choices,
)
from nestplan.nest.boxes import Boxes
from nestplan.nest.columns import Columns
from nestplan.nest.engine import Budget
from nestplan.nest.task import Obstacle, Shape, Task
from tests.open_data import open_data
from tests.strategies import (
    QUARTER,
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

BUDGET = Budget(steps=2000, seed=1)
NONE = (0.0,)


def equal(region, copies, *, strip, gutter=0.0, angles_deg=QUARTER, **rules):
    shape = Shape(
        name="decal", outline=centred(region), copies=copies, angles_deg=angles_deg, **rules
    )
    return Task(shapes=(shape,), width_mm=float(strip), apart_mm=((float(gutter),),))


def box(width, height):
    return shapely.box(0, 0, width, height)


def mixed(*sizes, strip, gutter=0.0, angles_deg=NONE):
    shapes = tuple(
        Shape(name=f"{w} x {h}", outline=centred(box(w, h)), copies=n, angles_deg=angles_deg)
        for w, h, n in sizes
    )
    apart = ((float(gutter),) * len(shapes),) * len(shapes)
    return Task(shapes=shapes, width_mm=float(strip), apart_mm=apart)


def disc_round(diameter, corners=64):
    """A polygon round a disc, so that the disc is exactly the greatest inside."""
    return round_polygon(diameter / 2 / np.cos(pi / corners), corners)


# -- no layout is shorter


@settings(max_examples=30)
@given(laid_out())
def test_no_layout_on_shelves_is_shorter(case):
    task, layout = case

    assert layout.length_mm >= lower_bound(task).length_mm


@settings(max_examples=25)
@given(
    st.one_of(equal_copies(boxes()), equal_copies(discs()), equal_copies(rounds()), tasks(boxes())),
)
def test_no_layout_of_the_quick_engines_is_shorter(task):
    bound = lower_bound(task)
    for engine in (Columns(), Boxes()):
        layout = engine(task, BUDGET)

        assert layout is None or layout.length_mm >= bound.length_mm - 1e-6, bound.reason


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

    assert sum(lengths) >= lower_bound(task, frames=2).length_mm


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


RECTANGLES = [f"c{group}_{number}" for group in range(1, 8) for number in range(1, 4)]
RECTANGLES += [f"burke_n{number}" for number in range(1, 14)]
RECTANGLES += [f"hopper_{name}" for name in ("n1a", "n3a", "n5a", "n7a", "t1a", "t4a", "t7a")]


@pytest.mark.parametrize("name", RECTANGLES)
def test_the_optimum_of_a_perfect_packing_is_reached_and_not_passed(name):
    """Hopper & Turton 2000, Burke et al. 2004, Hopper 2000: no film is wasted at the
    optimum, so the area alone proves it, and no other bound may say more."""
    data = json.loads((open_data("rect") / f"{name}.json").read_text())
    sizes = [(item["w"], item["h"], item["demand"]) for item in data["items"]]
    optimum = float(data["optimum_height"])
    for angles_deg in (NONE, (0.0, 90.0)):
        task = mixed(*sizes, strip=data["strip_width"], angles_deg=angles_deg)

        assert optimum - 1e-6 <= lower_bound(task).length_mm <= optimum


# -- each bound where it is the greatest


@pytest.mark.parametrize(
    ("task", "reason"),
    [
        (equal(box(90, 60), 1, strip=200, angles_deg=NONE), "longest single decal"),
        (mixed((50, 30, 8), (20, 40, 9), strip=200), "area with gutters"),
        (mixed((60, 40, 3), (51, 30, 2), strip=100), "wide decals, one behind the other"),
        (equal(box(60, 40), 200, strip=600, gutter=3), "hexagon bound"),
        (equal(box(60, 40), 200, strip=600, gutter=3, angles_deg=NONE), "whole rows"),
        (equal(disc_round(50), 272, strip=600), "Oler's bound for discs"),
        (equal(disc_round(10), 10, strip=13), "discs in a narrow strip"),
    ],
)
def test_each_bound_is_the_greatest_somewhere(task, reason):
    assert lower_bound(task).reason == reason


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

    assert lower_bound(task).length_mm == pytest.approx(grown / 204 - 4, abs=1e-6)
    assert lower_bound(task, frames=3).length_mm == pytest.approx(grown / 204 - 12, abs=1e-6)


def test_bleed_at_the_edges_narrows_the_strip():
    """Bleed 2 and gutter 4: contours grown by 2 lie exactly on the film."""
    task = mixed((50, 30, 80), (20, 40, 90), strip=200, gutter=4)
    bled = replace(task, shapes=tuple(replace(s, edge_mm=2.0) for s in task.shapes))
    grown = 80 * (1500 + 2 * 160 + 4 * pi) + 90 * (800 + 2 * 120 + 4 * pi)

    assert lower_bound(bled).length_mm == pytest.approx(grown / 200 - 4, abs=1e-6)


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


def replace_copies(task, copies):
    return replace(task, shapes=(replace(task.shapes[0], copies=copies),))


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


@settings(max_examples=20)
@given(tasks())
def test_wider_film_never_needs_more(task):
    wider = replace(task, width_mm=task.width_mm + 50)

    assert lower_bound(wider).length_mm <= lower_bound(task).length_mm + 1e-3


# -- what the bounds stand on


@settings(max_examples=25)
@given(tasks(most_shapes=4))
def test_no_two_radii_are_more_than_the_copies_keep(task):
    alone = [shape.copies == 1 for shape in task.shapes]
    for radii in radius_choices(task):
        for i, row in enumerate(task.apart_mm):
            for j, apart in enumerate(row):
                assert (i == j and alone[i]) or radii[i] + radii[j] <= apart + 1e-9


def test_where_bleed_decides_for_one_and_the_gutter_for_all_both_choices_are_tried():
    """Bleeds 3 and 0, gutter 4: 2 and 2, or 3 and 1; never 3 and 2."""
    task = replace(mixed((50, 30, 9), (20, 40, 9), strip=200), apart_mm=((6.0, 4.0), (4.0, 4.0)))

    choices = set(radius_choices(task))

    assert {(2.0, 2.0), (3.0, 1.0)} <= choices
    assert (3.0, 2.0) not in choices


def test_a_grown_box_with_a_hole_has_the_area_worked_by_hand():
    """40 x 40 grown by 2 outwards, its hole of 20 x 20 shrunk to 16 x 16."""
    frame = centred(box(40, 40) - shapely.box(10, 10, 30, 30))
    exact = 1600 + 2 * 160 + 4 * pi - 256

    assert exact - 0.1 <= grown_area_mm2(frame, 2.0) <= exact


def test_a_grown_angle_has_the_area_worked_by_hand():
    """Five corners gain a quarter disc each, at the dent a square is not counted twice."""
    ell = centred(shapely.Polygon([(0, 0), (30, 0), (30, 10), (10, 10), (10, 30), (0, 30)]))
    exact = 500 + 2 * 120 + 5 * pi - 4

    assert exact - 0.15 <= grown_area_mm2(ell, 2.0) <= exact


@given(stars(), st.floats(0.1, 5))
def test_a_grown_area_is_a_little_less_than_shapely_finds_with_fine_arcs(outline, radius):
    fine = outline.region.buffer(radius, quad_segs=200).area

    assert 0.97 * fine <= grown_area_mm2(outline, radius) <= (1 + 1e-4) * fine


@given(rounds(), st.floats(0, 5))
def test_a_convex_outline_grows_by_steiners_formula(outline, radius):
    expected = outline.area_mm2 + radius * outline.length_mm + pi * radius**2

    assert grown_area_mm2(outline, radius) == pytest.approx(expected)


@given(st.one_of(rounds(), discs(), boxes()))
def test_a_convex_outline_is_known_even_when_flattening_dented_it(outline):
    """A corner is put in the middle of every side, a billionth too far in."""
    ring = outline.rings[0]
    inward = ring.mean(axis=0) - ring
    middles = (ring + np.roll(ring, -1, axis=0)) / 2 + 1e-9 * inward
    dented = centred(shapely.Polygon(np.stack((ring, middles), axis=1).reshape(-1, 2)))

    polygon = convex_inside(dented)

    assert polygon is not None
    assert dented.region.covers(shapely.Polygon(polygon))
    assert shapely.Polygon(polygon).area >= (1 - 1e-5) * outline.area_mm2


@given(stars())
def test_an_outline_with_real_dents_is_not_taken_for_convex(outline):
    hull_area = outline.region.convex_hull.area

    assert (convex_inside(outline) is None) == (outline.area_mm2 < (1 - 1e-4) * hull_area)
