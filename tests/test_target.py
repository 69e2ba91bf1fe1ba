"""The command from an empty folder to a plan that counts what was measured."""

import json

import numpy as np
import pytest
from click.testing import CliRunner

from nestplan.cli import main
from nestplan.job import read_shop
from nestplan.target import equipment_of, make_target
from tests.small_job import changed, write_small_job
from tests.target.simulate import read

TRUE = {
    "offset_x_mm": 0.4,
    "offset_y_mm": -0.2,
    "scale_across_percent": 0.0,
    "scale_along_percent": 0.1,
    "skew_mm_m": 0.0,
    "size_across_percent": 0.0,
    "size_along_percent": 0.3,
    "size_skew_mm_m": 0.0,
}


def run(*words):
    return CliRunner().invoke(main, [str(word) for word in words])


def fill_in(table, shop):
    """Read the target as a machine with TRUE would leave it."""
    target = make_target(equipment_of(shop, read_shop(shop), setup=None, roll=None))
    readings = read(target, TRUE, np.random.default_rng(1))
    x, y = ({s.number: getattr(s, key) for s in readings.stations} for key in ("x_mm", "y_mm"))
    lengths = {(t.start, t.end): t.length_mm for t in readings.tapes}
    lines = []
    for line in table.read_text().splitlines():
        cells = line.split(",")
        if cells[0].isdigit() and cells[3]:
            line = f"{cells[0]},,,{cells[3]},{lengths[int(cells[0]), int(cells[3])]:.1f}"
        elif cells[0].isdigit():
            line = f"{cells[0]},{x[int(cells[0])]:.2f},{y[int(cells[0])]:.2f},,"
        lines.append(line)
    table.write_text("\n".join(lines))


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    folder = tmp_path_factory.mktemp("calibrate")
    job = write_small_job(folder)
    made = run("target", folder / "shop.toml", "--out", folder / "target")
    assert made.exit_code == 0, made.output
    fill_in(folder / "target" / "target-readings.csv", folder / "shop.toml")
    return job.parent / "shop.toml"


def test_the_way_from_shop_to_shop(shop):
    table = shop.parent / "target" / "target-readings.csv"
    before = shop.read_bytes()

    said = run("target", shop, table)
    told = json.loads(run("target", shop, table, "--json").output)

    assert said.exit_code == 0, said.output
    assert "offset x" in said.output and "the cut lands to the right" in said.output
    assert "shop-calibrated-1.toml" in said.output and "write 0 there" in said.output
    assert shop.read_bytes() == before
    assert told["shop"].endswith("shop-calibrated-2.toml")
    figures = told["figures"]
    assert figures["offset_x_mm"]["low_90"] < 0.4 < figures["offset_x_mm"]["high_90"]
    assert figures["size_along_percent"]["low_90"] < 0.3 < figures["size_along_percent"]["high_90"]
    assert "similarity" in told["not_told"]["scale_along_percent"]

    job = shop.parent / "job.toml"
    changed(job, 'shop = "shop.toml"', 'shop = "shop-calibrated-1.toml"')
    planned = run("plan", job, "--out", shop.parent / "out", "--steps", "60", "--json")
    summary = json.loads(planned.output)
    assert summary["marks"]["model"]["offset_x_mm"] == pytest.approx(0.4, abs=0.1)
    assert summary["marks"]["error_p95_mm"] > 0.4
    texts = [note["text"] for note in summary["notes"]]
    assert any("still carries offset_x_mm" in text for text in texts)
    assert any("off its size" in text for text in texts)
    assert run("check", shop.parent / "out").exit_code == 0


@pytest.mark.parametrize(
    ("words", "what"),
    [
        ((), "neither readings nor a folder"),
        (("read.csv", "--out", "here"), "readings and a folder"),
        (("--out", "here", "--setup", "pear"), 'has no setup "pear"'),
        (("--out", "here", "--roll", "white gloss 60"), 'has no roll "white gloss 60"'),
        (("none.csv",), "cannot be read"),
    ],
)
def test_a_wrong_command_is_told_in_three_lines(shop, words, what):
    said = run("target", shop, *words)

    assert said.exit_code == 2
    assert what in said.stderr and "where" in said.stderr and "do" in said.stderr
    assert "Traceback" not in said.stderr
    assert not (shop.parent / "here").exists()


def test_a_job_file_is_no_shop_file(shop):
    said = run("target", shop.parent / "job.toml", "--out", shop.parent / "here")

    assert (said.exit_code, "this is a job file, not a shop file" in said.stderr) == (2, True)
