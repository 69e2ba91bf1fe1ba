"""Columns: legal for every task, exact for boxes in lanes and rows."""

from functools import cache

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.nest.bound import lower_bound
from nestplan.nest.columns import Columns
from nestplan.nest.engine import Budget
from nestplan.nest.task import Obstacle, Shape, Task
from nestplan.nest.verify import verify
from tests.strategies import QUARTER, centred, round_polygon, tasks

BUDGET = Budget(steps=1, seed=1)


def equal_boxes(width, height, copies, *, gutter, strip, angles_deg=QUARTER, edge=0.0):
    shape = Shape(
        name="plate",
        outline=centred(shapely.box(0, 0, width, height)),
        copies=copies,
        angles_deg=angles_deg,
        edge_mm=edge,
    )
    return Task(shapes=(shape,), width_mm=float(strip), apart_mm=((float(gutter),),))


def columns(task):
    layout = Columns()(task, BUDGET)
    assert layout is not None
    assert verify(task, layout) == ()
    return layout


# -- worked by hand


@pytest.mark.parametrize(
    ("sizes", "copies", "gutter", "length_mm"),
    [
        ((90, 60), 84, 4, 372.0),  # 21 turned across, four rows: 4 * 94 - 4
        ((90, 60), 96, 4, 436.0),  # the same, and one row of 14 upright: + 64
        ((80, 100), 40, 3, 266.0),  # two rows of 13 turned, one of 16 upright: 2 * 83 + 103 - 3
        ((90, 60), 14, 4, 60.0),  # one row
        ((90, 60), 1, 4, 60.0),
    ],
)
def test_plates_on_a_roll_of_1370_lie_as_worked_by_hand(sizes, copies, gutter, length_mm):
    layout = columns(equal_boxes(*sizes, copies, gutter=gutter, strip=1370))

    assert layout.length_mm == pytest.approx(length_mm, abs=1e-9)


def test_96_plates_are_four_rows_of_21_turned_and_twelve_upright():
    layout = columns(equal_boxes(90, 60, 96, gutter=4, strip=1370))

    turned = layout.placements.angle_deg == 90.0
    rows, counts = np.unique(layout.placements.centre_mm[:, 1].round(6), return_counts=True)
    assert turned.sum() == 84
    assert rows.tolist() == [45.0, 139.0, 233.0, 327.0, 406.0]
    assert counts.tolist() == [21, 21, 21, 21, 12]


def test_lanes_of_both_turns_fill_the_width_to_the_last_millimetre():
    """One lane of 90 and twenty of 60 with their gutters are 94 + 20 * 64 = 1374 = 1370 + 4.

    In 3004 mm the first holds 47 (3008 / 64) and each of the others 32 (3008 / 94): 687
    copies, none of them wasting film.
    """
    layout = columns(equal_boxes(90, 60, 687, gutter=4, strip=1370))

    assert layout.length_mm == pytest.approx(3004.0, abs=1e-9)


def test_five_plates_that_fill_the_width_exactly_lie_in_one_row():
    assert columns(equal_boxes(10, 10, 5, gutter=0, strip=50)).length_mm == 10.0


def test_an_exact_fit_survives_sizes_that_binary_fractions_miss():
    """3 * 4.2 is 12.600000000000001 in float64."""
    layout = columns(equal_boxes(4.2, 50, 3, gutter=0, strip=12.6, angles_deg=(0.0,)))

    assert layout.length_mm == 50.0


def test_bleed_at_the_edges_costs_width():
    """Two plates of 24 with 1 between and 3 outside need 55; a hair less takes two rows."""
    assert columns(equal_boxes(24, 10, 2, gutter=1, strip=30, edge=3.0)).length_mm == 21.0
    assert columns(equal_boxes(24, 10, 2, gutter=1, strip=54.9, edge=3.0)).length_mm == 21.0
    assert columns(equal_boxes(24, 10, 2, gutter=1, strip=55, edge=3.0)).length_mm == 10.0


def test_nothing_is_turned_where_turning_gains_nothing():
    layout = columns(equal_boxes(30, 30, 7, gutter=2, strip=100))

    assert (layout.placements.angle_deg == 0.0).all()


def test_a_shape_that_must_lie_askew_lies_askew():
    layout = columns(equal_boxes(40, 10, 6, gutter=2, strip=200, angles_deg=(30.0,)))

    assert (layout.placements.angle_deg == 30.0).all()


def test_a_shape_whose_box_moves_when_it_turns_stays_on_the_film():
    """A quarter disc on its corner: the centre of the box at 45 degrees is not its own."""
    quarter = centred(round_polygon(40, 64) & shapely.box(0, 0, 50, 50))
    shape = Shape(name="fan", outline=quarter, copies=5, angles_deg=(45.0,), edge_mm=2.0)

    columns(Task(shapes=(shape,), width_mm=130.0, apart_mm=((2.0,),)))


def test_a_shape_wider_than_the_film_has_no_answer():
    assert Columns()(equal_boxes(90, 60, 1, gutter=4, strip=50), BUDGET) is None


def test_an_obstacle_is_left_behind():
    """A mark from y = 2 to 8 that wants 3 mm: the plates begin at 11."""
    mark = Obstacle(outline=centred(shapely.box(0, 0, 6, 6)).moved(50.0, 5.0), apart_mm=3.0)
    plates = equal_boxes(40, 10, 2, gutter=2, strip=100)
    task = Task(shapes=plates.shapes, width_mm=100.0, apart_mm=plates.apart_mm, obstacles=(mark,))

    assert columns(task).length_mm == pytest.approx(21.0)


# -- against exact answers


@cache
def stacked(sides, copies, gutter, strip):
    """The shortest stack of lane blocks, by trying every length in whole millimetres."""
    (w, h), best = sides, {0: -gutter}
    mixes = [
        (a, b)
        for a in range(strip // w + 2)
        for b in range(strip // h + 2)
        if a * (w + gutter) + b * (h + gutter) <= strip + gutter
    ]
    fullest = {}
    for length in range(1, copies * max(w, h) + (copies - 1) * gutter + 1):
        upright, turned = (length + gutter) // (h + gutter), (length + gutter) // (w + gutter)
        fullest[length] = max(a * upright + b * turned for a, b in mixes)
    for held in range(1, copies + 1):
        best[held] = min(
            best[max(0, held - holds)] + length + gutter
            for length, holds in fullest.items()
            if holds > 0
        )
    return best[copies]


@given(
    sides=st.tuples(st.integers(2, 9), st.integers(2, 9)),
    copies=st.integers(1, 14),
    gutter=st.integers(0, 2),
    more=st.integers(0, 25),
)
def test_no_stack_of_lanes_is_shorter(sides, copies, gutter, more):
    strip = max(sides) + more

    layout = columns(equal_boxes(*sides, copies, gutter=gutter, strip=strip))

    assert layout.length_mm == pytest.approx(stacked(sides, copies, gutter, strip), abs=1e-6)


@cache
def packed(sides, copies, strip):
    """The shortest strip of all: boxes on whole millimetres, every arrangement tried."""
    length = -(-copies * sides[0] * sides[1] // strip)
    while not _fits(sides, copies, strip, (0,) * length):
        length += 1
    return length


def _fits(sides, copies, strip, rows):
    """Place a box at, or give up, the first free cell; rows are bit masks of taken cells."""
    if copies == 0:
        return True
    free = sum(strip - row.bit_count() for row in rows)
    if free < copies * sides[0] * sides[1]:
        return False
    y = next(y for y, row in enumerate(rows) if row != (1 << strip) - 1)
    x = next(x for x in range(strip) if not rows[y] >> x & 1)
    for w, h in {sides, sides[::-1]}:
        mask = ((1 << w) - 1) << x
        if x + w <= strip and y + h <= len(rows) and not any(r & mask for r in rows[y : y + h]):
            taken = [row | mask if y <= i < y + h else row for i, row in enumerate(rows)]
            if _fits(sides, copies - 1, strip, tuple(taken)):
                return True
    wasted = [row | 1 << x if i == y else row for i, row in enumerate(rows)]
    return _fits(sides, copies, strip, tuple(wasted))


@pytest.mark.parametrize("sides", [(2, 3), (2, 5), (3, 4), (3, 5)])
@pytest.mark.parametrize("strip", [6, 7, 8, 9])
def test_no_arrangement_of_few_boxes_is_shorter_than_the_bound_or_longer_than_columns(sides, strip):
    """An exact packer in between: bound <= optimum <= columns, whatever the mix."""
    reached = 0
    for copies in range(1, 7):
        task = equal_boxes(*sides, copies, gutter=0, strip=strip)
        best = packed(sides, copies, strip)

        assert lower_bound(task).length_mm <= best <= columns(task).length_mm + 1e-6
        reached += columns(task).length_mm <= best + 1e-6

    assert reached >= 4  # columns are the optimum nearly always; not where pinwheels win


@pytest.mark.parametrize("strip", [6, 8, 9])
def test_boxes_that_may_not_turn_lie_in_the_fewest_rows(strip):
    """Known: n to a row, rows rounded up, and the bound of whole rows proves it."""
    for copies in range(1, 12):
        task = equal_boxes(3, 2, copies, gutter=0, strip=strip, angles_deg=(0.0, 180.0))

        rows = -(-copies // (strip // 3))

        assert columns(task).length_mm == pytest.approx(2.0 * rows)


# -- every task


@given(tasks())
def test_every_task_gets_a_legal_layout_no_shorter_than_the_bound(task):
    layout = columns(task)

    assert layout.engine == "columns"
    assert layout.length_mm >= lower_bound(task).length_mm - 1e-6


@given(tasks(most_copies=12))
def test_the_same_task_gives_the_same_layout(task):
    first, second = columns(task), columns(task)

    assert first.placements.centre_mm.tobytes() == second.placements.centre_mm.tobytes()
    assert first.placements.angle_deg.tobytes() == second.placements.angle_deg.tobytes()


def test_ten_thousand_plates_lie_as_dense_as_a_thousand():
    lengths = [
        columns(equal_boxes(90, 60, copies, gutter=4, strip=1370)).length_mm
        for copies in (1000, 10_000)
    ]

    assert lengths[1] <= 10 * lengths[0]
