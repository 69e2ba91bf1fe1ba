"""A prediction that does not follow from its model is found, and the key named."""

import json
import shutil
from dataclasses import replace

import pytest

from nestplan.check import Kind, check_folder
from tests.check.conftest import write
from tests.check.grid import grid_run
from tests.files.handmade import predicted


def bent(folder, change):
    path = folder / "summary.json"
    said = json.loads(path.read_bytes())
    change(said)
    path.write_text(json.dumps(said))
    return [f for f in check_folder(folder).found if f.kind is Kind.ERROR_WRONG]


def times(factor, *keys):
    def change(said):
        for key in keys[:-1]:
            said = said[key]
        said[keys[-1]] *= factor

    return change


@pytest.mark.parametrize("factor", [0.9, 1.1])
@pytest.mark.parametrize(
    "keys",
    [
        ("frames", 0, "placements", 2, "error_p95_mm"),
        ("marks", "error_p95_mm"),
        ("marks", "error_worst_mm"),
    ],
)
def test_an_error_that_is_a_tenth_off_is_found(folder, keys, factor):
    found = bent(folder, times(factor, *keys))

    assert any(str(keys[-1]) in each.where for each in found)


def test_a_quieter_model_makes_every_radius_wrong(folder):
    found = bent(folder, times(0.5, "marks", "model", "sensor_noise_mm"))

    assert "4 copies" in found[0].found


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("chance_outside_bleed", 0.5),
        ("chance_outside_bleed", None),
        ("bleed_least_mm", 0.05),
        ("bleed_least_mm", 2.0),
    ],
)
def test_a_chance_or_bleed_out_of_its_bounds_is_found(folder, key, value):
    found = bent(folder, lambda said: said["marks"].update({key: value}))

    assert [each.where for each in found] == [f"summary.json: marks.{key}"]


@pytest.mark.parametrize("corrects", ["none", "similarity", "affine"])
def test_known_shifts_are_worked_out_anew(tmp_path, corrects):
    run = grid_run(2, 2)
    known = {
        "offset_x_mm": 0.25,
        "offset_y_mm": -0.1,
        "scale_along_percent": 0.06,
        "scale_across_percent": -0.04,
        "skew_mm_m": 0.5,
    }
    cutter = type(run.job.cutter).model_validate(
        run.job.cutter.model_dump() | {"calibration": known, "corrects": corrects}
    )
    folder = write(predicted(replace(run, job=replace(run.job, cutter=cutter))), tmp_path / "as")

    assert check_folder(folder).found == ()
    keys = ("offset_x_mm",) if corrects == "affine" else ("offset_x_mm", "skew_mm_m")
    for key in keys:
        forgotten = shutil.copytree(folder, tmp_path / key)
        assert bent(forgotten, times(0.0, "marks", "model", key)), key


def test_a_calibration_younger_than_its_offset_is_found(folder):
    def change(said):
        said["marks"]["model"].update(calibration_wander_mm=0.1, calibration_age_days=90)

    assert [each.where for each in bent(folder, change)] == [
        "summary.json: marks.model.offset_sd_mm"
    ]


def test_moved_marks_move_the_errors(folder):
    def change(said):
        for mark in said["frames"][0]["marks"]:
            mark["x_mm"] = 100 + 0.1 * mark["x_mm"]

    assert bent(folder, change)
