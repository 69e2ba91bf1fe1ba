"""A first frame round film that is not there: legal, full, and never said to be too short."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.nest import Budget, Missing
from nestplan.nest.bound import lower_bound
from nestplan.nest.placements import lying
from nestplan.nest.remnant import nest_on_remnant, obstacles_of
from nestplan.nest.verify import verify
from tests.nest.hand_shapes import shape, task
from tests.strategies import missing_film

BUDGET = Budget(steps=30, seed=1)
PLATES = task(shape("rectangle", 12), shape("angle", 6), width_mm=200.0)


def missing(area, apart_mm=5.0, start_mm=50.0):
    return Missing(area=area, apart_mm=apart_mm, start_mm=start_mm)


def nested(asked, gone, length_most_mm=1000.0, x0_mm=0.0):
    """The nest, proven: every copy once, frames legal, contours off what is not there."""
    divided = nest_on_remnant(
        asked, gone, x0_mm=x0_mm, length_most_mm=length_most_mm, budget=BUDGET
    )
    laid = [
        (index, copy)
        for strip in divided.strips
        for index, copy in zip(strip.placements.shape.tolist(), strip.copy, strict=True)
    ]
    assert sorted(laid) == [(k, n + 1) for k, s in enumerate(asked.shapes) for n in range(s.copies)]
    for strip in divided.strips:
        counts = np.bincount(strip.placements.shape, minlength=len(asked.shapes)).tolist()
        assert verify(asked, strip.placements, copies=counts, length_most_mm=length_most_mm) == ()
    first = divided.strips[0].placements.moved(x0_mm, divided.start_mm)
    for outline in lying(asked, first):
        area = outline.region
        assert area.distance(gone.area) >= gone.apart_mm - 1e-6
    assert divided.start_mm >= gone.start_mm - 1e-9
    return divided, divided.start_mm


@settings(max_examples=12)
@given(missing_film(width_mm=200.0))
def test_no_contour_comes_near_film_that_is_not_there(area):
    divided, _ = nested(PLATES, missing(area))

    length_mm = sum(strip.length_mm for strip in divided.strips)
    assert length_mm >= lower_bound(PLATES, frames=len(divided.strips)).length_mm - 1e-6


@settings(max_examples=60)
@given(missing_film(width_mm=200.0), st.floats(0, 30), st.floats(0, 80))
def test_obstacles_cover_what_lacks_and_little_more(area, apart_mm, start_mm):
    """Smoothed outlines lie outside the true ones, by at most twice what they are grown by."""
    gone = missing(area, apart_mm, start_mm)
    strip = shapely.box(-apart_mm, start_mm - apart_mm, 200.0 + apart_mm, 2000.0)
    obstacles = [
        each.outline.moved(0.0, start_mm).region for each in obstacles_of(gone, 200.0, 0.0)
    ]
    kept = shapely.union_all(obstacles)

    assert area.intersection(strip).difference(kept.buffer(1e-9)).area < 1e-6
    assert kept.difference(area.buffer(0.25)).area < 1e-6


def test_film_that_lacks_only_before_the_first_frame_is_no_matter():
    gone = missing(shapely.box(0, 0, 200, 30), start_mm=50.0)

    assert obstacles_of(gone, 200.0, 0.0) == ()
    divided, start_mm = nested(PLATES, gone)
    assert start_mm == 50.0
    assert divided.engine


def test_the_run_begins_where_there_is_film():
    """The first 300 mm are gone from side to side: not one contour can lie before 305 mm."""
    _, start_mm = nested(PLATES, missing(shapely.box(0, 0, 200, 300)), x0_mm=0.0)

    assert 305.0 <= start_mm < 306.0


def test_the_first_frame_is_filled_and_the_rest_follows():
    corner = shapely.Polygon([(100, 0), (200, 0), (200, 150)])
    divided, _ = nested(PLATES, missing(corner), length_most_mm=120.0)

    sizes = [len(strip.placements) for strip in divided.strips]
    assert len(sizes) >= 2
    assert sizes[0] >= 3


def test_where_not_one_part_fits_the_run_begins_on_whole_film():
    """All film is gone but a finger as wide as nothing: the frames are plain ones."""
    finger = shapely.box(0, 0, 200, 900).difference(shapely.box(90, 0, 100, 900))
    divided, start_mm = nested(PLATES, missing(finger), length_most_mm=120.0)

    assert start_mm >= 900.0
    assert sum(len(strip.placements) for strip in divided.strips) == 18


def test_the_same_film_gives_the_same_bytes():
    gone = missing(shapely.box(120, 0, 200, 140))
    once, again = (nested(PLATES, gone)[0] for _ in range(2))

    for one, other in zip(once.strips, again.strips, strict=True):
        assert one.placements.centre_mm.tobytes() == other.placements.centre_mm.tobytes()


def test_a_stop_still_gives_a_whole_nest():
    stopped = replace(BUDGET, steps=10_000_000, stopped=lambda: True)
    divided = nest_on_remnant(
        PLATES,
        missing(shapely.box(120, 0, 200, 140)),
        x0_mm=0.0,
        length_most_mm=1000.0,
        budget=stopped,
    )
    assert sum(len(strip.placements) for strip in divided.strips) == pytest.approx(18)
