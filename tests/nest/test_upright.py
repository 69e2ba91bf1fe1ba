"""Copies turned to where their art should point, as far as no contour moves."""

import numpy as np
import pytest
from hypothesis import given, settings

from nestplan.nest.nested import Strip
from nestplan.nest.placements import Placements, placed
from nestplan.nest.task import Shape, Task
from nestplan.nest.upright import laid_best
from nestplan.nest.verify import verify
from tests.strategies import centred, round_polygon, turned_home


def strip_of(angles_deg, outline, best_deg=0.0):
    """Copies of one outline in a row, 200 mm from centre to centre, and their task."""
    n = len(angles_deg)
    every = tuple(float(a) for a in range(0, 360, 15))
    shape = Shape(name="s", outline=outline, copies=n, angles_deg=every, best_deg=best_deg)
    placements = Placements(
        shape=np.zeros(n, dtype=np.intp),
        centre_mm=np.array([[100.0 + 200 * k, 60.0] for k in range(n)]),
        angle_deg=np.array(angles_deg, dtype=np.float64),
    )
    task = Task(shapes=(shape,), width_mm=200.0 * n, apart_mm=((4.0,),))
    return task, Strip(placements=placements, copy=tuple(range(1, n + 1)), length_mm=120.0)


@settings(max_examples=40, deadline=None)
@given(turned_home(most_shapes=2, most_copies=4))
def test_no_contour_moves_and_no_rule_is_broken(given_layout):
    task, layout = given_layout
    copies = tuple(range(1, len(layout.placements) + 1))
    strip = Strip(placements=layout.placements, copy=copies, length_mm=layout.length_mm)

    best = laid_best(task, (strip,))[0].placements

    assert verify(task, best) == ()
    rows = zip(best.shape, best.centre_mm, best.angle_deg, strip.placements.centre_mm, strict=True)
    for k, (index, centre, angle, before) in enumerate(rows):
        outline = task.shapes[index].outline
        here = placed(outline, centre, float(angle)).region
        there = placed(outline, before, float(strip.placements.angle_deg[k])).region
        assert here.symmetric_difference(there).area <= 1e-6 * there.length
        assert angle in (task.shapes[index].best_deg, strip.placements.angle_deg[k])


@pytest.mark.parametrize("best_deg", [0.0, 90.0, 180.0, 270.0])
def test_a_plate_stands_on_its_head_only_where_it_should(best_deg):
    """A box covers the same film after half a turn, and other film after a quarter."""
    plate = centred(round_polygon(30, 4).envelope.intersection(round_polygon(40, 4).envelope))
    sides = np.array([[-45.0, -30.0], [45.0, -30.0], [45.0, 30.0], [-45.0, 30.0]])
    plate = type(plate)(rings=(sides,))
    task, strip = strip_of([0.0, 90.0, 180.0, 270.0], plate, best_deg)

    turned = laid_best(task, (strip,))[0].placements

    half = {best_deg, (best_deg + 180) % 360}
    meant = [best_deg if angle in half else angle for angle in (0.0, 90.0, 180.0, 270.0)]
    assert turned.angle_deg.tolist() == meant
    assert np.allclose(turned.centre_mm, strip.placements.centre_mm)


def test_a_shape_that_turns_into_itself_about_another_point_than_its_middle_is_shifted():
    """A regular triangle comes back after a third of a turn about its centre of area, which lies
    a quarter of its radius below the middle of its box."""
    task, strip = strip_of([0.0, 120.0, 240.0, 60.0], centred(round_polygon(40, 3)))

    turned = laid_best(task, (strip,))[0].placements

    assert turned.angle_deg.tolist() == [0.0, 0.0, 0.0, 60.0]
    for k in range(4):
        before = placed(task.shapes[0].outline, strip.placements.centre_mm[k], [0, 120, 240, 60][k])
        after = placed(task.shapes[0].outline, turned.centre_mm[k], float(turned.angle_deg[k]))
        assert np.allclose(before.bounds_mm, after.bounds_mm, atol=1e-9)
    assert np.hypot(*(turned.centre_mm[1] - strip.placements.centre_mm[1])) > 10.0
