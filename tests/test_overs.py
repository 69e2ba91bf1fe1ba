"""Overs in a plan: laid down, said, paid, and passed by the check; more of them are not."""

import json

import pytest

from nestplan.check import check_folder
from nestplan.files import run_files
from nestplan.plan import plan_job
from tests.small_job import changed, write_small_job


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    """20 % overs, rounded up: 2 of 8 plates, 2 of 6 burgees."""
    folder = tmp_path_factory.mktemp("overs")
    job = write_small_job(folder / "job")
    changed(job, "gutter_mm = 4.0", "gutter_mm = 4.0\novers_percent = 20")
    run = plan_job(job, steps=30)
    (folder / "out").mkdir()
    for name, data in run_files(run).items():
        (folder / "out" / name).write_bytes(data)
    return run, folder / "out"


def test_overs_are_laid_down_and_said(planned):
    run, out = planned
    said = json.loads((out / "summary.json").read_text())

    assert run.nest.planned == (10, 8)
    assert [(d["ordered"], d["planned"], d["overs"]) for d in said["decals"]] == [
        (8, 10, 2),
        (6, 8, 2),
    ]
    notes = [note["text"] for note in said["notes"] if note["where"] == "overs"]
    assert notes == [
        "4 overs are included, 20 % of each, as the job says: berth plate 2, club burgee 2"
    ]


def test_the_check_finds_nothing_against_them(planned):
    assert check_folder(planned[1]).found == ()


def test_spoilage_in_the_shop_file_makes_overs_and_rare_runs_are_told(tmp_path):
    job = write_small_job(tmp_path / "job")
    shop = job.parent / "shop.toml"
    shop.write_text(shop.read_text() + "\nspoiled_copy_percent = 4\nspoiled_run_percent = 10\n")
    run = plan_job(job, steps=30)

    assert sum(run.overs) > 0
    assert run.nest.planned == (8 + run.overs[0], 6 + run.overs[1])
    (look,) = [note for note in run.notes if note.where == "overs" and note.level == "look"]
    assert "no number of overs makes it 95 % sure" in look.text
