"""Where marks and stations stand: readable like any frame, on film of any width."""

from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np
import pytest
import shapely

from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.job import read_shop
from nestplan.marks import web_of
from nestplan.marks.shapes import blank_round_mm
from nestplan.target import equipment_of, make_target
from nestplan.target.layout import UNEVEN_MM
from nestplan.target.station import BOX, CUT_MM, EACH_SIDE, PRINTED_MM, cut, labels, printed
from tests.target.simulate import SHOP


def on_film(setup="pair", **roll):
    equipment = equipment_of(SHOP, read_shop(SHOP), setup=setup, roll=None)
    return replace(equipment, roll=equipment.roll.model_copy(update=roll))


@pytest.mark.parametrize("setup", ["pair", "combined"])
@pytest.mark.parametrize("width_mm", [160.0, 260.0, 610.0, 1370.0, 1600.0])
def test_marks_and_stations_keep_clear_of_each_other_and_of_the_edges(setup, width_mm):
    equipment = on_film(setup, width_mm=width_mm)
    target = make_target(equipment)
    web, sensor = web_of(equipment), equipment.cutter.sensor
    boxes = [
        shapely.box(s.x_mm + BOX[0], s.y_mm + BOX[1], s.x_mm + BOX[2], s.y_mm + BOX[3])
        for s in target.stations
    ]
    zones = [shapely.Point(at).buffer(blank_round_mm(sensor) - 0.01) for at in target.marks_mm]

    low = max(web.printable_mm[0], web.cuttable_mm[0])
    high = min(web.printable_mm[1], web.cuttable_mm[1])
    allowed = shapely.box(low, 0, high, target.length_mm)
    assert all(allowed.contains(box) for box in boxes)
    assert not any(a.intersects(b) for a, b in combinations(boxes, 2))
    assert not any(box.intersects(zone) for box in boxes for zone in zones)
    for mark in target.marks:
        assert web.reach_mm[0] <= mark.x_mm <= web.reach_mm[1]
        assert not any(a - 3 < mark.x_mm < b + 3 for a, b in web.lanes_mm)
    for x in np.unique(target.marks_mm[:, 0]):
        edge = np.sort(target.marks_mm[target.marks_mm[:, 0] == x, 1])
        assert max(b - a for a, b in pairwise(edge)) <= sensor.spacing_mm
        assert edge[0] >= blank_round_mm(sensor) - 1e-3


def test_a_sheet_put_in_back_to_front_does_not_pass_for_the_right_way():
    """Turned by half, the best affine fit still leaves several millimetres at a mark."""
    target = make_target(on_film())
    marks = target.marks_mm
    turned = marks.max(axis=0) + marks.min(axis=0) - marks
    order = [int(np.hypot(*(turned - at).T).argmin()) for at in marks]
    columns = np.column_stack([np.ones(len(marks)), marks])
    left = turned[order] - columns @ np.linalg.lstsq(columns, turned[order], rcond=None)[0]

    assert np.hypot(*left.T).max() > UNEVEN_MM / 2


@pytest.mark.parametrize(
    ("roll", "what"),
    [
        ({"width_mm": 90.0}, "no station finds room between two marks"),
        ({"left_m": 0.4}, "a target needs 0.48 m of film, the roll has 0.4 m left"),
    ],
)
def test_film_that_cannot_carry_a_target_is_refused(roll, what):
    with pytest.raises(Fault) as refused:
        make_target(on_film(**roll))

    assert what in refused.value.what
    assert refused.value.code == OUT_OF_REACH
    assert "--roll" in refused.value.do


def test_the_line_that_meets_is_the_reading():
    """The vernier principle: with the blade off by k tenths, cut line k lies in printed line k and
    no other does; half-way between two tenths, two neighbours are off alike."""
    lines = np.arange(-EACH_SIDE, EACH_SIDE + 1)
    for tenths in range(-EACH_SIDE, EACH_SIDE + 1):
        off = np.abs(CUT_MM * lines + tenths / 10 - PRINTED_MM * lines)
        assert lines[off < 0.01].tolist() == [tenths]
    off = np.abs(CUT_MM * lines + 0.25 - PRINTED_MM * lines)
    assert sorted(lines[off < 0.051].tolist()) == [2, 3]


def test_a_station_has_a_figure_at_every_fifth_line_and_all_of_it_in_its_box():
    points = [point for segment in (*printed(), *cut()) for point in segment]
    points += [(label.x_mm, label.y_mm) for label in labels(12)]

    x, y = np.array(points).T
    assert (x.min(), x.max()) > (BOX[0], 0) and x.max() < BOX[2]
    assert y.min() > BOX[1] and y.max() < BOX[3]
    figures = [label.words for label in labels(1)][1:-2]
    assert figures == [w for w in ("−1.0", "−0.5", "0", "+0.5", "+1.0") for _ in "xy"]
