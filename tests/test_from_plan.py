"""A job that starts from a former plan: what stayed, through all files and the check."""

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from nestplan.check import Kind, check_folder
from nestplan.cli import main
from tests.check.edit import bend
from tests.small_job import changed, write_small_job


def plan(job: Path, out: Path, steps: int = 60) -> dict:
    result = CliRunner().invoke(
        main, ["plan", str(job), "--out", str(out), "--steps", str(steps), "--json"]
    )
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def places(said: dict, *, stayed: bool | None = None) -> set:
    """Copies within their frames, to a hundredth of a thousandth."""
    return {
        (
            frame["index"],
            place["decal"],
            place["copy"],
            round(place["x_mm"], 5),
            round(place["y_mm"] - frame["y0_mm"], 5),
            place["angle_deg"],
        )
        for frame in said["frames"]
        for place in frame["placements"]
        if stayed is None or place["anew"] != stayed
    }


@pytest.fixture(scope="module")
def followed(tmp_path_factory) -> tuple[Path, dict, dict]:
    """The small job planned, a quantity raised and another lowered, and planned from that."""
    folder = tmp_path_factory.mktemp("followed")
    job = write_small_job(folder / "job")
    former = plan(job, folder / "former")
    changed(job, "gutter_mm", 'from_plan = "../former"\ngutter_mm')
    changed(job, "quantity = 8", "quantity = 9")
    changed(job, "quantity = 6", "quantity = 4")
    return folder, former, plan(job, folder / "out")


def test_copies_keep_frame_place_angle_and_number(followed):
    _, former, said = followed

    assert said["nest"]["from_plan"] == {
        "copies": 14,
        "stayed": 12,
        "moved": 0,
        "came": 1,
        "went": 2,
    }
    kept = places(said, stayed=True)
    assert len(kept) == 12
    assert {each[:2] + each[3:] for each in kept} <= {e[:2] + e[3:] for e in places(former)}
    same_number = kept & places(former)
    assert len(same_number) >= 10  # those whose number is no longer ordered took a free one


def test_the_check_finds_nothing_and_the_notes_say_what_became_of_the_copies(followed):
    folder, _, said = followed

    assert check_folder(folder / "out").found == ()
    texts = [note["text"] for note in said["notes"] if note["where"] == 'from_plan "../former"']
    assert texts[0] == "12 of 14 copies stayed in their places, 0 moved, 1 came, 2 went"
    assert any("marks stand" in text or "stand elsewhere" in text for text in texts)


def test_the_same_job_again_changes_nothing(followed, tmp_path):
    """A plan may follow the very plan it replaces."""
    folder, _, said = followed
    shutil.copytree(folder / "job", tmp_path / "job")
    shutil.copytree(folder / "out", tmp_path / "former")
    again = plan(tmp_path / "job/job.toml", tmp_path / "former")

    assert places(again) == places(said)
    assert again["nest"]["from_plan"]["stayed"] == 13
    assert "all marks stand where the former plan has them in its frames" in [
        note["text"] for note in again["notes"]
    ]
    assert check_folder(tmp_path / "former").found == ()


@pytest.mark.parametrize("key", ["stayed", "came", "copies"])
def test_a_count_of_the_former_plan_that_does_not_add_up_is_named(followed, tmp_path, key):
    shutil.copytree(followed[0] / "out", tmp_path / "out")

    def wrong(said):
        said["nest"]["from_plan"][key] += 1

    bend(tmp_path / "out", wrong)
    found = check_folder(tmp_path / "out").found

    assert {each.kind for each in found} == {Kind.COUNT_WRONG}
    assert all("nest.from_plan" in each.where for each in found)


def test_a_mirrored_job_follows_its_former_plan(tmp_path):
    """Places are those of the printed side, mirrored then as now."""
    job = write_small_job(tmp_path / "job")
    changed(job, "gutter_mm", "mirrored = true\ngutter_mm")
    former = plan(job, tmp_path / "former")
    changed(job, "gutter_mm", 'from_plan = "../former"\ngutter_mm')
    changed(job, "quantity = 8", "quantity = 7")

    said = plan(job, tmp_path / "out")

    assert said["nest"]["from_plan"]["stayed"] == 13
    assert places(said) <= places(former)
    assert all(p["mirrored"] for frame in said["frames"] for p in frame["placements"])
    assert check_folder(tmp_path / "out").found == ()
