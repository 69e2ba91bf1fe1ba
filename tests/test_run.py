"""The whole run through the command line: planned, checked, repeated, interrupted, priced."""

import json
import os
import signal
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import pytest
from click.testing import CliRunner

import nestplan.nest.divide as divide
from nestplan.cli import main
from tests.small_job import changed, write_small_job

CONTRACT = ["summary.json", "print.pdf", "proof.pdf", "cut-01.svg"]


def invoke(*words: object) -> "object":
    """One command, in this process."""
    return CliRunner().invoke(main, [str(word) for word in words])


def on_disk(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@pytest.fixture(scope="module")
def planned(tmp_path_factory) -> Path:
    """The small job, planned once."""
    folder = tmp_path_factory.mktemp("small")
    job = write_small_job(folder / "job")
    result = invoke("plan", job, "--out", folder / "out", "--steps", 200)
    assert result.exit_code == 0, result.output
    return folder


def test_a_plan_leaves_the_files_of_the_contract(planned):
    assert set(CONTRACT) <= set(on_disk(planned / "out"))


def test_the_check_finds_nothing_against_a_fresh_plan(planned):
    result = invoke("check", planned / "out")

    assert result.exit_code == 0, result.output
    assert "nothing was found" in result.output


def test_every_copy_ordered_is_planned_and_the_bound_is_no_longer_than_the_nest(planned):
    said = json.loads((planned / "out/summary.json").read_text())

    placed = [p for frame in said["frames"] for p in frame["placements"]]
    assert len({(p["decal"], p["copy"]) for p in placed}) == 8 + 6 == said["nest"]["copies"]
    assert 0 < said["nest"]["bound_mm"] <= said["nest"]["length_mm"]


def test_json_prints_the_summary_and_nothing_else(planned):
    result = invoke(
        "plan", planned / "job/job.toml", "--out", planned / "again", "--steps", 200, "--json"
    )

    assert json.loads(result.stdout) == json.loads((planned / "out/summary.json").read_text())


def test_the_same_job_seed_and_steps_give_the_same_bytes_in_another_process(planned):
    """While this process keeps a core busy."""
    command = [sys.executable, "-m", "nestplan", "plan", str(planned / "job/job.toml")]
    command += ["--out", str(planned / "other"), "--steps", "200"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        while process.poll() is None:
            sum(k * k for k in range(100_000))
    assert process.returncode == 0

    assert on_disk(planned / "other") == on_disk(planned / "out")


def test_another_seed_is_another_plan_and_still_checks(planned):
    out = planned / "seed"
    invoke("plan", planned / "job/job.toml", "--out", out, "--steps", 200, "--seed", 5)

    assert invoke("check", out).exit_code == 0


def test_no_wall_time_and_no_path_of_this_machine_is_written(planned):
    for name, content in on_disk(planned / "out").items():
        assert str(planned).encode() not in content, name


def test_ctrl_c_finishes_the_plan_with_the_best_so_far(tmp_path, monkeypatch):
    job = write_small_job(tmp_path / "job")
    race = divide.race

    def interrupted(*words: object) -> object:
        if not tried:
            tried.append(True)
            os.kill(os.getpid(), signal.SIGINT)
        return race(*words)

    tried: list[bool] = []
    monkeypatch.setattr(divide, "race", interrupted)
    result = invoke("plan", job, "--out", tmp_path / "out", "--steps", 1_000_000)

    assert result.exit_code == 1, result.output
    assert "interrupted" in result.stdout
    assert invoke("check", tmp_path / "out").exit_code == 0


class _Interrupting:
    """A Ctrl-C while a room is loaded."""

    def __init__(self, room: str) -> None:
        self.room = room

    def find_spec(self, name: str, *_: object) -> None:
        if name == self.room:
            raise KeyboardInterrupt


def test_ctrl_c_before_the_search_writes_nothing_and_says_so(tmp_path, monkeypatch):
    job = write_small_job(tmp_path / "job")
    monkeypatch.delitem(sys.modules, "nestplan.plan", raising=False)
    monkeypatch.setattr(sys, "meta_path", [_Interrupting("nestplan.plan"), *sys.meta_path])
    result = invoke("plan", job, "--out", tmp_path / "out")

    assert result.exit_code == 3, result.output
    assert "nothing was written" in result.output
    assert not (tmp_path / "out").exists()


def test_a_second_ctrl_c_leaves_the_old_files(tmp_path, monkeypatch):
    job = write_small_job(tmp_path / "job")
    (tmp_path / "out").mkdir()
    (tmp_path / "out/print.pdf").write_bytes(b"yesterday")

    def interrupted(*words: object) -> object:
        os.kill(os.getpid(), signal.SIGINT)
        os.kill(os.getpid(), signal.SIGINT)

    monkeypatch.setattr(divide, "race", interrupted)
    result = invoke("plan", job, "--out", tmp_path / "out")

    assert result.exit_code == 3, result.output
    assert on_disk(tmp_path / "out") == {"print.pdf": b"yesterday"}


def test_ctrl_c_while_files_are_written_leaves_the_old_files(tmp_path, monkeypatch):
    job = write_small_job(tmp_path / "job")
    (tmp_path / "out").mkdir()
    (tmp_path / "out/print.pdf").write_bytes(b"yesterday")
    fsync = os.fsync

    def interrupted(handle: int) -> None:
        os.kill(os.getpid(), signal.SIGINT)
        fsync(handle)

    monkeypatch.setattr(os, "fsync", interrupted)
    result = invoke("plan", job, "--out", tmp_path / "out", "--steps", 50)

    assert result.exit_code == 3, result.output
    assert on_disk(tmp_path / "out") == {"print.pdf": b"yesterday"}


def test_seconds_are_a_ceiling_and_leave_a_note(tmp_path):
    job = write_small_job(tmp_path / "job")

    result = invoke(
        "plan", job, "--out", tmp_path / "out", "--steps", 900_000_000, "--seconds", 0.5, "--json"
    )

    assert result.exit_code == 0, result.output
    notes = json.loads(result.stdout)["notes"]
    assert any("--seconds 0.5" in note["text"] for note in notes)


def test_a_run_longer_than_a_frame_is_split_and_checks(tmp_path):
    job = write_small_job(tmp_path / "job")
    changed(tmp_path / "job/shop.toml", "frame_greatest_mm = 1200", "frame_greatest_mm = 260")
    changed(job, "quantity = 8", "quantity = 26")

    result = invoke("plan", job, "--out", tmp_path / "out", "--steps", 100, "--json")

    assert result.exit_code == 0, result.output
    frames = json.loads(result.stdout)["frames"]
    assert len(frames) >= 2
    assert all(frame["length_mm"] <= 260 + 1e-6 for frame in frames)
    assert invoke("check", tmp_path / "out").exit_code == 0


def test_init_writes_a_job_that_plans_as_it_is_and_never_overwrites(tmp_path):
    assert invoke("init", tmp_path / "new").exit_code == 0

    result = invoke("plan", tmp_path / "new/job.toml", "--out", tmp_path / "out", "--steps", 100)
    assert result.exit_code in (0, 1), result.output
    assert invoke("check", tmp_path / "out").exit_code == 0

    before = on_disk_all(tmp_path / "new")
    assert invoke("init", tmp_path / "new").exit_code != 0
    assert on_disk_all(tmp_path / "new") == before


def on_disk_all(folder: Path) -> dict[str, bytes]:
    return {str(p): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_more_copies_cost_more_in_all_and_less_each(planned):
    result = invoke(
        "price", planned / "job/job.toml", "--quantities", "4,16,64", "--steps", 50, "--json"
    )

    assert result.exit_code == 0, result.output
    prices = json.loads(result.stdout)["prices"]
    totals = [Decimal(price["total"]) for price in prices]
    each = [Decimal(price["per_decal"]) for price in prices]
    assert totals == sorted(totals)
    assert each == sorted(each, reverse=True)
    for price in prices:
        parts = [Decimal(price[key]) for key in ("film", "ink", "labour", "machine")]
        assert sum(parts) == Decimal(price["total"])


@pytest.mark.parametrize("quantities", ["0", "4,,5", "ten", "1.5", "999999999"])
def test_a_quantity_that_is_none_is_named(planned, quantities):
    result = invoke("price", planned / "job/job.toml", "--quantities", quantities)

    assert result.exit_code == 2
    assert "is not a quantity" in result.stderr


def test_help_imports_nothing_heavy():
    """So that it answers at once."""
    code = (
        "import sys; from nestplan.cli import main\n"
        "heavy = {'numpy', 'shapely', 'numba', 'reportlab', 'pydantic', 'pikepdf', 'lxml'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert done.stdout.strip() == "[]"
