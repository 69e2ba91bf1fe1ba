"""Patterns for equal copies: tilings reach the area itself, discs the hexagonal lattice."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
import shapely.affinity

from nestplan.nest.engine import Budget
from nestplan.nest.exits import Exits
from nestplan.nest.file_plan import Plan
from nestplan.nest.files_of_one import Files
from nestplan.nest.patterns import Patterns
from nestplan.nest.pieces import pieces_of
from nestplan.nest.verify import verify
from tests.nest.hand_shapes import QUARTER, centred, disc, shape, task
from tests.nest.test_outlines import assert_legal

BUDGET = Budget(steps=1, seed=1)


def many(region, copies, width_mm, gutter_mm, angles_deg=QUARTER):
    """A task of equal copies."""
    one = replace(shape("rectangle", copies, angles_deg), outline=centred(region))
    return task(one, width_mm=width_mm, gutter_mm=gutter_mm)


def test_right_triangles_fill_the_film_without_a_gap():
    """16 triangles of 30 x 40 / 2 on a strip of 120 need 16 * 600 / 120 = 80 mm, and no less."""
    asked = many(shapely.Polygon([(0, 0), (30, 0), (0, 40)]), 16, 120.0, 0.0)
    found = Patterns()(asked, BUDGET)
    assert_legal(asked, found)
    assert found.length_mm == pytest.approx(80.0, abs=1e-6)


def test_parallelograms_that_may_not_turn_lean_into_each_other():
    """Slanted by 10, 20 wide and high: files along the film lose only the slant at one edge.

    Five files on 110: the first 20 + 10 wide, each next 20 more; 3 pieces of 20 in each.
    """
    asked = many(
        shapely.Polygon([(0, 0), (20, 0), (30, 20), (10, 20)]), 15, 110.0, 0.0, angles_deg=(0.0,)
    )
    found = Patterns()(asked, BUDGET)
    assert_legal(asked, found)
    assert found.length_mm == pytest.approx(60.0, abs=1e-6)


def test_discs_lie_as_the_hexagonal_lattice_lays_them():
    """Rows of 5 and 4 discs of 20 with 2 between them: 22 sqrt(3) / 2 from row to row.

    Hand-worked for true circles, which the polygons stand round by less than 0.05 mm.
    """
    asked = many(disc(20, 64), 27, 5 * 22.0 - 2.0, 2.0, angles_deg=(0.0,))
    found = Patterns()(asked, BUDGET)
    assert_legal(asked, found)
    assert found.length_mm <= 20 + 5 * 22 * np.sqrt(3) / 2 + 6 * 0.05


def test_stars_interlock_deeper_than_their_boxes():
    asked = task(shape("star", 60, (0.0, 180.0)), width_mm=300.0)
    found = Patterns()(asked, BUDGET)
    assert_legal(asked, found)
    outline = asked.shapes[0].outline
    across = int(303.0 / (outline.width_mm + 3.0))
    boxes_mm = np.ceil(60 / across) * (outline.height_mm + 3.0) - 3.0
    assert found.length_mm < 0.9 * boxes_mm


@pytest.mark.parametrize(
    ("name", "copies"), [("angle", 17), ("disc", 4), ("sickle", 9), ("ring", 11), ("islands", 40)]
)
def test_every_pattern_is_legal_and_not_below_the_area(name, copies):
    asked = task(shape(name, copies, (0.0, 180.0), edge_mm=2.0), width_mm=200.0)
    found = Patterns()(asked, BUDGET)
    assert_legal(asked, found)
    area = copies * asked.shapes[0].outline.area_mm2
    assert area / 200.0 <= found.length_mm <= 4 * area / 200.0 + 70.0


def test_only_the_allowed_turns_are_used():
    asked = task(shape("angle", 20, (90.0,)), width_mm=200.0)
    found = Patterns()(asked, BUDGET)
    assert_legal(asked, found)
    assert set(found.placements.angle_deg.tolist()) == {90.0}


def test_exits_are_where_shapely_sees_the_gutter_reached():
    """A hair before the exit two pieces are too near, at the exit they are not, nor beyond."""
    asked = task(shape("sickle", 4, QUARTER), width_mm=200.0)
    pieces = pieces_of(asked)
    exits = Exits(pieces, 3.0, swapped=False)
    offsets = np.linspace(-40.0, 40.0, 41)
    for i, j in ((0, 0), (0, 2), (1, 3)):
        one, other = pieces.variants[i], pieces.variants[j]
        still, moving = (
            shapely.affinity.rotate(pieces.forms[0].region, v.angle_deg, origin=(0, 0))
            for v in (one, other)
        )
        for x, y in zip(offsets.tolist(), exits.at(i, j, offsets).tolist(), strict=True):
            if y < -1e8:
                continue
            at = [
                shapely.distance(still, shapely.transform(moving, lambda p, d=(x, up): p + d))
                for up in (y - 1e-6, y + 1e-9, y + 5.0)
            ]
            assert at[0] < 3.0 <= at[1] + 1e-8
            assert at[2] >= 3.0 - 1e-9


def test_several_shapes_and_obstacles_are_left_to_others():
    assert Patterns()(task(shape("disc", 9), shape("star", 9), width_mm=200.0), BUDGET) is None


def free(region, copies, width_mm, gutter_mm=0.0):
    """A task of equal copies that may lie at any angle; few angles are listed."""
    asked = many(region, copies, width_mm, gutter_mm)
    return replace(asked, shapes=(replace(asked.shapes[0], any_angle=True),))


def test_plates_drawn_askew_are_laid_straight_where_every_angle_is_allowed():
    """Plates of 30 x 20, drawn turned by 10 degrees: 4 rows of 4 on 128 are 4 * 22 - 2 long."""
    askew = shapely.affinity.rotate(shapely.box(0, 0, 30, 20), 10.0)
    asked = free(askew, 16, 128.0, 2.0)
    found = Patterns()(asked, BUDGET)
    assert verify(asked, found) == ()
    assert 86.0 - 1e-6 <= found.length_mm <= 86.05
    assert not set(found.placements.angle_deg.tolist()) & set(QUARTER)


@pytest.mark.parametrize(("stretch", "share"), [(1.0, 0.5), (2.2, 0.34), (3.4, 0.21), (3.4, 0.25)])
@pytest.mark.parametrize("tall_mm", [30.0, 100.0])
def test_tall_pieces_in_loose_files_keep_clear_of_every_file_they_can_meet(tall_mm, stretch, share):
    """Spikes 8 wide, every second file turned and all drifting: the third next reaches down."""
    spike = shapely.Polygon([(0, 0), (8, 0), (5, tall_mm)])
    files = Files(pieces_of(many(spike, 40, 300.0, 1.0, (0.0, 180.0))), upright=False)
    plan = Plan(files=files, one=0, other=None, offset_mm=0.0, turned=True, stretch=stretch)
    pitch_mm = plan.pair[0].pitch_mm
    shift_mm = share * pitch_mm
    rises = replace(plan, drifts=True, shift_mm=shift_mm, back_mm=shift_mm).rises_mm()
    region, up_mm, laid = files.pieces.forms[0].region, 0.0, []
    for number in range(12):
        turned = shapely.affinity.rotate(region, 180.0 * (number % 2), origin=(0, 0))
        for column in range(-3, 4):
            aside_mm = (number * shift_mm) % pitch_mm + column * pitch_mm
            laid.append(shapely.affinity.translate(turned, aside_mm, up_mm))
        up_mm += float(rises[number % 2])

    near = shapely.STRtree(laid).query(laid, predicate="dwithin", distance=1.0 - 1e-6)
    assert near.shape[1] == len(laid)
