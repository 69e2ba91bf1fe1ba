"""The stock file in trouble: each is named, and nothing is half written."""

import os
import sqlite3
import subprocess
import sys
import threading

import pytest

from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.stock import enter, open_book, runs, store
from nestplan.stock.tables import APPLICATION
from tests.bench import stock as bench
from tests.stock.shop import AT, on_shelf, roll, run_of


def test_a_file_that_another_desk_holds_is_waited_for_and_then_named(tmp_path):
    path = tmp_path / "stock.sqlite"
    roll(path, 10)
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")

    with (
        pytest.raises(Fault, match="another desk holds") as caught,
        store.writing(path, patience_s=0.05),
    ):
        raise AssertionError("it is held")

    assert caught.value.code == OUT_OF_REACH
    assert "nothing was booked" in caught.value.do
    other.close()


def test_a_desk_that_lets_go_in_time_is_only_waited_for(tmp_path):
    path = tmp_path / "stock.sqlite"
    roll(path, 10)
    other = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    other.execute("BEGIN IMMEDIATE")
    letting_go = threading.Timer(0.2, other.rollback)
    letting_go.start()

    enter.use(path, "P1", 1, reason="", at=AT)

    letting_go.join()
    other.close()
    assert on_shelf(path).left_um == 9_000_000


@pytest.mark.parametrize("damage", ["text", "torn", "scribbled"])
def test_a_damaged_file_is_named(tmp_path, damage):
    path = tmp_path / "stock.sqlite"
    for _ in range(40):
        roll(path, 10)
    data = path.read_bytes()
    middle = len(data) // 2
    path.write_bytes(
        {
            "text": b"rolls: two\n" * 400,
            "torn": data[:middle],
            "scribbled": data[:4096] + os.urandom(len(data) - 4096),
        }[damage]
    )

    with pytest.raises(Fault, match="damaged") as caught:
        open_book(path)
    assert caught.value.code == OUT_OF_REACH
    with pytest.raises(Fault, match="damaged"):
        enter.use(path, "P1", 1, reason="", at=AT)


@pytest.mark.parametrize(
    ("pragma", "says"),
    [
        ("PRAGMA user_version = 7", "has version 7, this nestplan knows 1"),
        ("PRAGMA application_id = 5", "a database of another program"),
    ],
)
def test_files_of_others_and_of_later_versions_are_named(tmp_path, pragma, says):
    path = tmp_path / "stock.sqlite"
    roll(path, 10)
    with sqlite3.connect(path) as db:
        db.execute(pragma)
    db.close()

    for look in (lambda: open_book(path), lambda: roll(path, 5)):
        with pytest.raises(Fault, match=says):
            look()


def test_an_empty_file_is_begun_anew_only_by_what_adds(tmp_path):
    """A desk that was killed while it began the stock may leave one."""
    path = tmp_path / "stock.sqlite"
    path.touch()

    with pytest.raises(Fault, match="is empty"):
        open_book(path)
    roll(path, 10)

    assert on_shelf(path).left_um == 10_000_000


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_file_that_cannot_be_written_is_named_and_can_be_read(tmp_path):
    path = tmp_path / "stock.sqlite"
    roll(path, 10)
    path.chmod(0o444)
    tmp_path.chmod(0o555)

    assert on_shelf(path).left_um == 10_000_000
    with pytest.raises(Fault, match="cannot be written"):
        enter.use(path, "P1", 1, reason="", at=AT)
    tmp_path.chmod(0o755)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ("UPDATE movement SET length_um = 1", "never changed"),
        ("DELETE FROM movement", "never struck out"),
        (
            "INSERT INTO movement (at, kind, source, target, length_um, reason) "
            "VALUES ('', 'use', 'P1', 'hand', 10000001, '')",
            "more film than is left",
        ),
        (
            "INSERT INTO movement (at, kind, source, target, length_um, reason) "
            "VALUES ('', 'use', 'P1', 'hand', 1.5, '')",
            "CHECK",
        ),
        (
            "INSERT INTO movement (at, kind, source, target, length_um, reason, once) "
            "VALUES ('', 'run', 'P1', 'run', 1, '', 'run aa P1')",
            "UNIQUE",
        ),
        (
            "INSERT INTO reservation (plan, piece, length_um, job, place, at) "
            "VALUES ('bb', 'P1', 10000000, '', '', '')",
            "more film than is free",
        ),
    ],
)
def test_the_file_itself_refuses_what_must_not_be(tmp_path, change, says):
    """Whatever program writes to it."""
    path = tmp_path / "stock.sqlite"
    roll(path, 10.0)
    runs.commit(path, run_of("aa", 0.000001), at=AT)
    db = sqlite3.connect(path)

    with pytest.raises(sqlite3.IntegrityError, match=says):
        db.execute(change)
    db.close()


def test_a_book_that_was_tampered_with_does_not_add_up(tmp_path):
    path = tmp_path / "stock.sqlite"
    roll(path, 10)
    db = sqlite3.connect(path)
    db.execute("DROP TRIGGER movements_stay")
    db.execute("UPDATE movement SET source = 'hand'")
    db.commit()
    db.close()

    with pytest.raises(Fault, match="does not add up: movement 1, add, goes from hand to P1"):
        open_book(path)


def test_the_file_says_what_it_is(tmp_path):
    """For programs that tell files by their first bytes: SQLite file format 1.3.17."""
    path = tmp_path / "stock.sqlite"
    roll(path, 10)

    assert path.read_bytes()[68:72] == APPLICATION.to_bytes(4, "big")
    assert not path.with_name("stock.sqlite-wal").exists()  # shared memory a network lacks


def test_a_commit_that_is_killed_is_booked_whole_or_not_at_all_and_then_once(tmp_path):
    """The heavy form is in tests/bench/stock.py: every step, every call on the disk."""
    done = bench_run("--steps", "12")

    assert "'killed': 12" in done


def test_desks_at_once_lose_no_metre(tmp_path):
    done = bench_run("--desks", "4", "--orders", "6")

    assert "'desks': 4" in done


def bench_run(*options: str) -> str:
    """In a process of its own: it forks, which a process with threads should not."""
    done = subprocess.run(
        [sys.executable, "-m", bench.__name__, *options], capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    return done.stdout
