"""The new shop file: all as it was but for what was measured."""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from nestplan.job import read_shop
from nestplan.target import calibrated_shop, equipment_of, make_target, measure
from nestplan.target.solve import DIFFERENCE
from tests.target.simulate import SHOP, read, truth

TEXT = SHOP.read_text()
OWN = "calibration = { age_days = 40, offset_sd_mm = 0.05, offset_wander_mm = 0.06 }"
TABLE = "[machine.calibration]  # ours\nage_days = 40 # days\noffset_wander_mm = 0.06\n\n"


def calibrated(folder: Path, text: str = TEXT, setup: str = "pair"):
    """The old tables, the new file's name and text, and what was measured."""
    path = folder / "shop.toml"
    path.write_bytes(text.encode())
    equipment = equipment_of(path, read_shop(path), setup=setup, roll=None)
    target, rng = make_target(equipment), np.random.default_rng(5)
    measured = measure(target, read(target, truth(rng), rng))
    name, data, _ = calibrated_shop(equipment, measured)
    return tomllib.loads(text), name, data.decode(), measured


def machine(tables, name):
    return next(each for each in tables["machine"] if each["name"] == name)


@pytest.mark.parametrize(
    "text",
    [
        TEXT,
        TEXT.replace(OWN, ""),
        TEXT.replace(OWN, "").replace("[machine.sensor]", TABLE + "[machine.sensor]", 1),
        TEXT.replace(OWN, "calibration.age_days = 40\ncalibration.offset_wander_mm = 0.06"),
        TEXT.replace("\n", "\r\n"),
    ],
    ids=["inline", "none", "table", "dotted", "crlf"],
)
def test_nothing_changes_but_the_calibration(tmp_path, text):
    before, name, data, measured = calibrated(tmp_path, text)
    after = tomllib.loads(data)
    own = machine(after, "cutter")["calibration"]

    assert name == "shop-calibrated-1.toml"
    assert own["age_days"] == 0
    assert own["offset_x_mm"] == pytest.approx(measured.figure("offset_x_mm").value, abs=6e-4)
    assert own["offset_sd_mm"] == pytest.approx(measured.figure("offset_y_mm").sd, abs=0.01)
    wander = machine(before, "cutter").get("calibration", {}).get("offset_wander_mm")
    assert own.get("offset_wander_mm") == wander
    for tables in (before, after):
        for each in tables["machine"]:
            each.pop("calibration", None)
    assert before == after
    words = [line.split("#", 1)[1] for line in text.splitlines() if "#" in line]
    assert all(each in data for each in words)
    path = tmp_path / name
    path.write_bytes(data.encode())
    read_shop(path)


def test_sizes_go_to_the_printer_and_shifts_to_the_cutter(tmp_path):
    _, _, data, measured = calibrated(tmp_path)
    after = tomllib.loads(data)

    of_printer = machine(after, "printer")["calibration"]
    along = measured.figure("size_along_percent").value
    assert of_printer["size_along_percent"] == pytest.approx(along, abs=6e-5)
    assert "offset_x_mm" not in of_printer
    # an affine cutter hides the scales: what the file said of them stands
    assert of_printer["scale_along_sd_percent"] == 0.03


def test_a_spread_that_was_measured_with_the_cutter_is_not_counted_twice(tmp_path):
    _, _, data, measured = calibrated(
        tmp_path, TEXT.replace('corrects = "affine"', 'corrects = "turn"')
    )
    after = tomllib.loads(data)

    spread = machine(after, "cutter")["calibration"]["scale_along_sd_percent"]
    assert spread == pytest.approx(measured.figure("scale_along_percent").sd, abs=6e-5)
    assert machine(after, "printer")["calibration"]["scale_along_sd_percent"] == 0.0


def test_a_difference_of_scales_is_written_as_two_that_make_it(tmp_path):
    _, _, data, measured = calibrated(tmp_path, setup="combined")
    own = machine(tomllib.loads(data), "combined device")["calibration"]
    told = measured.figure(DIFFERENCE)

    made = own["scale_along_percent"] - own["scale_across_percent"]
    assert made == pytest.approx(told.value, abs=2e-4)
    spread = np.hypot(own["scale_along_sd_percent"], own["scale_across_sd_percent"])
    assert spread == pytest.approx(told.sd, abs=2e-4)
    assert own["size_along_percent"] != 0


def test_no_earlier_file_is_overwritten(tmp_path):
    for number in (1, 2):
        (tmp_path / f"shop-calibrated-{number}.toml").write_text("mine")

    assert calibrated(tmp_path)[1] == "shop-calibrated-3.toml"
