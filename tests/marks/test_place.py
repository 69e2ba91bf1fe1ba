"""Marks stand where the sensor can read them, at the least cost of film."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.artwork import Decal
from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.job import Job
from nestplan.marks import SCALE_BAR_MM, Lanes, MarkPlan, place_marks
from nestplan.marks.shapes import blank_round_mm
from nestplan.nest import Nest, placed
from tests.marks.handmade import job_with, plate, rows


def ink_of(decal: Decal, nest: Nest, plan: MarkPlan) -> shapely.Geometry:
    """All printed decals in run coordinates, grown by another way than the product's: mitred."""
    areas = []
    for strip, frame in zip(nest.strips, plan.frames, strict=True):
        for centre, angle in zip(
            strip.placements.centre_mm, strip.placements.angle_deg, strict=True
        ):
            at = centre + (nest.x0_mm, frame.strip_y0_mm)
            areas.append(placed(decal.contour, at, float(angle)).region.buffer(decal.bleed_mm))
    return shapely.union_all(areas)


def assert_readable(job: Job, decal: Decal, nest: Nest, plan: MarkPlan) -> None:
    """Every claim about marks, words and bars, recomputed from the figures of the shop file."""
    sensor = job.cutter.sensor
    clear = sensor.size_mm / 2 + sensor.clear_mm
    ink = ink_of(decal, nest, plan)
    for frame in plan.frames:
        top = frame.y0_mm + frame.length_mm
        slug = frame.slug
        bars = shapely.union_all(
            [
                shapely.box(
                    *slug.across_mm, slug.across_mm[0] + SCALE_BAR_MM, slug.across_mm[1] + 5
                ),
                shapely.box(*slug.along_mm, slug.along_mm[0] + 5, slug.along_mm[1] + SCALE_BAR_MM),
                shapely.box(*slug.text_mm),
            ]
        )
        assert bars.intersection(ink).is_empty
        assert shapely.box(10, frame.y0_mm, 588, top).covers(bars)
        points = {mark.number: (mark.x_mm, mark.y_mm) for mark in frame.marks}
        assert sorted(points) == list(range(1, len(points) + 1))
        for number, (x, y) in points.items():
            assert shapely.Point(x, y).distance(ink) >= clear - 1e-6
            assert shapely.Point(x, y).distance(bars) >= clear - 1e-6
            assert frame.y0_mm + clear - 1e-6 <= y <= top - clear + 1e-6
            assert 10 + sensor.size_mm / 2 <= x <= 588 - sensor.size_mm / 2
            others = [p for k, p in points.items() if k != number]
            assert shapely.Point(x, y).distance(shapely.MultiPoint(others)) >= clear
        for side in (
            sorted(y for x, y in points.values() if x < 300),
            sorted(y for x, y in points.values() if x > 300),
        ):
            assert side[0] <= frame.y0_mm + 60
            assert side[-1] >= top - 60
            assert max(np.diff(side)) <= sensor.spacing_mm + 1e-6


def test_marks_in_pockets_add_no_film():
    """Plates of 300 mm in the middle of 600 mm film: both edges are free, ends stay short."""
    job, decal = job_with(), plate(300, 100)
    nest = rows(job, decal, across=1, along=3, pitch_mm=(0, 104))

    plan = place_marks(job, (decal,), nest, Lanes())

    assert isinstance(plan, MarkPlan)
    assert_readable(job, decal, nest, plan)
    assert plan.frames[0].length_mm == pytest.approx(nest.length_mm + 2 * decal.bleed_mm)


def test_a_short_frame_full_from_edge_to_edge_gets_longer_ends():
    """Full rows leave no pocket for corner marks; 250 mm need none between them. Each end grows
    by two blank rings of 8 mm."""
    job, decal = job_with(), plate(90.5, 120)
    nest = rows(job, decal, across=6, along=2, pitch_mm=(95, 124), lanes=Lanes(bar=True))

    plan = place_marks(job, (decal,), nest, Lanes(bar=True))

    assert isinstance(plan, MarkPlan)
    assert_readable(job, decal, nest, plan)
    assert plan.frames[0].length_mm == pytest.approx(nest.length_mm + 2 * 2 + 2 * 2 * 8, abs=0.6)
    assert any("longer" in note.text for note in plan.notes)


def test_a_long_frame_full_from_edge_to_edge_asks_for_both_lanes():
    job, decal = job_with(), plate(92, 120)
    nest = rows(job, decal, across=6, along=5, pitch_mm=(96, 124))

    assert place_marks(job, (decal,), nest, Lanes()) == Lanes(left=True, right=True)


def test_with_lanes_the_marks_stand_in_them_and_the_ends_stay_short():
    job, decal = job_with(), plate(90, 120)
    lanes = Lanes(left=True, right=True)
    nest = rows(job, decal, across=5, along=8, pitch_mm=(94, 124), lanes=lanes)

    plan = place_marks(job, (decal,), nest, lanes)

    assert isinstance(plan, MarkPlan)
    assert_readable(job, decal, nest, plan)
    assert len(plan.frames[0].marks) == 2 * 4  # 988 mm need two gaps of 330 on either edge
    assert plan.frames[0].length_mm < nest.length_mm + 2 * 2 + 2 * 8


@settings(max_examples=40)
@given(
    st.floats(40, 250),
    st.integers(1, 6),
    st.sampled_from(["disc", "square", "corner", "cross"]),
    st.floats(150, 500),
    st.lists(st.floats(60, 520), max_size=2, unique=True),
)
def test_whatever_the_plates_marks_can_be_read(height, along, shape, spacing, rollers):
    """Any row height, mark shape, spacing and roller lanes: placed, or lanes asked for and then
    placed."""
    job = job_with(
        sensor={"shape": shape, "spacing_mm": spacing},
        roller_lanes_mm=[[x, x + 20.0] for x in rollers],
    )
    decal, lanes = plate(110, height), Lanes()
    for _ in range(3):
        nest = rows(job, decal, across=4, along=along, pitch_mm=(116, height + 4), lanes=lanes)
        plan = place_marks(job, (decal,), nest, lanes)
        if isinstance(plan, MarkPlan):
            break
        lanes = plan

    assert isinstance(plan, MarkPlan)
    assert_readable(job, decal, nest, plan)
    for frame in plan.frames:
        for mark in frame.marks:
            for x in rollers:
                assert not x - 3 < mark.x_mm < x + 20 + 3


def test_marks_are_numbered_from_the_edge_that_enters_first():
    job, decal = job_with(), plate(300, 100)
    nest = rows(job, decal, across=1, along=3, pitch_mm=(0, 104))
    turned = replace(job, setup=job.setup.model_copy(update={"enters": "trailing"}))

    leading = place_marks(job, (decal,), nest, Lanes()).frames[0].marks
    trailing = place_marks(turned, (decal,), nest, Lanes()).frames[0].marks

    assert (leading[0].x_mm, leading[0].y_mm) == min(
        ((m.x_mm, m.y_mm) for m in leading), key=lambda p: (p[1], p[0])
    )
    assert (trailing[0].x_mm, trailing[0].y_mm) == max(
        ((m.x_mm, m.y_mm) for m in trailing), key=lambda p: (p[1], p[0])
    )


def test_no_frame_lies_on_a_spoiled_stretch():
    job, decal = job_with(), plate(300, 100)
    job = replace(job, roll=job.roll.model_copy(update={"avoid_m": [[0.3, 0.9]]}))
    nest = rows(job, decal, across=1, along=3, pitch_mm=(0, 104))

    plan = place_marks(job, (decal,), nest, Lanes())

    assert plan.frames[0].y0_mm == pytest.approx(900.0)
    assert_readable(job, decal, nest, plan)


def test_a_roll_too_short_is_named_with_what_it_would_take():
    job, decal = job_with(), plate(300, 100)
    job = replace(job, roll=job.roll.model_copy(update={"left_m": 0.3}))
    nest = rows(job, decal, across=1, along=3, pitch_mm=(0, 104))

    with pytest.raises(Fault, match=r"needs 0\.46 m of film, the roll has 0\.3 m") as trouble:
        place_marks(job, (decal,), nest, Lanes())

    assert trouble.value.code == OUT_OF_REACH


def test_a_sensor_that_reaches_no_second_edge_is_refused():
    job = job_with(sensor={"reach_right_mm": 585.0})
    decal = plate(300, 100)
    nest = rows(job, decal, across=1, along=3, pitch_mm=(0, 104))

    with pytest.raises(Fault, match="no pair of marks can stand"):
        place_marks(job, (decal,), nest, Lanes())


def test_the_blank_ring_of_a_square_is_counted_from_its_corner():
    assert blank_round_mm(job_with(sensor={"shape": "square"}).cutter.sensor) > 9.2
