"""The summary says what the contract says it says, and its figures are the hand-worked ones."""

import dataclasses
import json
from decimal import Decimal

import numpy as np
import pytest

from nestplan.files.run import Run
from nestplan.files.summary import summary
from nestplan.nest import Placements
from tests.files.handmade import (
    AREAS_MM2,
    CONTOURS,
    FRAME_LENGTH_MM,
    FRAME_Y0_MM,
    MARKS,
    PLACES,
    a_run,
)

DIGESTS = {"proof.pdf": "b" * 64, "cut-01.svg": "a" * 64}
KEYS = {  # of every object, in order: keys never change their meaning, later versions only add
    "": "schema job plan version seed steps workers inputs files roll page_x0_mm decals nest "
    "frames marks cut print setups cost notes",
    "inputs": "job_file job shop art",
    "roll": "name width_mm length_used_mm area_used_m2",
    "decals.0": "name ordered planned width_mm height_mm area_mm2 cut bleed_mm contour "
    "faults picture_dpi",
    "nest": "length_mm bound_mm bound_reason gap_percent copies frames used_percent "
    "waste_percent engine tried",
    "nest.tried.0": "engine length_mm",
    "frames.0": "index y0_mm length_mm marks placements",
    "frames.0.marks.0": "mark x_mm y_mm",
    "frames.0.placements.0": "decal copy x_mm y_mm angle_deg mirrored error_p95_mm",
    "marks": "spacing_mm shape size_mm clear_mm error_p95_mm error_worst_mm bleed_least_mm "
    "chance_outside_bleed model",
    "marks.model": "corrects print_noise_mm sensor_noise_mm cut_noise_mm distortion_mm "
    "distortion_length_mm tracking_mm_m along_percent across_percent along_sd_percent "
    "across_sd_percent both_sd_percent skew_mm_m skew_sd_mm_m askew_sd_mm_m offset_x_mm "
    "offset_y_mm offset_sd_mm "
    "calibration_sd_mm calibration_wander_mm calibration_age_days chance_limit chance_draws "
    "bleed_draws",
    "cut": "contours length_mm travel_mm travel_bound_mm time_s",
    "print": "time_s mode",
    "setups.pair": "print_s handling_s lag_s cut_s one_run_s runs_per_shift",
    "cost": "currency film ink labour machine total per_decal per_decal_by_name",
    "notes.0": "level where text",
}


def said(run: Run) -> dict:
    return json.loads(summary(run, DIGESTS))


@pytest.mark.parametrize("path", KEYS)
def test_every_key_of_the_contract_is_there_in_its_order(path):
    thing = said(a_run())
    for step in path.split(".") if path else []:
        thing = thing[int(step)] if step.isdigit() else thing[step]

    assert list(thing) == KEYS[path].split()


def test_placements_put_each_contour_where_pencil_and_paper_did():
    """By the contract's own words: turn about the box's centre, put the centre at x, y."""
    told = said(a_run())
    for frame, places in zip(told["frames"], PLACES, strict=True):
        assert [
            (p["decal"] - 1, p["copy"], (p["x_mm"], p["y_mm"]), p["angle_deg"])
            for p in (frame["placements"])
        ] == [(decal, copy, centre, angle) for decal, copy, centre, angle in places]
        assert not any(p["mirrored"] for p in frame["placements"])


def test_contours_stand_about_the_centre_of_their_box():
    for decal, outline, area in zip(said(a_run())["decals"], CONTOURS, AREAS_MM2, strict=True):
        points = np.concatenate([np.array(ring) for ring in decal["contour"]])
        left, bottom = points.min(axis=0)
        right, top = points.max(axis=0)
        assert (left + right, bottom + top) == (0, 0)
        assert (right - left, top - bottom) == (decal["width_mm"], decal["height_mm"])
        assert [len(ring) for ring in decal["contour"]] == [len(ring) for ring in outline.rings]
        assert decal["area_mm2"] == area


def test_frames_and_marks_are_numbered_from_one():
    frames = said(a_run())["frames"]

    assert [frame["index"] for frame in frames] == [1, 2]
    assert [frame["y0_mm"] for frame in frames] == list(FRAME_Y0_MM)
    assert [frame["length_mm"] for frame in frames] == list(FRAME_LENGTH_MM)
    for frame, places in zip(frames, MARKS, strict=True):
        assert [(m["mark"], m["x_mm"], m["y_mm"]) for m in frame["marks"]] == [
            (n + 1, x, y) for n, (x, y) in enumerate(places)
        ]


def test_used_and_wasted_film_add_up_by_hand():
    """4 x 5000 + 4 x 2650 mm2 of 600 x 880 mm of film."""
    told = said(a_run())

    assert told["roll"]["area_used_m2"] == 0.528
    assert told["nest"]["used_percent"] == pytest.approx(100 * 30_600 / 528_000, abs=1e-6)
    assert told["nest"]["used_percent"] + told["nest"]["waste_percent"] == pytest.approx(100)
    assert told["nest"]["copies"] == 8
    assert [decal["planned"] for decal in told["decals"]] == [4, 4]


def test_the_gap_is_what_the_contract_defines():
    nest = said(a_run())["nest"]

    gap = 100 * (nest["length_mm"] - nest["bound_mm"]) / nest["bound_mm"]
    assert nest["gap_percent"] == pytest.approx(gap, abs=1e-5)


def test_an_engine_without_an_answer_has_no_length():
    assert said(a_run())["nest"]["tried"][0] == {"engine": "columns", "length_mm": None}


def test_inputs_are_as_read_and_name_every_art():
    run = a_run()
    inputs = said(run)["inputs"]

    assert inputs["job"]["decal"][1]["bleed_mm"] == 1.5
    assert "cut" not in inputs["job"]["decal"][0], "a key the file has not is not made up"
    assert inputs["shop"]["roll"][0]["price"] == "14.00"
    assert inputs["art"] == {decal.source: decal.digest for decal in run.artwork.decals}


def test_money_is_decimal_text_to_the_cent():
    run = a_run()
    estimate = dataclasses.replace(run.estimate, film=Decimal("1E+2"), ink=Decimal("0.10"))
    cost = said(dataclasses.replace(run, estimate=estimate))["cost"]

    assert (cost["film"], cost["ink"]) == ("100", "0.10")
    assert cost["per_decal_by_name"] == {"berth plate": "3.1200", "club burgee": "1.8800"}
    assert all(isinstance(value, str | dict) for value in cost.values())


def test_digests_are_listed_by_name():
    assert list(said(a_run())["files"].items()) == sorted(DIGESTS.items())


def test_figures_carry_no_noise_and_no_minus_zero():
    """0.1 + 0.2 is 0.3; an angle that rounds to a whole turn is none."""
    run = a_run()
    strip = run.nest.strips[1]
    places = Placements(
        shape=strip.placements.shape.copy(),
        centre_mm=np.array([[0.1 + 0.2 - run.nest.x0_mm, 1.0], [-1e-9 - run.nest.x0_mm, 2.0]]),
        angle_deg=np.array([360.0 - 1e-12, 0.0]),
    )
    strips = (run.nest.strips[0], dataclasses.replace(strip, placements=places))
    nest = dataclasses.replace(run.nest, strips=strips)
    text = summary(dataclasses.replace(run, nest=nest), DIGESTS).decode()

    one, other = json.loads(text)["frames"][1]["placements"]
    assert (one["x_mm"], one["angle_deg"], other["x_mm"]) == (0.3, 0.0, 0.0)
    assert "-0.0" not in text


def test_the_summary_is_utf8_text_that_a_person_can_read():
    run = a_run()
    order = run.job.order.model_copy(update={"name": "Łódź regatta"})
    written = summary(dataclasses.replace(run, job=dataclasses.replace(run.job, order=order)), {})

    assert '"job": "Łódź regatta",\n' in written.decode()
    assert written.endswith(b"}\n")
    assert all(len(line) < 200 for line in written.decode().splitlines())


def test_the_same_run_gives_the_same_bytes():
    assert summary(a_run(), DIGESTS) == summary(a_run(), dict(reversed(DIGESTS.items())))
