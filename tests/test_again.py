"""Spoiled copies printed once more, through all files, the check and the stock's book."""

import csv
import io
import json
import shutil
from pathlib import Path

import pytest

from nestplan.check import Kind, check_folder
from tests.check.edit import bend
from tests.small_job import changed, write_small_job
from tests.test_rows import DEMO
from tests.test_rows import small_job as numbered_job
from tests.test_stock import FILM, left, plan, run, said

SPOILED = "decal,copy,reason\nberth plate,3,edge lifted\nclub burgee,5,scratched\n"
SPOILED += "berth plate,7,edge lifted\n"


def summary_of(folder: Path) -> dict:
    return json.loads((folder / "summary.json").read_bytes())


def copies(summary: dict) -> dict[str, list[int]]:
    found: dict[str, list[int]] = {}
    for frame in summary["frames"]:
        for place in frame["placements"]:
            name = summary["decals"][place["decal"] - 1]["name"]
            found.setdefault(name, []).append(place["copy"])
    return {name: sorted(each) for name, each in found.items()}


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> Path:
    """The small job planned on a roll of the stock and booked, once for all tests."""
    folder = tmp_path_factory.mktemp("made")
    job = write_small_job(folder / "job")
    run("stock", "add", folder / "job/shop.toml", FILM, 20)
    plan(job, folder / "out", "--commit")
    return folder


@pytest.fixture
def tmp_path(tmp_path) -> Path:
    """Deep enough that no other test's job lies in a folder above a plan."""
    deeper = tmp_path / "shop" / "desk"
    deeper.mkdir(parents=True)
    return deeper


@pytest.fixture
def here(made, tmp_path) -> Path:
    """The same in a folder of its own."""
    folder = Path(shutil.copytree(made, tmp_path / "here"))
    (folder / "spoiled.csv").write_text(SPOILED)
    return folder


def again(here: Path, *more: object, table: str = "spoiled.csv", code: int = 0):
    words = ["again", here / "out", *([here / table] if table else []), "--out", here / "more"]
    return run(*words, "--steps", 60, *more, code=code)


def lost(here: Path) -> list[str]:
    words = run("stock", "list", here / "job/shop.toml", "P1").stdout
    return [line.split(")  ")[1] for line in words.splitlines() if " lost " in line]


def test_just_the_spoiled_copies_are_planned_with_their_numbers(here):
    again(here)
    summary = summary_of(here / "more")

    assert copies(summary) == {"berth plate": [3, 7], "club burgee": [5]}
    assert summary["again"] == {"plan": summary_of(here / "out")["plan"]}
    assert summary["job"] == "pier open day, again"
    assert [decal["ordered"] for decal in summary["decals"]] == [2, 1]
    assert check_folder(here / "more").found == ()


def test_the_loss_is_booked_once_with_its_reasons_however_often_it_is_told(here):
    used_m = summary_of(here / "out")["roll"]["length_used_mm"] / 1000
    before = left(here / "job/shop.toml")["P1"][0]
    again(here)
    again(here)

    assert lost(here) == [
        "edge lifted: berth plate 3, 7",
        "scratched: club burgee 5",
    ]
    assert left(here / "job/shop.toml")["P1"][0] == before  # the run itself was booked before
    assert before == pytest.approx(20 - used_m)


def test_a_plan_whose_copies_are_spoiled_was_printed_so_its_film_is_booked(tmp_path):
    job = write_small_job(tmp_path / "job")
    run("stock", "add", tmp_path / "job/shop.toml", FILM, 20)
    plan(job, tmp_path / "out")
    (tmp_path / "spoiled.csv").write_text(SPOILED)
    said_there = again(tmp_path).stdout

    assert "booked for the run itself" in said_there
    assert left(tmp_path / "job/shop.toml")["P1"][0] < 20


def test_what_is_printed_again_is_booked_once(here):
    again(here, "--commit")
    second = said("again", here / "out", here / "spoiled.csv", "--out", here / "more", "--commit")

    assert second["booked_before"]
    moves = said("stock", "list", here / "job/shop.toml", "P1")["movements"]
    assert [each["kind"] for each in moves] == ["add", "run", "run"]


def test_a_folder_with_the_plan_of_other_copies_is_not_booked_for_these(here):
    again(here)
    (here / "spoiled.csv").write_text("decal,copy,reason\nberth plate,1,wet\n")

    assert "not of these copies" in again(here, "--commit", code=2).stderr


def test_a_copy_spoiled_again_is_named_by_its_first_number(here):
    again(here)
    (here / "twice.csv").write_text("decal,copy,reason\nberth plate,7,wet\n")
    words = ["again", here / "more", here / "twice.csv", "--out", here / "third", "--steps", 60]
    run(*words)

    assert copies(summary_of(here / "third")) == {"berth plate": [7]}
    assert summary_of(here / "third")["job"] == "pier open day, again"
    (here / "twice.csv").write_text("decal,copy,reason\nberth plate,6,wet\n")
    assert "no copy '6' of berth plate" in run(*words, code=2).stderr


def test_a_print_that_broke_off_is_finished_and_the_film_behind_it_is_back(here):
    """All of the frame is spoiled or missing, for its marks at the far end are."""
    used = summary_of(here / "out")["roll"]["length_used_mm"]
    again(here, "--broken", 125, table="")

    assert copies(summary_of(here / "more")) == copies(summary_of(here / "out"))
    tail = 40.0
    assert left(here / "job/shop.toml")["P1"][0] == pytest.approx(20 - (125 + tail) / 1000)
    moves = said("stock", "list", here / "job/shop.toml", "P1")["movements"]
    assert [each["kind"] for each in moves] == ["add", "run", "back"]
    assert moves[-1]["change_m"] == pytest.approx((used - 125 - tail) / 1000)
    lost_m = [
        float(line.split("(")[1].split(" m of")[0])
        for line in run("stock", "list", here / "job/shop.toml", "P1").stdout.splitlines()
        if " lost " in line
    ]
    assert len(lost_m) == 2  # cut across, and whole in a frame that cannot be read
    assert all(each > 0.01 for each in lost_m)
    assert sum(lost_m) == pytest.approx((125 + tail) / 1000, abs=0.002)
    assert check_folder(here / "more").found == ()


def test_whole_copies_that_can_be_cut_are_kept_where_somebody_says_so(here):
    """The first row of plates ends at 118.25 mm with its bleed, the rest lies across 125 mm."""
    again(here, "--broken", 125, "--keep-printed", table="")
    planned = copies(summary_of(here / "out"))

    assert copies(summary_of(here / "more")) == {
        "berth plate": [7, 8],
        "club burgee": planned["club burgee"],
    }


def test_spoiled_copies_may_start_on_the_remnant_that_is_named(here):
    run("stock", "cut", here / "job/shop.toml", "P1", 0.5, "--id", "offcut")
    again(here)
    assert summary_of(here / "more")["inputs"]["stock"]["piece"] == "offcut"  # the shortest

    again(here, "--piece", "P1")
    assert summary_of(here / "more")["inputs"]["stock"]["piece"] == "P1"


def test_they_may_start_on_film_that_is_not_whole(here):
    (here / "job/corner.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="600mm" height="300mm" '
        'viewBox="0 0 600 300"><path d="M0 0 H600 V180 L420 300 H0 Z"/></svg>'
    )
    again(here, "--start-on", "corner.svg")

    assert summary_of(here / "more")["start_on"]["end_mm"] == 300.0
    assert check_folder(here / "more").found == ()


def test_without_a_stock_copies_are_planned_and_the_loss_is_only_said(tmp_path):
    job = write_small_job(tmp_path / "job")
    plan(job, tmp_path / "out")
    (tmp_path / "spoiled.csv").write_text(SPOILED)

    assert "the loss is not booked" in again(tmp_path).stdout
    assert copies(summary_of(tmp_path / "more"))["berth plate"] == [3, 7]


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        ("berth plat,3,wet", "no decal 'berth plat'"),
        ("berth plate,9,wet", "no copy '9' of berth plate"),
        ("berth plate,0,wet", "no copy '0'"),
        ("berth plate,three,wet", "no copy 'three'"),
        ("berth plate,3,", "has no reason"),
        ("berth plate,3,wet\nberth plate,3,torn", "is spoiled twice: line 2 has it already"),
        ("berth plate,3", "has 2 values"),
    ],
)
def test_lines_that_cannot_be_are_named_and_nothing_is_booked(here, lines, says):
    (here / "spoiled.csv").write_text(f"decal,copy,reason\n{lines}\n")
    result = again(here, code=2)

    assert says in result.stderr
    assert "line 2" in result.stderr or "line 3" in result.stderr
    assert lost(here) == []
    assert not (here / "more").exists()


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((), "not said what was spoiled"),
        (("--broken", 5000), "cannot have broken off"),
        (("--took", 1), "nothing is booked without --commit"),
    ],
)
def test_options_that_cannot_be_are_named(here, words, says):
    assert says in again(here, *words, table="", code=2).stderr


def test_copies_are_kept_only_of_a_print_that_broke_off(here):
    assert "about a print that broke off" in again(here, "--keep-printed", code=2).stderr


def test_the_printed_plan_is_never_overwritten(here):
    result = run("again", here / "out", here / "spoiled.csv", "--out", here / "out", code=2)

    assert "must stay as it is" in result.stderr


def test_art_that_changed_since_would_not_match_what_is_delivered(here):
    changed(here / "job/art/plate.svg", 'fill="#f2a33a"', 'fill="#ffffff"')
    result = again(here, code=2)

    assert "art/plate.svg has changed" in result.stderr
    assert lost(here) == []


def test_a_size_that_changed_since_is_named(here):
    changed(here / "job/job.toml", "quantity = 8", "quantity = 8\nwidth_mm = 80")

    assert "its contour was another" in again(here, code=2).stderr


def test_a_job_that_lies_elsewhere_is_asked_for(here, tmp_path):
    far = tmp_path / "far/a/b/c"
    far.mkdir(parents=True)
    shutil.move(here / "out", far / "out")
    words = ["again", far / "out", here / "spoiled.csv", "--out", far / "more", "--steps", 60]

    assert "--job JOB.toml" in run(*words, code=2).stderr
    run(*words, "--job", here / "job/job.toml")
    assert copies(summary_of(far / "more"))["club burgee"] == [5]


@pytest.mark.parametrize(
    ("change", "kind"),
    [
        (lambda said: said["decals"][0].update(numbers=[3, 6]), Kind.COUNT_WRONG),
        (lambda said: said["decals"][0].pop("numbers"), Kind.NOT_ORDERED),
    ],
)
def test_the_check_holds_copies_against_the_numbers_that_are_wanted(here, change, kind):
    again(here)
    bend(here / "more", change)

    assert kind in {each.kind for each in check_folder(here / "more").found}


def test_numbered_copies_say_again_what_their_rows_say(tmp_path):
    """The rows of the demo job of bow numbers, read off the new print by the check."""
    job = numbered_job(tmp_path)
    plan(job / "numbers.toml", tmp_path / "out")
    table = "decal;copy;reason\nbow number;6;torn\nbow number;2;torn\nharbour pass;4;wet\n"
    (tmp_path / "spoiled.csv").write_text(table)
    run(
        "again", tmp_path / "out", tmp_path / "spoiled.csv", "--out", tmp_path / "more",
        "--steps", 60, "--job", job / "numbers.toml",
    )  # fmt: skip
    summary = summary_of(tmp_path / "more")
    places = [p for f in summary["frames"] for p in f["placements"] if p["decal"] == 1]
    text = (DEMO / "numbers" / "boats.csv").read_text(encoding="utf-8")
    boats = [row["boat"] for row in csv.DictReader(io.StringIO(text))]
    findings = check_folder(tmp_path / "more")

    assert sorted(p["row"] for p in places) == [2, 6]
    assert summary["decals"][0]["rows"][5]["boat"] == boats[5]
    assert findings.found == ()
    assert "2 copies can be read: each says what its row says" in findings.holds
