"""Files are written together or not at all, whatever fails and whenever."""

import errno
import json
import os
from pathlib import Path

import pytest

from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.files import write_new, write_together

SUMMARY = "summary.json"
OLD = {
    "print.pdf": b"old print",
    "cut-01.svg": b"old cut 1",
    "cut-02.svg": b"old cut 2",
    "cut-03.svg": b"old cut 3",
}
OLD[SUMMARY] = json.dumps({"files": dict.fromkeys(OLD, "a digest")}).encode()
NEW = {
    SUMMARY: b'{"files": {"print.pdf": "-", "cut-01.svg": "-"}}',
    "print.pdf": b"new print, longer",
    "cut-01.svg": b"new cut 1",
}
FULL = OSError(errno.ENOSPC, "No space left on device")


def on_disk(folder: Path) -> dict[str, bytes]:
    """Everything in the folder, hidden leftovers too."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def fail_at(monkeypatch, owner, name: str, fails_at: int, trouble: BaseException) -> list[int]:
    """Let the n-th call of an operation fail; the list counts the calls."""
    real, calls = getattr(owner, name), [0]

    def counted(*args, **kwargs):
        calls[0] += 1
        if calls[0] == fails_at:
            raise trouble
        return real(*args, **kwargs)

    monkeypatch.setattr(owner, name, counted)
    return calls


def test_the_new_files_replace_the_old_ones_and_stale_ones_are_gone(tmp_path):
    write_together(tmp_path, OLD)
    (tmp_path / "note.txt").write_bytes(b"somebody's own")

    write_together(tmp_path, NEW)

    assert on_disk(tmp_path) == NEW | {"note.txt": b"somebody's own"}


def test_the_summary_is_moved_into_place_last(tmp_path, monkeypatch):
    seen, real = [], os.replace
    monkeypatch.setattr(os, "replace", lambda a, b: (seen.append(Path(b).name), real(a, b)))

    places = write_together(tmp_path / "out", NEW)

    assert seen == ["print.pdf", "cut-01.svg", SUMMARY]
    assert [place.name for place in places] == seen


def test_every_file_is_flushed_before_the_first_is_moved(tmp_path, monkeypatch):
    seen, flush, move = [], os.fsync, os.replace
    monkeypatch.setattr(os, "fsync", lambda f: (seen.append("flush"), flush(f)))
    monkeypatch.setattr(os, "replace", lambda a, b: (seen.append("move"), move(a, b)))

    write_together(tmp_path, NEW)

    assert seen[:6] == ["flush"] * 3 + ["move"] * 3


@pytest.mark.parametrize("trouble", [FULL, KeyboardInterrupt()], ids=["full disk", "Ctrl-C"])
@pytest.mark.parametrize(
    ("owner", "operation"), [(os, "fsync"), (os, "replace"), (Path, "open"), (os, "unlink")]
)
def test_whatever_fails_first_the_last_good_files_stay(
    tmp_path_factory, monkeypatch, owner, operation, trouble
):
    """The n-th call fails, n = 1, 2, 3 ..., until a run ends well; then the new files are there."""
    for n in range(1, 100):
        folder = tmp_path_factory.mktemp("out")
        write_together(folder, OLD)
        with monkeypatch.context() as patch:
            calls = fail_at(patch, owner, operation, n, trouble)
            try:
                write_together(folder, NEW)
            except (Fault, KeyboardInterrupt) as told:
                assert on_disk(folder) == OLD, f"call {n} of {operation}"
                assert isinstance(told, Fault) == isinstance(trouble, OSError)
                continue
        left = {name: data for name, data in on_disk(folder).items() if not name.startswith(".")}
        assert left == NEW
        if calls[0] < n:
            break
    else:
        pytest.fail("no run ended well")
    assert n > 1, "the operation is used at all"


def test_a_write_that_stops_half_way_leaves_the_last_good_files(tmp_path, monkeypatch):
    write_together(tmp_path, OLD)
    fail_at(monkeypatch, os, "fsync", 2, FULL)

    with pytest.raises(Fault) as told:
        write_together(tmp_path, NEW)

    assert told.value.code == OUT_OF_REACH
    assert "no space left" in told.value.what
    assert "free at least" in told.value.do
    assert on_disk(tmp_path) == OLD


def test_a_folder_that_was_not_there_is_not_left_behind(tmp_path, monkeypatch):
    fail_at(monkeypatch, os, "replace", 3, FULL)

    with pytest.raises(Fault):
        write_together(tmp_path / "deep" / "out", NEW)

    assert list(tmp_path.iterdir()) == []


def test_a_disk_that_refuses_to_put_back_says_where_the_old_files_are(tmp_path, monkeypatch):
    write_together(tmp_path, OLD)
    real, calls = os.replace, [0]

    def only_four(a, b):
        calls[0] += 1
        if calls[0] > 4:
            raise OSError(errno.EIO, "Input/output error")
        real(a, b)

    monkeypatch.setattr(os, "replace", only_four)
    with pytest.raises(Fault) as told:
        write_together(tmp_path, NEW)

    kept = on_disk(tmp_path)
    assert "not be put back" in told.value.what
    for name, data in OLD.items():
        assert data in (kept.get(name), kept.get(f".{name}.old")), name


def test_files_left_aside_by_a_power_cut_come_back_when_the_next_run_fails(tmp_path, monkeypatch):
    write_together(tmp_path, OLD)
    (tmp_path / "print.pdf").rename(tmp_path / ".print.pdf.old")
    (tmp_path / ".print.pdf.part").write_bytes(b"half a pri")
    fail_at(monkeypatch, os, "fsync", 1, FULL)

    with pytest.raises(Fault):
        write_together(tmp_path, NEW)

    assert on_disk(tmp_path) == OLD


def out_is_a_file(tmp_path: Path) -> Path:
    (tmp_path / "out").write_bytes(b"a letter")
    return tmp_path / "out"


def out_is_below_a_file(tmp_path: Path) -> Path:
    return out_is_a_file(tmp_path) / "plans"


def a_file_is_a_folder(tmp_path: Path) -> Path:
    (tmp_path / "out" / "print.pdf").mkdir(parents=True)
    return tmp_path / "out"


def the_name_is_too_long(tmp_path: Path) -> Path:
    return tmp_path / ("n" * 300)


@pytest.mark.parametrize(
    "case", [out_is_a_file, out_is_below_a_file, a_file_is_a_folder, the_name_is_too_long]
)
def test_a_folder_that_cannot_be_written_is_one_clear_fault(tmp_path, case):
    folder = case(tmp_path)
    before = on_disk(tmp_path)

    with pytest.raises(Fault) as told:
        write_together(folder, NEW)

    assert told.value.code == OUT_OF_REACH
    assert "choose" in told.value.do
    assert on_disk(tmp_path) == before


def test_a_folder_without_the_right_to_write_is_one_clear_fault(tmp_path, monkeypatch):
    """The refusal is made up, for a superuser may write anywhere."""
    write_together(tmp_path, OLD)
    refused = PermissionError(errno.EACCES, "Permission denied", str(tmp_path / ".print.pdf.part"))
    fail_at(monkeypatch, Path, "open", 1, refused)

    with pytest.raises(Fault) as told:
        write_together(tmp_path, NEW)

    assert told.value.code == OUT_OF_REACH
    assert told.value.where.endswith(".print.pdf.part")
    assert "may write" in told.value.do
    assert on_disk(tmp_path) == OLD


@pytest.mark.parametrize(
    "summary",
    [b"no json", b"[]", b'{"files": 3}', b"\xff\xfe", b'{"files": {"../private.txt": "-"}}'],
    ids=["not json", "a list", "no names", "not text", "a path upward"],
)
def test_a_strange_summary_before_deletes_nothing(tmp_path, summary):
    (tmp_path / "private.txt").write_bytes(b"mine")
    folder = tmp_path / "out"
    write_together(folder, {"cut-01.svg": b"old", SUMMARY: summary})

    write_together(folder, {SUMMARY: json.dumps({"files": {}}).encode()})

    assert (tmp_path / "private.txt").read_bytes() == b"mine"
    assert (folder / "cut-01.svg").read_bytes() == b"old"


def test_new_files_may_lie_in_folders(tmp_path):
    files = {"art/berth.svg": b"<svg/>", "job.toml": b"name = 'x'"}

    write_new(tmp_path / "new", files)

    assert on_disk(tmp_path / "new") == files


def test_new_files_never_overwrite(tmp_path):
    (tmp_path / "shop.toml").write_bytes(b"ours for years")

    with pytest.raises(Fault) as told:
        write_new(tmp_path, {"job.toml": b"new", "shop.toml": b"new"})

    assert told.value.what.startswith("shop.toml is already there")
    assert on_disk(tmp_path) == {"shop.toml": b"ours for years"}
