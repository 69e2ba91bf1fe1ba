"""Files that cannot be read at all: one fault each, wherever the trouble is."""

import os

import pytest

from nestplan.faults import WRONG_INPUT
from nestplan.job import read_job
from tests.job.sample import JOB, SHOP, changed, faults_in, only_fault, write


def test_a_missing_job_names_the_nearest_file(tmp_path):
    write(tmp_path)
    fault = only_fault(tmp_path / "regata.toml")

    assert fault.what == f"there is no job file '{tmp_path}/regata.toml'"
    assert fault.where == f"{tmp_path}/regata.toml"
    assert fault.do == "correct the path; the nearest there is regatta.toml"
    assert fault.code == WRONG_INPUT


def test_a_missing_job_in_an_empty_folder_names_a_way_to_start(tmp_path):
    assert "nestplan init" in only_fault(tmp_path / "none" / "job.toml").do


def test_a_folder_is_no_job(tmp_path):
    write(tmp_path)
    fault = only_fault(tmp_path)

    assert fault.what == f"'{tmp_path}' is a folder, not a job file"
    assert fault.do == "name the file in it: regatta.toml, shop.toml"


def test_a_missing_shop_is_a_fault_of_the_jobs_key(tmp_path):
    path = write(tmp_path, changed(JOB, "shop.toml", "shp.toml"))
    fault = only_fault(path)

    assert fault.what == f"there is no shop file '{tmp_path}/shp.toml'"
    assert fault.where == "regatta.toml, shop"
    assert fault.do == "correct the path; the nearest there is shop.toml"


def test_faults_of_the_job_are_told_even_without_its_shop(tmp_path):
    path = write(tmp_path, changed(changed(JOB, "shop.toml", "none.toml"), "= 96", "= 0"))

    assert [f.where for f in faults_in(path)] == [
        'regatta.toml, [[decal]] 1 "berth plate", quantity',
        "regatta.toml, shop",
    ]


def test_a_shop_given_for_a_job_is_recognised(tmp_path):
    write(tmp_path)
    fault = only_fault(tmp_path / "shop.toml")

    assert fault.what == "this is a shop file, not a job file: it has [[machine]]"


def test_a_job_given_for_a_shop_is_recognised(tmp_path):
    fault = only_fault(write(tmp_path, changed(JOB, "shop.toml", "regatta.toml")))

    assert fault.what == "this is a job file, not a shop file: it has [[decal]]"


def test_a_file_that_is_not_utf_8_is_told_by_its_line(tmp_path):
    path = write(tmp_path)
    path.write_bytes(JOB.replace("berth plate", "berth café").encode("latin-1"))
    fault = only_fault(path)

    assert fault.what == "the file is not UTF-8 text: byte 0xe9 in line 8"
    assert fault.where == f"{path}, line 8"


def test_two_megabytes_are_the_most(tmp_path):
    path = write(tmp_path)
    path.write_text(JOB + "#" * (2_000_000 - len(JOB)))
    assert faults_in(path) == []
    path.write_text(JOB + "#" * (2_000_001 - len(JOB)))

    assert only_fault(path).what == "the file is larger than 2 MB"


def test_what_is_no_regular_file_is_not_waited_for(tmp_path):
    path = tmp_path / "regatta.toml"
    os.mkfifo(path)

    assert only_fault(path).what == f"'{path}' is no regular file"


def test_a_disk_that_fails_is_a_fault(tmp_path, monkeypatch):
    path = write(tmp_path)

    def opened(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("pathlib.Path.open", opened)
    assert only_fault(path).what == f"'{path}' cannot be read: Permission denied"


@pytest.mark.parametrize(
    ("old", "new", "place", "do"),
    [
        ("gutter_mm = 4.0", "gutter_mm = 4,0", "line 5, column 14", "write a point, not a comma"),
        ('= "harbour regatta"', "= harbour regatta", "line 1, column 8", '"harbour regatta"'),
        ('"pair"', '"pair', "line 4, column 14", "a line is: key = value"),
        ('"pair"', 'A\x1f "pair"', "line 4, column 9", "text stands in quotes"),
        ("quantity = 96", "quantity 96", "line 10, column 10", "a line is: key = value"),
        ("quantity = 96", "quantity = 96.", "line 10, column 14", "both sides of its point"),
        ("quantity = 96", "quantity = 96\nquantity = 3", "line 11, column 13", "delete one"),
        ("[[decal]]", "[[decal]", "line 7, column 8", "[[double]] brackets"),
        ("= 96", "= 1e99999999999999999999", "", "fewer digits"),
        ("= 96", "= " + 5000 * "9", "", "fewer digits"),
        ("= 96", "= " + 100_000 * "[", "", "write it anew"),
    ],
)
def test_what_is_no_toml_is_told_by_line_and_column(tmp_path, old, new, place, do):
    path = write(tmp_path, changed(JOB, old, new))
    fault = only_fault(path)

    assert fault.where == (f"{path}, {place}" if place else str(path))
    assert do in fault.do


def test_the_message_shows_the_line(tmp_path):
    path = write(tmp_path, changed(JOB, "gutter_mm = 4.0", "gutter_mm = 4,0"))

    assert str(only_fault(path)) == (
        "this is not TOML: expected newline or end of document after a statement in "
        "'gutter_mm = 4,0'\n"
        f"  where  {path}, line 5, column 14\n"
        "  do     write a point, not a comma, before decimals"
    )


def test_a_shop_that_is_no_toml_is_told_by_its_own_path(tmp_path):
    path = write(tmp_path, shop=changed(SHOP, "left_m = 38.5", "left_m = 38,5"))

    assert only_fault(path).where == f"{tmp_path}/shop.toml, line 4, column 12"


@pytest.mark.parametrize("name", ["a\0b.toml", "a" * 300 + ".toml", "loop.toml"])
def test_a_path_that_leads_nowhere_is_a_fault(tmp_path, name):
    if name == "loop.toml":
        (tmp_path / name).symlink_to(name)

    assert only_fault(tmp_path / name).code == WRONG_INPUT


def test_an_empty_file_lacks_everything(tmp_path):
    path = write(tmp_path, job="")

    assert [fault.what for fault in faults_in(path)] == [
        "name is missing",
        "shop is missing",
        "roll is missing",
        "setup is missing",
        "[[decal]] is missing",
    ]


def test_reading_says_nothing_and_writes_nothing(tmp_path, capsys):
    path = write(tmp_path)
    before = sorted(tmp_path.iterdir())
    read_job(path)

    assert capsys.readouterr() == ("", "")
    assert sorted(tmp_path.iterdir()) == before
