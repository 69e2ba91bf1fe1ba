"""The marks of a run: better than evenly spaced, at no film, and no frame like another."""

from dataclasses import asdict, replace

import numpy as np
import pytest
import shapely

from nestplan.marks import Lanes, error_model, place_marks, web_of
from nestplan.marks.apart import greatest_mistaken
from nestplan.marks.candidates import field_of
from nestplan.marks.contour_points import copy_points
from nestplan.marks.field import INSIDE
from tests.marks.handmade import job_with, plate, rows
from tests.marks.swaps import better_swaps
from tests.marks.test_place import assert_readable

SOFT = {"distortion_mm": 0.5, "distortion_length_mm": 300.0}


def plan_of(job, *, along=8, frames=1):
    """Plates that leave both edges free, the same strip so many times."""
    decal = plate(80, 80)
    nest = rows(job, decal, across=5, along=along, pitch_mm=(100, 120))
    nest = replace(nest, strips=nest.strips * frames)
    return decal, nest, place_marks(job, (decal,), nest, Lanes())


def with_printer(job, **figures):
    return replace(job, printer=job.printer.model_copy(update=figures))


def test_equal_strips_get_marks_that_tell_their_frames_apart():
    job = with_printer(job_with(corrects="affine"), **SOFT)

    _, _, plan = plan_of(job, frames=4)

    layouts = [
        np.array([(mark.x_mm, mark.y_mm - frame.y0_mm) for mark in frame.marks])
        for frame in plan.frames
    ]
    assert greatest_mistaken(error_model(job), layouts) < 1e-6
    assert plan.placement.mistaken < 1e-6
    assert all(each.total > 0.97 for each in plan.placement.worth)


def test_frames_told_apart_keep_no_swap_that_would_help():
    """Of sets that still tell them apart; judged by another way than the search's."""
    job = with_printer(job_with(corrects="affine"), **SOFT)
    decal, nest, plan = plan_of(job, along=6, frames=2)
    model = error_model(job)
    before = []
    for frame in plan.frames:
        field = field_of(job, web_of(job), frame, shapely.Polygon())
        marks = np.array([(mark.x_mm, mark.y_mm) for mark in frame.marks])
        rows = [int(np.hypot(*(field.places_mm - mark).T).argmin()) for mark in marks]
        points = np.concatenate(copy_points((decal,), nest, frame, model.distortion_length_mm))

        _, looked, better = better_swaps(
            asdict(model),
            field.places_mm,
            field.edge,
            list(field.corners),
            rows,
            points,
            spacing_mm=field.spacing_mm,
            apart_mm=field.apart_mm,
            allowed=lambda at: greatest_mistaken(model, [*before, at]) <= 0.9 * 1e-6 / 4,
        )

        assert looked > 1000
        assert better == []
        before.append(marks - (0.0, frame.y0_mm))
    assert not np.allclose(*before)


def test_marks_inside_are_taken_where_the_sensor_reads_them_and_they_pay():
    reads = with_printer(job_with(corrects="affine", sensor={"reads_inside": True}), **SOFT)
    edges = with_printer(job_with(corrects="affine"), **SOFT)

    decal, nest, plan = plan_of(reads)
    _, _, without = plan_of(edges)

    inside = [mark for mark in plan.frames[0].marks if mark.inside]
    assert inside
    assert not any(mark.inside for mark in without.frames[0].marks)
    assert plan.frames[0].length_mm == without.frames[0].length_mm
    assert plan.placement.worth[0].gain > without.placement.worth[0].gain
    edge_only = replace(
        plan,
        frames=(
            replace(
                plan.frames[0],
                marks=tuple(
                    replace(mark, number=k)
                    for k, mark in enumerate(
                        [m for m in plan.frames[0].marks if not m.inside], start=1
                    )
                ),
            ),
        ),
    )
    assert_readable(reads, decal, nest, edge_only)
    blank = reads.cutter.sensor.size_mm / 2 + reads.cutter.sensor.clear_mm
    for mark in inside:
        assert plan.frames[0].safe.covers(shapely.Point(mark.x_mm, mark.y_mm))
        assert (
            min(
                np.hypot(mark.x_mm - m.x_mm, mark.y_mm - m.y_mm)
                for m in plan.frames[0].marks
                if m is not mark
            )
            > 2 * blank
        )


@pytest.mark.parametrize("corrects", ["turn", "similarity", "affine", "strips"])
def test_settled_marks_are_no_worse_than_evenly_spaced_ones(corrects):
    job = with_printer(job_with(corrects=corrects), **SOFT)

    _, _, plan = plan_of(job)

    worth = plan.placement.worth[0]
    before_half_turn = worth.total * (1 - worth.gain)  # a mark may have moved to tell it
    assert before_half_turn <= 1 + 1e-9
    assert worth.total > 0.97
    assert plan.placement.worth[0].noise_here <= plan.placement.worth[0].noise_best + 1e-9


def test_a_cutter_that_fits_nothing_keeps_evenly_spaced_marks():
    job = job_with(corrects="none")

    _, _, plan = plan_of(job)

    assert plan.placement.worth == (None,)


def test_candidates_hold_the_marks_there_are_and_stay_off_words_and_bars():
    job = job_with(corrects="affine", sensor={"reads_inside": True})
    _, _, plan = plan_of(job)
    frame = plan.frames[0]

    field = field_of(job, web_of(job), frame, shapely.Polygon())

    blank = job.cutter.sensor.size_mm / 2 + job.cutter.sensor.clear_mm
    text = shapely.box(*frame.slug.text_mm)
    for x, y in field.places_mm:
        assert text.distance(shapely.Point(x, y)) >= blank - 0.01
    inner = field.places_mm[field.edge == INSIDE]
    assert len(inner) > 20
    edges = [mark.x_mm for mark in frame.marks if not mark.inside]
    assert inner[:, 0].min() > min(edges) + 60
    assert inner[:, 0].max() < max(edges) - 60
