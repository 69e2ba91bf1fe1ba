"""What `nestplan init` hands out is right, and shows what there is."""

import tomllib
from pathlib import Path

import pytest

from nestplan.artwork import load_artwork
from nestplan.job import read_job, starter_files


@pytest.fixture
def folder(tmp_path) -> Path:
    for name, data in starter_files().items():
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(data)
    return tmp_path


def test_it_is_a_job_a_shop_and_their_art():
    assert sorted(starter_files()) == [
        "art/club_pennant.svg",
        "art/safety_badge.svg",
        "job.toml",
        "shop.toml",
    ]


def test_the_job_is_right_and_its_art_calls_for_nobody(folder):
    """Sizes as drawn: the pennant's page is 150 x 90 with 5 mm round the cut line; the badge is
    ordered 70 wide, a circle of 35 mm radius."""
    artwork = load_artwork(read_job(folder / "job.toml"))
    pennant, badge = artwork.decals

    assert artwork.notes == ()
    assert pennant.contour.width_mm == pytest.approx(140, abs=0.05)
    assert badge.contour.width_mm == pytest.approx(70, abs=1e-6)
    assert badge.contour.area_mm2 == pytest.approx(3848.45, rel=1e-3)  # pi 35^2


def test_every_key_of_the_first_job_is_explained():
    """A newcomer reads what a key means on its own line."""
    for line in starter_files()["job.toml"].decode().splitlines():
        key = line.partition("=")[0].strip()
        if "=" in line and not line.startswith("#") and key not in ("name", "quantity", "contour"):
            after_first = key in ("artwork", "bleed_mm")  # explained where they first stand
            assert "#" in line or after_first, line


def test_the_files_are_plain_text_with_unix_ends():
    for name, data in starter_files().items():
        text = data.decode("utf-8")
        assert "\r" not in text and "\t" not in text, name
        assert text.endswith("\n"), name
        assert name.endswith(".svg") or tomllib.loads(text)
