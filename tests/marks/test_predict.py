"""Errors of a run: per copy, over all, and the chance of any white edge."""

from dataclasses import replace

import numpy as np
import pytest

from nestplan.geometry.outline import Outline
from nestplan.marks import error_model, error_notes, predict
from nestplan.marks.carried import carried_notes
from nestplan.marks.contour_points import contour_points
from nestplan.nest import Nest
from tests.files.handmade import a_job, a_run
from tests.marks.error_samples import model


def predicted(figures, *, bleed_mm=(2.0, 1.5), limit=0.05, run=None):
    """The hand-made run, two frames of four copies, with other figures and bleeds."""
    run = run or a_run()
    decals = tuple(
        replace(decal, bleed_mm=bleed)
        for decal, bleed in zip(run.artwork.decals, bleed_mm, strict=True)
    )
    return predict(figures, decals, run.nest, run.marks.frames, limit)


def test_noise_of_the_blade_alone_is_the_same_everywhere():
    """0.1 mm on each axis: 95 % within 0.1 sqrt(5.99146), for one copy as for all."""
    errors = predicted(model("affine", cut_noise_mm=0.1))

    for frame in errors.frames:
        assert frame.p95_mm == pytest.approx(np.full(len(frame.p95_mm), 0.244775), abs=1e-6)
    assert errors.p95_mm == pytest.approx(0.244775, abs=1e-5)
    assert errors.worst_mm == pytest.approx(0.244775, abs=1e-6)


def test_the_chance_of_any_of_eight_independent_copies_is_a_product():
    """Every copy keeps its own noise: 1 - (1 - p)^8 with Rayleigh's p; drawn, so within four
    standard errors. The bleed for a chance of 5 % follows from the same formula."""
    figures = model("affine", cut_noise_mm=0.1)
    errors = predicted(figures, bleed_mm=(0.3, 0.3))
    one = np.exp(-0.5 * 3.0**2)
    any_of_them = 1 - (1 - one) ** 8

    assert errors.chance == pytest.approx(any_of_them, abs=4 * np.sqrt(any_of_them / 2000))
    each = 1 - 0.95 ** (1 / 8)
    assert errors.bleed_least_mm == pytest.approx(0.1 * np.sqrt(-2 * np.log(each)), rel=0.03)


def test_an_offset_moves_all_copies_at_once():
    """Wrongly calibrated by 0.1 mm on each axis, nothing else: any is as likely as each."""
    errors = predicted(model("affine", offset_sd_mm=0.1), bleed_mm=(0.25, 0.25))

    assert errors.chance == pytest.approx(np.exp(-0.5 * 2.5**2), abs=0.02)
    assert errors.bleed_least_mm == pytest.approx(0.244775, rel=0.03)


def test_a_small_chance_is_the_sum_over_all_places():
    errors = predicted(model("affine", offset_sd_mm=0.1), bleed_mm=(0.6, 0.6))

    assert errors.chance_draws == 0
    assert np.exp(-18.0) < errors.chance <= 8 * 8 * np.exp(-18.0) * 1.0001


def test_a_small_wanted_chance_asks_for_a_bleed_that_is_surely_enough():
    errors = predicted(model("affine", offset_sd_mm=0.1), limit=1e-4)

    assert errors.bleed_draws == 0
    assert 0.1 * np.sqrt(-2 * np.log(1e-4)) < errors.bleed_least_mm < 0.62


def test_a_decal_without_bleed_counts_for_errors_and_not_for_the_chance():
    figures = model("affine", cut_noise_mm=0.1)

    assert predicted(figures, bleed_mm=(0.0, 0.0)).chance is None
    half = predicted(figures, bleed_mm=(0.0, 5.0))
    assert half.chance < 1e-6
    assert half.p95_mm == pytest.approx(0.244775, abs=1e-5)


def test_the_worst_copy_is_farthest_from_the_marks_it_hangs_on():
    errors = predicted(model("none", along_sd_percent=0.1))
    frame, row = errors.worst

    assert errors.frames[frame].p95_mm[row] == errors.worst_mm
    y = [
        np.abs(each.worst_mm[:, 1] - f.marks[0].y_mm)
        for each, f in zip(errors.frames, a_run().marks.frames, strict=True)
    ]
    assert y[frame][row] == pytest.approx(max(each.max() for each in y))


def test_more_of_anything_makes_the_error_greater():
    base = {"sensor_noise_mm": 0.05}
    least = predicted(model("similarity", **base)).p95_mm
    for key, figure in (
        ("print_noise_mm", 0.05),
        ("distortion_mm", 0.05),
        ("tracking_mm_m", 0.3),
        ("skew_sd_mm_m", 0.5),
        ("along_sd_percent", 0.1),
        ("offset_sd_mm", 0.05),
    ):
        assert predicted(model("similarity", **base, **{key: figure})).p95_mm > least + 1e-4


def test_the_same_run_gives_the_same_figures():
    first, second = (
        predicted(model("affine", cut_noise_mm=0.1), bleed_mm=(0.3, 0.3)) for _ in "ab"
    )

    assert (first.chance, first.bleed_least_mm) == (second.chance, second.bleed_least_mm)


def test_a_box_is_looked_at_in_its_corners_and_a_long_side_in_between():
    box = Outline(rings=(np.array([[-200.0, -10], [200, -10], [200, 10], [-200, 10]]),))

    assert len(contour_points(box, 3000.0)) == 4
    along = contour_points(box, 300.0)
    assert sorted(along[along[:, 1] > 9, 0].tolist()) == [-200.0, -100.0, 0.0, 100.0, 200.0]


def test_figures_come_from_roll_setup_and_both_machines():
    job = a_job()
    calibration = {"age_days": 120, "offset_sd_mm": 0.03, "offset_wander_mm": 0.02}
    cutter = type(job.cutter).model_validate(
        job.cutter.model_dump() | {"calibration": calibration, "tracking_mm_m": 0.4}
    )
    roll = job.roll.model_copy(
        update={"shrink_along_percent": 0.2, "expansion_ppm_k": 70.0, "shrink_sd_percent": 0.05}
    )
    setup = job.setup.model_copy(update={"cut_warmer_k": 10.0})
    printer = job.printer.model_copy(update={"tracking_mm_m": 0.3})

    found = error_model(replace(job, cutter=cutter, roll=roll, setup=setup, printer=printer))

    assert found.offset_sd_mm == pytest.approx(0.05)  # 3-4-5: a wander of 0.02 sqrt(120 / 30)
    assert found.tracking_mm_m == pytest.approx(0.5)
    assert found.along_percent == pytest.approx(70e-6 * 10 * 100 - 0.2)
    assert (found.along_sd_percent, found.sensor_noise_mm) == (0.05, 0.08)


def test_what_the_cutter_still_carries_is_counted_against_the_print_and_said():
    job, decals = a_job(), a_run().artwork.decals
    calibration = {"offset_x_mm": 0.3, "scale_along_percent": 0.05, "skew_mm_m": 0.4}
    cutter = type(job.cutter).model_validate(job.cutter.model_dump() | {"calibration": calibration})
    sizes = {"size_along_percent": 0.12, "offset_y_mm": 5.0}  # a printer has no blade
    printer = type(job.printer).model_validate(job.printer.model_dump() | {"calibration": sizes})

    found = error_model(replace(job, cutter=cutter, printer=printer))
    notes = carried_notes(replace(job, cutter=cutter, printer=printer), decals)

    assert (found.offset_x_mm, found.offset_y_mm) == (0.3, 0.0)
    assert (found.along_percent, found.skew_mm_m) == pytest.approx((-0.05, -0.4))
    assert "offset_x_mm 0.3, scale_along_percent 0.05, skew_mm_m 0.4" in notes[0].text
    assert "size_along_percent 0.12: the largest decal comes out 0.11 mm off" in notes[1].text
    assert carried_notes(job, decals) == []


def test_a_chance_over_the_limit_asks_for_a_look_and_absent_figures_are_named():
    run = a_run()
    errors = predicted(model("affine", cut_noise_mm=1.0))

    notes = error_notes(run.job, run.artwork.decals, errors)

    assert [note.level for note in notes] == ["look", "know"]
    assert "over the limit of 5.0 %" in notes[0].text
    assert "placement_noise_mm, distortion_mm, tracking_mm_m, offset_sd_mm" in notes[1].text


def test_a_long_run_counts_more_copies():
    run = a_run()
    nest: Nest = replace(run.nest, strips=run.nest.strips[:1])
    frames = run.marks.frames[:1]
    figures = model("affine", cut_noise_mm=0.1)

    one = predict(figures, run.artwork.decals, nest, frames, 0.05)
    both = predict(figures, run.artwork.decals, run.nest, run.marks.frames, 0.05)

    assert one.bleed_least_mm < both.bleed_least_mm
