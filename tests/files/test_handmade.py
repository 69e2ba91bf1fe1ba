"""The run that the other tests stand on is sound in itself."""

import itertools

import pytest

from tests.files.handmade import AREAS_MM2, CONTOURS, PLACES, a_run, placed_run


def test_the_hand_made_contours_have_the_areas_worked_by_hand():
    assert [outline.area_mm2 for outline in CONTOURS] == pytest.approx(AREAS_MM2)


def test_no_two_hand_made_copies_come_nearer_than_the_gutter():
    for places in PLACES:
        for one, other in itertools.combinations(places, 2):
            assert placed_run(one).region.distance(placed_run(other).region) >= 5.0


def test_the_strips_say_the_same_places_as_the_pencil():
    run = a_run()
    for places, frame, strip in zip(PLACES, run.marks.frames, run.nest.strips, strict=True):
        moved = strip.placements.moved(run.nest.x0_mm, frame.strip_y0_mm)
        bottoms = [placed_run(place).bounds_mm[1] for place in places]

        assert moved.centre_mm.tolist() == [list(place[2]) for place in places]
        assert min(bottoms) == pytest.approx(frame.strip_y0_mm, abs=1e-9)
