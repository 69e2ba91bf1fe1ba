"""What would help against a white edge, worked out and priced."""

from dataclasses import replace

import numpy as np
import shapely

from nestplan.marks import cure_notes, predict
from nestplan.marks.cures import _one_pair_more
from nestplan.marks.words import slug_rooms
from tests.files.handmade import a_run
from tests.marks.error_samples import model


def cures(figures, *, bleed_mm=0.3, corrects="similarity", run=None):
    """Notes for the hand-made run with this bleed everywhere; the chance before."""
    run = run or a_run()
    decals = tuple(replace(decal, bleed_mm=bleed_mm) for decal in run.artwork.decals)
    told = model(corrects, **figures)
    errors = predict(told, decals, run.nest, run.marks.frames, 0.05)
    return cure_notes(run.job, decals, run.nest, run.marks.frames, errors), errors


def test_no_cure_is_named_where_none_is_needed():
    assert cures({"sensor_noise_mm": 0.01})[0] == []


def test_an_old_calibration_is_made_anew():
    """Wandered from 0.05 to 0.15 mm: the chance falls to that of 0.05 mm, exp(-18) each."""
    notes, errors = cures(
        {
            "offset_sd_mm": 0.15,
            "calibration_sd_mm": 0.05,
            "calibration_wander_mm": 0.1,
            "calibration_age_days": 60.0,
        }
    )

    assert errors.chance > 0.05
    assert notes[0].text == (
        "a calibration made today, not 60 days ago, would bring the chance to less than "
        "1 in 1 000 000; it costs a target print and its readings"
    )
    assert all("hardly help" in note.text for note in notes if "marks" in note.text)


def test_a_walking_film_is_cured_by_shorter_frames():
    """The second frame holds copies in one half only, so three frames come of two."""
    notes, errors = cures({"tracking_mm_m": 0.6}, corrects="affine")
    run = a_run()

    shorter = next(note for note in notes if "half as long" in note.text)

    assert "3 instead of 2, would bring the chance to 1" in shorter.text
    # one parting: the gap between frames and four blank rings
    blank = run.job.cutter.sensor.size_mm / 2 + run.job.cutter.sensor.clear_mm
    assert f"about {30 + 4 * blank:.0f} mm of film" in shorter.text
    assert errors.chance > 0.3


def test_more_marks_are_set_into_the_widest_gap_where_they_may_stand():
    notes, _ = cures({"sensor_noise_mm": 0.18})
    more = next(note for note in notes if "one more pair" in note.text)

    assert "4 marks in all, would bring the chance to" in more.text
    assert "no film, 6 s of reading" in more.text

    run = a_run()
    frames = tuple(replace(frame, safe=shapely.Polygon()) for frame in run.marks.frames)
    notes, _ = cures(
        {"sensor_noise_mm": 0.18}, run=replace(run, marks=replace(run.marks, frames=frames))
    )
    assert not any("one more pair" in note.text for note in notes)


def test_one_more_pair_stays_off_words_and_scale_bars():
    """The line of text laid over the widest gap of the left edge: the mark is set beside it."""
    run = a_run()
    sensor = run.job.cutter.sensor
    blank = sensor.size_mm / 2 + sensor.clear_mm
    frame = run.marks.frames[0]
    free = _one_pair_more(run.job, [frame])[0].marks[-2]
    text = (free.x_mm - 5, free.y_mm - 3, free.x_mm + 60, free.y_mm + 3)
    worded = replace(frame, slug=replace(frame.slug, text_mm=text))

    made = _one_pair_more(run.job, [worded])

    assert made is not None
    for mark in made[0].marks[-2:]:
        place = shapely.Point(mark.x_mm, mark.y_mm)
        assert shapely.box(*text).distance(place) >= blank - 0.02
        for bar in slug_rooms(frame.slug)[:2]:
            assert bar.distance(place) >= blank - 0.02


def test_a_bleed_within_the_gutter_costs_no_film_and_a_wider_one_does():
    """Gutter 5 mm. Beyond it every contour grows by half of what is missing along its length:
    2 x missing / 2 x sum of contour lengths over the width."""
    notes, errors = cures({"cut_noise_mm": 0.15})
    assert any(
        note.text.startswith(f"a bleed of {errors.bleed_least_mm:.2f} mm")
        and "no film" in note.text
        for note in notes
    )

    notes, errors = cures({"cut_noise_mm": 1.0})
    run = a_run()
    missing = 2 * errors.bleed_least_mm - 5.0
    grown = sum(
        run.artwork.decals[shape].contour.length_mm * missing / 2
        for strip in run.nest.strips
        for shape in strip.placements.shape.tolist()
    )
    film = np.round(grown / run.nest.task.width_mm)
    assert any(f"costs about {film:.0f} mm of film" in note.text for note in notes)
