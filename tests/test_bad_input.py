"""Bad input: one clear error each, the contract's exit code, no traceback, old files untouched."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from nestplan.cli import main
from tests.small_job import changed, write_small_job

WRONG, CANNOT = 2, 3


def spoil(file: str, old: str, new: str) -> Callable[[Path], None]:
    """A change of one passage in one file of the small job."""
    return lambda folder: changed(folder / file, old, new)


def replaced(file: str, content: bytes) -> Callable[[Path], None]:
    """Another content for one file of the small job."""
    return lambda folder: (folder / file).write_bytes(content) and None


def svg(inner: str, head: str = "") -> bytes:
    """A drawing of 88 by 58 mm."""
    return (
        f'{head}<svg xmlns="http://www.w3.org/2000/svg" '
        'xmlns:xlink="http://www.w3.org/1999/xlink" width="88mm" height="58mm" '
        f'viewBox="0 0 88 58">{inner}</svg>'
    ).encode()


OUTLINE = '<path id="outline" d="M4 4 H81 V54 H4 Z" fill="none" stroke="#d0006f"/>'
BOMB = (
    '<!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">'
    '<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]>'
)

CASES: dict[str, tuple[Callable[[Path], object], int, str]] = {
    "artwork is missing": (
        lambda folder: (folder / "art/burgee.svg").unlink(),
        WRONG,
        "burgee.svg",
    ),
    "artwork is a folder": (
        lambda folder: ((folder / "art/burgee.svg").unlink(), (folder / "art/burgee.svg").mkdir()),
        WRONG,
        "burgee.svg",
    ),
    "artwork is no drawing": (
        replaced("art/burgee.svg", b"\x00\x01\x02 not a drawing"),
        WRONG,
        "burgee.svg",
    ),
    "artwork ends in the middle": (
        replaced("art/burgee.svg", b'<svg xmlns="http://www.w3.org/2000/svg" width="9mm"><g>'),
        WRONG,
        "burgee.svg",
    ),
    "the layer does not exist": (
        spoil("job.toml", "layer:outline", "layer:outlime"),
        WRONG,
        "outline",
    ),
    "the contour is open": (
        replaced("art/burgee.svg", svg('<path id="outline" d="M4 4 H81 V54" stroke="#000"/>')),
        WRONG,
        "open",
    ),
    "the contour crosses itself": (
        replaced("art/burgee.svg", svg('<path id="outline" d="M4 4 L81 54 H4 L81 4 Z"/>')),
        WRONG,
        "cross",
    ),
    "the contour has no area": (
        replaced("art/burgee.svg", svg('<path id="outline" d="M4 4 H81 H4 Z"/>')),
        WRONG,
        "burgee",
    ),
    "a decal is wider than the web": (
        spoil("job.toml", "quantity = 6", "quantity = 6\nwidth_mm = 1200"),
        CANNOT,
        "club burgee",
    ),
    "the roll is too short": (spoil("shop.toml", "left_m = 20", "left_m = 0.2"), CANNOT, "0.2 m"),
    "a frame is longer than the cutter takes": (
        spoil("shop.toml", "frame_greatest_mm = 1200", "frame_greatest_mm = 60"),
        CANNOT,
        "frame",
    ),
    "the size is zero": (
        spoil("job.toml", "quantity = 6", "quantity = 6\nwidth_mm = 0"),
        WRONG,
        "width_mm",
    ),
    "the size is negative": (
        spoil("job.toml", "quantity = 6", "quantity = 6\nheight_mm = -4"),
        WRONG,
        "height_mm",
    ),
    "the size is infinite": (
        spoil("job.toml", "quantity = 6", "quantity = 6\nwidth_mm = inf"),
        WRONG,
        "width_mm",
    ),
    "the gutter is not a number": (
        spoil("job.toml", "gutter_mm = 4.0", "gutter_mm = nan"),
        WRONG,
        "gutter_mm",
    ),
    "the quantity is no whole number": (
        spoil("job.toml", "quantity = 6", "quantity = 6.5"),
        WRONG,
        "quantity",
    ),
    "the quantity is absurd": (
        spoil("job.toml", "quantity = 6", "quantity = 99999999999999999999"),
        WRONG,
        "quantity",
    ),
    "the quantity is none": (
        spoil("job.toml", "quantity = 6", "quantity = 0"),
        WRONG,
        "quantity",
    ),
    "a key is misspelt": (
        spoil("job.toml", "gutter_mm", "guter_mm"),
        WRONG,
        "gutter_mm",
    ),
    "the spacing is shorter than a mark": (
        spoil("shop.toml", "spacing_mm = 400", "spacing_mm = 10"),
        WRONG,
        "spacing_mm",
    ),
    "artwork lies outside the job's folder": (
        spoil("job.toml", "art/burgee.svg", "../burgee.svg"),
        WRONG,
        "folder",
    ),
    "artwork leads outside by a link": (
        lambda folder: (
            (folder / "art/burgee.svg").rename(folder.parent / "elsewhere.svg"),
            (folder / "art/burgee.svg").symlink_to(folder.parent / "elsewhere.svg"),
        ),
        WRONG,
        "folder",
    ),
    "the drawing asks the network": (
        replaced(
            "art/burgee.svg",
            svg(f'<image xlink:href="http://pier.invalid/a.png" width="9" height="9"/>{OUTLINE}'),
        ),
        WRONG,
        "image",
    ),
    "the drawing reads another file": (
        replaced("art/burgee.svg", svg(f'<use href="plate.svg#back"/>{OUTLINE}')),
        WRONG,
        "use",
    ),
    "the drawing is an entity bomb": (
        replaced("art/burgee.svg", svg(f"<desc>&c;</desc>{OUTLINE}", head=BOMB)),
        WRONG,
        "entit",
    ),
    "the drawing uses itself for ever": (
        replaced(
            "art/burgee.svg",
            svg(f'<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>{OUTLINE}'),
        ),
        WRONG,
        "use",
    ),
    "the former plan is missing": (
        spoil("job.toml", "gutter_mm", 'from_plan = "../nowhere"\ngutter_mm'),
        WRONG,
        "nowhere",
    ),
    "the former plan is a file": (
        spoil("job.toml", "gutter_mm", 'from_plan = "shop.toml"\ngutter_mm'),
        WRONG,
        "shop.toml",
    ),
    "the former plan's folder has no plan": (
        spoil("job.toml", "gutter_mm", 'from_plan = "art"\ngutter_mm'),
        WRONG,
        "summary.json",
    ),
    "the former plan's summary is empty": (
        spoil("job.toml", "gutter_mm", 'from_plan = "../out"\ngutter_mm'),
        WRONG,
        "from_plan",
    ),
    "the former plan's path cannot be": (
        spoil("job.toml", "gutter_mm", 'from_plan = "a\\u0000b"\ngutter_mm'),
        WRONG,
        "from_plan",
    ),
    "the remnant's drawing is missing": (
        spoil("job.toml", "gutter_mm", 'start_on = "art/corner.svg"\ngutter_mm'),
        WRONG,
        "corner.svg",
    ),
    "the remnant's drawing lies outside": (
        spoil("job.toml", "gutter_mm", 'start_on = "../corner.svg"\ngutter_mm'),
        WRONG,
        "start_on",
    ),
    "the remnant is a picture": (
        lambda folder: (
            (folder / "corner.png").write_bytes(b"no matter"),
            changed(folder / "job.toml", "gutter_mm", 'start_on = "corner.png"\ngutter_mm'),
        ),
        WRONG,
        ".svg",
    ),
    "the remnant is wider than the roll": (
        lambda folder: (
            (folder / "corner.svg").write_bytes(svg('<path d="M0 0 H88 V58 H0 Z"/>')),
            changed(folder / "job.toml", "gutter_mm", 'start_on = "corner.svg"\ngutter_mm'),
            changed(folder / "shop.toml", "width_mm = 600", "width_mm = 80"),
        ),
        CANNOT,
        "80.0 mm",
    ),
    "a remnant and a former plan stand together": (
        spoil("job.toml", "gutter_mm", 'start_on = "art/plate.svg"\nfrom_plan = "."\ngutter_mm'),
        WRONG,
        "start_on",
    ),
    "the shop file is missing": (
        lambda folder: (folder / "shop.toml").unlink(),
        WRONG,
        "shop.toml",
    ),
    "the job file is no TOML": (
        replaced("job.toml", b"name = harbour\n"),
        WRONG,
        "line 1",
    ),
}


@pytest.fixture
def yesterday(tmp_path: Path) -> dict[str, bytes]:
    """An output folder with files of an earlier plan."""
    out = tmp_path / "out"
    out.mkdir()
    files = {"summary.json": b"{}", "print.pdf": b"yesterday", "cut-01.svg": b"yesterday"}
    for name, content in files.items():
        (out / name).write_bytes(content)
    return files


@pytest.mark.parametrize("case", CASES)
def test_bad_input_is_one_clear_error(tmp_path, yesterday, case):
    spoiled, code, names = CASES[case]
    job = write_small_job(tmp_path / "job")
    spoiled(tmp_path / "job")

    result = CliRunner().invoke(
        main, ["plan", str(job), "--out", str(tmp_path / "out"), "--steps", "20"]
    )

    assert result.exit_code == code, result.output
    assert names in result.stderr
    assert "  where  " in result.stderr
    assert "  do     " in result.stderr
    assert "Traceback" not in result.output
    assert isinstance(result.exception, SystemExit)
    left = {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()}
    assert left == yesterday


def test_all_faults_of_both_files_come_at_once(tmp_path):
    job = write_small_job(tmp_path / "job")
    changed(job, "gutter_mm = 4.0", "gutter_mm = -4.0")
    changed(job, "quantity = 8", 'quantity = "eight"')
    changed(tmp_path / "job/shop.toml", "width_mm = 600", "width_mm = 0")

    result = CliRunner().invoke(main, ["plan", str(job), "--out", str(tmp_path / "out")])

    assert result.exit_code == WRONG
    for key in ("gutter_mm", "quantity", "width_mm"):
        assert key in result.stderr


def test_an_output_folder_that_cannot_be_made_is_exit_3(tmp_path):
    job = write_small_job(tmp_path / "job")
    (tmp_path / "out").write_text("a file stands where the folder should be")

    result = CliRunner().invoke(
        main, ["plan", str(job), "--out", str(tmp_path / "out"), "--steps", "20"]
    )

    assert result.exit_code == CANNOT, result.output
    assert (tmp_path / "out").read_text().startswith("a file stands")


def test_a_full_disk_leaves_the_old_files_and_is_exit_3(tmp_path, yesterday, monkeypatch):
    job = write_small_job(tmp_path / "job")

    def fsync(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", fsync)
    result = CliRunner().invoke(
        main, ["plan", str(job), "--out", str(tmp_path / "out"), "--steps", "20"]
    )

    assert result.exit_code == CANNOT, result.output
    assert "No space left" in result.stderr or "full" in result.stderr
    left = {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()}
    assert left == yesterday
