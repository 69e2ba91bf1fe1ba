"""The verifier passes what is legal, and nothing else."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.nest.placements import Layout, Placements, placed
from nestplan.nest.task import Obstacle, Shape, Task
from nestplan.nest.verify import MOST_BROKEN, verify
from tests.strategies import QUARTER, centred, laid_out, round_polygon, tasks, thrown

BOX = centred(shapely.box(0, 0, 40, 20))
RING = centred(round_polygon(30, 48) - round_polygon(20, 48))
DISC = centred(round_polygon(8, 48))


def of_one(outline, copies, *, apart_mm=3.0, width_mm=100.0, **rules):
    shape = Shape(name="plate", outline=outline, copies=copies, **({"angles_deg": QUARTER} | rules))
    return Task(shapes=(shape,), width_mm=width_mm, apart_mm=((apart_mm,),))


def at(*rows, shape=None):
    """Placements from (x, y, angle)."""
    table = np.array(rows, dtype=np.float64).reshape(-1, 3)
    which = np.zeros(len(table)) if shape is None else np.array(shape)
    return Placements(
        shape=which.astype(np.intp), centre_mm=table[:, :2].copy(), angle_deg=table[:, 2].copy()
    )


def changed(placements, row, *, by=(0.0, 0.0), angle_deg=None):
    """The same placements with one row moved or turned."""
    centres, angles = placements.centre_mm.copy(), placements.angle_deg.copy()
    centres[row] += by
    if angle_deg is not None:
        angles[row] = angle_deg
    return replace(placements, centre_mm=centres, angle_deg=angles)


def areas_of(task, placements):
    """Every copy as a shapely area, one by one, by the way the engines turn them."""
    return [
        placed(task.shapes[index].outline, centre, angle).region
        for index, centre, angle in zip(
            placements.shape.tolist(),
            placements.centre_mm,
            placements.angle_deg.tolist(),
            strict=True,
        )
    ]


# -- properties


@given(laid_out())
def test_a_layout_on_shelves_passes(case):
    task, layout = case

    assert verify(task, layout) == ()
    assert verify(task, layout.placements) == ()


@given(laid_out(), st.data())
def test_a_copy_moved_a_hundredth_too_near_is_caught(case, data):
    """It is moved along the shortest way to another, until 0.01 mm are missing."""
    task, layout = case
    n = len(layout.placements)
    if n < 2:
        return
    first, second = data.draw(st.permutations(range(n)))[:2]
    areas = areas_of(task, layout.placements)
    way = shapely.get_coordinates(shapely.shortest_line(areas[first], areas[second]))
    distance = shapely.distance(areas[first], areas[second])
    indices = layout.placements.shape
    least = task.apart_mm[indices[first]][indices[second]]
    moved = changed(
        layout.placements, second, by=(way[0] - way[1]) * (1 - (least - 0.01) / distance)
    )

    names = {f"{task.shapes[indices[row]].name} (row {row})" for row in (first, second)}
    close = [b for b in verify(task, moved) if set(b.where.split(" and ")) == names]
    assert len(close) == 1
    assert close[0].what == "distance of two copies, mm"
    assert close[0].found <= least - 0.01 + 1e-6
    assert close[0].allowed == least


@given(laid_out(), st.data())
def test_a_copy_dropped_or_laid_twice_is_caught(case, data):
    task, layout = case
    row = data.draw(st.integers(0, len(layout.placements) - 1))
    for rows in (np.delete(np.arange(len(layout.placements)), row), None):
        picked = np.append(np.arange(len(layout.placements)), row) if rows is None else rows
        placements = Placements(
            shape=layout.placements.shape[picked],
            centre_mm=layout.placements.centre_mm[picked],
            angle_deg=layout.placements.angle_deg[picked],
        )
        name = task.shapes[layout.placements.shape[row]].name

        counted = [b for b in verify(task, placements) if b.what == "copies laid"]

        assert [b.where for b in counted] == [name]
        assert abs(counted[0].found - counted[0].allowed) == 1


@given(laid_out(turns=((0.0, 180.0),)), st.data())
def test_a_copy_turned_as_it_may_not_be_is_caught(case, data):
    task, layout = case
    row = data.draw(st.integers(0, len(layout.placements) - 1))
    angle = data.draw(st.sampled_from((90.0, 270.0, 0.001, 359.999)))

    broken = verify(task, changed(layout.placements, row, angle_deg=angle))

    turned = [b for b in broken if b.what.startswith("angle")]
    assert len(turned) == 1
    assert f"(row {row})" in turned[0].where
    assert turned[0].found == angle


@given(tasks(most_copies=5).flatmap(lambda task: st.tuples(st.just(task), thrown(task))))
def test_exactly_the_pairs_that_are_too_near_are_named(case):
    """Against the plain way: every pair, one distance each."""
    task, placements = case
    areas = areas_of(task, placements)
    too_near = set()
    for a in range(len(areas)):
        for b in range(a + 1, len(areas)):
            least = task.apart_mm[placements.shape[a]][placements.shape[b]]
            if areas[a].distance(areas[b]) < least - 1e-6:
                too_near.add((a, b))

    named = [b.where for b in verify(task, placements) if b.what == "distance of two copies, mm"]

    found = {
        tuple(int(part.split("(row ")[1].rstrip(")")) for part in where.split(" and "))
        for where in named
    }
    assert found == too_near
    assert len(named) == len(found)


# -- distances by hand


def test_the_gutter_is_kept_to_a_millionth():
    task = of_one(BOX, 2)

    assert verify(task, at((20, 10, 0), (63 - 5e-7, 10, 0))) == ()
    (broken,) = verify(task, at((20, 10, 0), (63 - 2e-6, 10, 0)))
    assert broken.found == pytest.approx(3 - 2e-6, abs=1e-9)


def test_two_squares_on_their_corners_are_as_far_apart_as_geometry_says():
    """A square of side 10 on its corner is 10 sqrt(2) across."""
    task = of_one(centred(shapely.box(0, 0, 10, 10)), 2, angles_deg=(45.0,))
    apart = 10 * np.sqrt(2) + 3

    assert verify(task, at((20, 20, 45), (20 + apart, 20, 45))) == ()
    (broken,) = verify(task, at((20, 20, 45), (20 + apart - 1e-5, 20, 45)))
    assert broken.found == pytest.approx(3 - 1e-5, abs=1e-9)


def test_a_disc_may_lie_in_a_hole_but_keeps_its_distance_there():
    """The 48 flats of the hole are 20 cos(pi/48) = 19.957 from the middle; the disc's
    corners at 8, so 11.957 is left, less where corners meet flats."""
    shapes = (
        Shape(name="ring", outline=RING, copies=1, angles_deg=(0.0,)),
        Shape(name="disc", outline=DISC, copies=1, angles_deg=(0.0,)),
    )
    task = Task(shapes=shapes, width_mm=60.0, apart_mm=((3.0, 3.0), (3.0, 3.0)))

    assert verify(task, at((30, 30, 0), (30, 30, 0), shape=(0, 1))) == ()
    assert verify(task, at((30, 30, 0), (38.9, 30, 0), shape=(0, 1))) == ()
    (broken,) = verify(task, at((30, 30, 0), (39.1, 30, 0), shape=(0, 1)))
    assert 2.8 < broken.found < 3.0


@pytest.mark.parametrize("x_mm", [30.0, 55.0])
def test_a_copy_wholly_inside_the_material_of_another_is_caught(x_mm):
    """Its outline keeps 12 mm from the other's outline, and yet it lies on it."""
    outer = Shape(name="plate", outline=BOX.scaled(2.0), copies=1, angles_deg=(0.0,))
    inner = Shape(name="disc", outline=DISC, copies=1, angles_deg=(0.0,))
    task = Task(shapes=(outer, inner), width_mm=80.0, apart_mm=((3.0, 3.0), (3.0, 3.0)))

    (broken,) = verify(task, at((40, 20, 0), (x_mm, 20, 0), shape=(0, 1)))

    assert broken.what == "distance of two copies, mm"
    assert broken.found < 0


def test_without_a_gutter_copies_may_touch_but_not_overlap():
    task = of_one(BOX, 2, apart_mm=0.0)

    assert verify(task, at((20, 10, 0), (60, 10, 0))) == ()
    assert verify(task, at((20, 10, 0), (60 - 5e-7, 10, 0))) == ()
    (broken,) = verify(task, at((20, 10, 0), (60 - 3e-6, 10, 0)))
    assert broken.found == pytest.approx(-3e-6, abs=1e-6)


def test_a_long_touch_does_not_hide_a_short_overlap():
    """Seam of 40 mm without width, and a nose of 0.01 mm on it."""
    nosed = shapely.Polygon([(0, 0), (40, 0), (40, 20), (21, 20), (20, 20.01), (19, 20), (0, 20)])
    shapes = (
        Shape(name="nosed", outline=centred(nosed), copies=1, angles_deg=(0.0,)),
        Shape(name="plate", outline=BOX, copies=1, angles_deg=(0.0,)),
    )
    task = Task(shapes=shapes, width_mm=40.0, apart_mm=((0.0, 0.0), (0.0, 0.0)))

    (broken,) = verify(task, at((20, 10.005, 0), (20, 30, 0), shape=(0, 1)))

    assert broken.what == "distance of two copies, mm"


def test_each_pair_keeps_its_own_distance():
    shapes = tuple(Shape(name=n, outline=BOX, copies=1, angles_deg=(0.0,)) for n in "ab")
    task = Task(shapes=shapes, width_mm=100.0, apart_mm=((1.0, 5.0), (5.0, 1.0)))

    assert verify(task, at((20, 10, 0), (65, 10, 0), shape=(0, 1))) == ()
    (broken,) = verify(task, at((20, 10, 0), (64, 10, 0), shape=(0, 1)))
    assert (broken.found, broken.allowed) == (pytest.approx(4.0), 5.0)


# -- edges, ends, obstacles


@pytest.mark.parametrize(("x_mm", "side"), [(21.9, "left"), (78.1, "right")])
def test_a_contour_keeps_its_bleed_from_both_edges(x_mm, side):
    task = of_one(BOX, 1, edge_mm=2.0)

    (broken,) = verify(task, at((x_mm, 10, 0)))

    assert side in broken.what
    assert (broken.found, broken.allowed) == (pytest.approx(1.9), 2.0)
    assert verify(task, at((22 - 5e-7, 10, 0))) == ()


def test_the_edge_counts_for_the_copy_as_it_lies():
    assert verify(of_one(BOX, 1), at((10, 20, 90))) == ()
    assert [b.what for b in verify(of_one(BOX, 1), at((10, 10, 0)))] == [
        "distance to the left edge, mm"
    ]


@pytest.mark.parametrize(
    ("shift_mm", "length_mm", "rule"),
    [
        (0.0, 20.0 + 3e-6, "stated length, mm"),
        (0.0, 19.9, "stated length, mm"),
        (-0.1, 19.9, "start along the feed, mm"),
        (0.1, 20.1, "start along the feed, mm"),
        (0.0, float("nan"), "stated length, mm"),
    ],
)
def test_a_layout_reaches_from_nothing_to_its_stated_length(shift_mm, length_mm, rule):
    placements = at((20, 10 + shift_mm, 0))
    layout = Layout(placements=placements, length_mm=length_mm, engine="hand")

    (broken,) = verify(of_one(BOX, 1), layout)

    assert broken.what == rule


def test_a_frame_is_no_longer_than_the_cutter_takes():
    task = of_one(BOX, 1)

    assert verify(task, at((20, 10, 0)), length_most_mm=20.0) == ()
    (broken,) = verify(task, at((20, 10, 0)), length_most_mm=19.0)
    assert (broken.found, broken.allowed) == (pytest.approx(20.0), 19.0)


def test_an_obstacle_is_kept_clear_by_its_own_distance():
    mark = Obstacle(outline=centred(shapely.box(0, 0, 6, 6)).moved(50.0, 10.0), apart_mm=4.0)
    task = replace(of_one(BOX, 1), obstacles=(mark,))

    assert verify(task, at((23, 10, 0))) == ()
    (broken,) = verify(task, at((23.5, 10, 0)))
    assert broken.what == "distance to an obstacle, mm"
    assert (broken.found, broken.allowed) == (pytest.approx(3.5), 4.0)
    (under,) = verify(task, at((50, 10, 0)))
    assert under.found < 0


# -- nonsense, quantities, size


@pytest.mark.parametrize("row", [(np.nan, 10, 0), (20, np.inf, 0), (20, 10, np.nan)])
def test_a_place_that_is_no_number_is_caught(row):
    (broken,) = verify(of_one(BOX, 1), at(row))

    assert broken.what == "a place is not a number"


@pytest.mark.parametrize("shape", [-1, 1])
def test_a_copy_of_no_known_shape_is_caught(shape):
    (broken,) = verify(of_one(BOX, 1), at((20, 10, 0), shape=(shape,)))

    assert broken.what == "a copy of no known shape"


def test_a_frame_may_ask_for_its_own_number_of_copies():
    task = of_one(BOX, 9)

    assert verify(task, at((20, 10, 0)), copies=(1,)) == ()
    assert [b.what for b in verify(task, at((20, 10, 0)))] == ["copies laid"]


def test_nothing_laid_is_only_a_matter_of_quantity():
    assert [b.what for b in verify(of_one(BOX, 1), at())] == ["copies laid"]


def test_any_angle_is_allowed_where_the_shape_says_so():
    assert verify(of_one(BOX, 1, any_angle=True), at((50, 50, 12.345))) == ()
    assert len(verify(of_one(BOX, 1), at((50, 50, 12.345)))) == 1


def test_a_full_turn_is_no_turn():
    assert verify(of_one(BOX, 1, angles_deg=(0.0,)), at((50, 50, 360.0 - 1e-12))) == ()


def test_ten_thousand_copies_and_one_that_slipped():
    """200 rows of 50 plates; one in the middle has moved by a hundredth."""
    rows = [(20 + 43 * (i % 50), 10 + 23 * (i // 50), 0) for i in range(10_000)]
    task = of_one(BOX, 10_000, width_mm=50 * 43.0 - 3)

    assert verify(task, at(*rows)) == ()
    (broken,) = verify(task, changed(at(*rows), 5025, by=(0.0, 0.01)))
    assert broken.where == "plate (row 5025) and plate (row 5075)"
    assert broken.found == pytest.approx(2.99)


def test_thousands_of_copies_in_one_spot_are_told_in_a_hundred_lines():
    broken = verify(of_one(BOX, 3000), at(*[(50, 50, 0)] * 3000))

    assert len(broken) == MOST_BROKEN
