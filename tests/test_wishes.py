"""A job with every wish at once, through the command line: planned, shown in figures, checked."""

import json
from collections import Counter
from decimal import Decimal

import pytest
from click.testing import CliRunner

from nestplan.cli import main
from tests.small_job import changed, write_small_job

SMALL = """
[[decal]]
name = "small plate"
artwork = "art/plate.svg"
quantity = 2
width_mm = 30
contour = "layer:outline"
bleed_mm = 1.0
"""


@pytest.fixture(scope="module")
def wished(tmp_path_factory):
    """The folder of the plan, and what the command said."""
    folder = tmp_path_factory.mktemp("wishes")
    job = write_small_job(folder / "job")
    changed(job, "gutter_mm = 4.0\n", 'gutter_mm = 4.0\nfill_with = "small plate"\n')
    changed(job, "quantity = 8\n", "quantity = 8\nkeep_together = true\n")
    changed(job, "quantity = 6\n", 'quantity = 3\nrotate = "none"\ndirection = "left"\n')
    job.write_text(job.read_text() + SMALL)
    words = ["plan", str(job), "--out", str(folder / "out"), "--steps", "100"]
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 0, result.output
    return folder, result.output


def test_the_check_finds_nothing_against_it(wished):
    result = CliRunner().invoke(main, ["check", str(wished[0] / "out")])

    assert result.exit_code == 0, result.output


def test_extra_copies_are_counted_as_planned_and_paid_by_those_ordered(wished):
    said = json.loads((wished[0] / "out/summary.json").read_text())
    placed = Counter(p["decal"] for frame in said["frames"] for p in frame["placements"])

    assert [decal["ordered"] for decal in said["decals"]] == [8, 3, 2]
    assert [decal["planned"] for decal in said["decals"]] == [placed[1], placed[2], placed[3]]
    assert (placed[1], placed[2]) == (8, 3)
    assert placed[3] > 2
    assert f"13 copies and {placed[3] - 2} extra" in wished[1]
    each = Decimal(said["cost"]["per_decal"])
    assert abs(each * 13 - Decimal(said["cost"]["total"])) <= Decimal("0.001")


def test_the_notes_say_what_became_of_the_wishes(wished):
    said = json.loads((wished[0] / "out/summary.json").read_text())
    notes = {note["where"]: note["text"] for note in said["notes"]}

    assert notes["keep_together"].startswith("a band each for berth plate: this costs ")
    assert "of small plate in the last frame" in notes["fill_with"]
    turned = {p["angle_deg"] for f in said["frames"] for p in f["placements"] if p["decal"] == 2}
    assert turned == {90.0}
