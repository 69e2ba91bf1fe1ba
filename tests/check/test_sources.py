"""The plan held against the job's own files: changed since, or never what was printed."""

import hashlib
import io
from pathlib import Path
from shutil import copytree

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image, ImageCms, ImageDraw

from nestplan.check import Kind, check_folder
from nestplan.cli import main
from nestplan.faults import Fault
from tests.artwork.test_pdf import BLUE, DISC, page
from tests.artwork.test_rows import CUT, NUMBER, PLATE, svg
from tests.check.edit import bend
from tests.small_job import JOB_TOML, PLATE_SVG, changed, write_small_job

SOURCES = {Kind.JOB_CHANGED, Kind.SOURCE_CHANGED, Kind.SOURCE_ART}


def plan(job: Path, out: Path) -> Path:
    result = CliRunner().invoke(main, ["plan", str(job), "--out", str(out), "--steps", "20"])
    assert result.exit_code in (0, 1), result.output
    return out


@pytest.fixture(scope="module")
def planned(tmp_path_factory) -> Path:
    """The folder of the small job, planned inside it as `out`. Read only."""
    folder = tmp_path_factory.mktemp("sources") / "job"
    plan(write_small_job(folder), folder / "out")
    return folder


@pytest.fixture
def job(planned, tmp_path) -> Path:
    """A fresh copy of that folder."""
    return Path(copytree(planned, tmp_path / "job"))


def found(folder: Path, job: Path | None = None) -> list[tuple[Kind, str]]:
    return [(each.kind, each.where) for each in check_folder(folder, job).found]


def test_a_plan_beside_its_job_is_held_against_it(planned):
    findings = check_folder(planned / "out")

    assert not findings.found
    assert "2 decals are printed as the artwork's own file shows" in findings.holds


def test_elsewhere_the_job_is_named_or_nothing_is_said(job, tmp_path):
    away = job.rename(tmp_path / "away") / "out"
    out = away.rename(tmp_path / "out")

    assert not any("artwork" in each for each in check_folder(out).holds)
    assert any("artwork" in each for each in check_folder(out, tmp_path / "away/job.toml").holds)
    with pytest.raises(Fault, match="the job cannot be read"):
        check_folder(out, tmp_path / "no.toml")


def test_artwork_that_changed_since_is_named_with_its_decal(job):
    changed(job / "art/plate.svg", "#f2a33a", "#f2a33b")

    assert found(job / "out") == [(Kind.SOURCE_CHANGED, "art/plate.svg, berth plate")]


def test_artwork_that_is_gone_is_named(job):
    (job / "art/burgee.svg").unlink()

    (finding,) = check_folder(job / "out").found
    assert (finding.kind, finding.where) == (Kind.SOURCE_CHANGED, "art/burgee.svg, club burgee")
    assert finding.found == "no such file in the job's folder"


@pytest.mark.parametrize(
    ("old", "new", "where"),
    [
        ("quantity = 8", "quantity = 9", "job.toml, berth plate, quantity"),
        ("gutter_mm = 4.0", "gutter_mm = 5", "job.toml, gutter_mm"),
        ("quantity = 6", 'quantity = 6\nfor = "pier"', "job.toml, club burgee, for"),
    ],
)
def test_what_the_job_says_otherwise_now_is_named(job, old, new, where):
    changed(job / "job.toml", old, new)

    assert found(job / "out") == [(Kind.JOB_CHANGED, where)]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('cx="30" cy="34"', 'cx="32" cy="34"'),
        ('<rect x="52"', '<rect x="70" y="8" width="3" height="3"/><rect x="52"'),
    ],
    ids=["a disc elsewhere", "a dot more"],
)
def test_wrong_art_that_print_and_proof_carry_alike_is_found(job, old, new):
    """The plan's files agree with each other; only the artwork, digest and all, is other."""
    art = PLATE_SVG.replace(old, new)
    assert art != PLATE_SVG
    (job / "art/plate.svg").write_text(art)
    digest = hashlib.sha256(art.encode()).hexdigest()
    bend(job / "out", lambda said: said["inputs"]["art"].update({"art/plate.svg": digest}))

    assert found(job / "out") == [(Kind.SOURCE_ART, "print.pdf, berth plate")]


def test_no_file_outside_the_job_s_folder_is_read(job):
    (job.parent / "plate.svg").write_text(PLATE_SVG)
    digest = hashlib.sha256(PLATE_SVG.encode()).hexdigest()

    def outside(said):
        said["inputs"]["art"] = {"../plate.svg": digest}
        said["inputs"]["job"]["decal"][0]["artwork"] = "../plate.svg"

    bend(job / "out", outside)

    (finding,) = [e for e in check_folder(job / "out").found if e.kind == Kind.SOURCE_CHANGED]
    assert finding.where == "../plate.svg, berth plate"
    assert finding.found == "no such file in the job's folder"


def photo(mode: str) -> Image.Image:
    """Something to be recognised: a wedge, a disc and stripes."""
    image = Image.new("RGB", (400, 300), (240, 230, 210))
    pen = ImageDraw.Draw(image)
    pen.polygon([(20, 280), (180, 30), (200, 280)], fill=(20, 90, 160))
    pen.ellipse([230, 40, 360, 170], fill=(200, 60, 40))
    for x in range(220, 380, 24):
        pen.rectangle([x, 200, x + 10, 270], fill=(30, 30, 30))
    return image.convert(mode)


def saved(image: Image.Image, kind: str, **more) -> bytes:
    held = io.BytesIO()
    image.save(held, kind, dpi=(100, 100), **more)
    return held.getvalue()


@pytest.fixture(scope="module")
def kinds(tmp_path_factory) -> Path:
    """A plan of art of every kind, inside its job's folder. Read only."""
    folder = tmp_path_factory.mktemp("kinds") / "job"
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    clear = photo("RGB").convert("RGBA")
    clear.putalpha(Image.fromarray(np.pad(np.full((260, 360), 255, np.uint8), 20)))
    cut = f"/OC /L0 BDC 1 0 0 rg {DISC} f EMC"
    spot = f"/Cut cs 1 scn {DISC} f 0 1 0 rg 10 10 8 8 re f"
    wave = "0 0.8 0.3 rg 30 20 20 10 re f 1 0.4 0 rg 45 30 15 12 re f "
    arts = {
        "layer.pdf": (page(BLUE + wave + cut, layers=["cut line"]), 'contour = "layer:cut line"'),
        "spot.pdf": (page(BLUE + wave + spot), 'contour = "spot:Knife Line"\nwidth_mm = 55'),
        "ink.tif": (saved(photo("CMYK"), "TIFF"), 'contour = "page"\nwidth_mm = 80'),
        "plain.jpg": (saved(photo("RGB"), "JPEG", icc_profile=profile), 'contour = "page"'),
        "clear.png": (saved(clear, "PNG"), 'contour = "offset:2"\nwidth_mm = 70'),
        "plate.svg": (svg(PLATE + CUT + NUMBER).encode(), 'contour = "layer:cut"\nrows = "b.csv"'),
    }
    job = write_small_job(folder)
    (folder / "b.csv").write_text("number\n11\nΩ 12\n", encoding="utf-8")
    text = JOB_TOML.split("[[decal]]")[0]
    for name, (data, keys) in arts.items():
        (folder / name).write_bytes(data)
        more = "" if "rows" in keys else "quantity = 1\n"
        text += f'[[decal]]\nname = "{name}"\nartwork = "{name}"\nbleed_mm = 0\n{more}{keys}\n'
    job.write_text(text)
    return plan(job, folder / "out")


def test_art_of_every_kind_looks_like_its_own_file(kinds):
    """Layers, spot colours and numbers that are taken out of the art are no difference."""
    findings = check_folder(kinds)

    assert [(each.where, each.found) for each in findings.found] == []
    assert "6 decals are printed as the artwork's own file shows" in findings.holds
    assert "pictures are printed as fine as planned: 100 dpi and more" in findings.holds


def test_pictures_coarser_than_planned_or_than_the_shop_asks_are_named(kinds, tmp_path):
    """At 100 dpi: one planned finer, one not told, one drawn; the shop asks for 150."""
    out = copytree(kinds, tmp_path / "out")

    def coarse(said):
        by_name = {decal["name"]: decal for decal in said["decals"]}
        by_name["ink.tif"].update(picture_dpi=250.0)
        by_name["plain.jpg"].update(faults=[])
        by_name["clear.png"].update(picture_dpi=None)

    bend(out, coarse)

    assert [
        (each.where, each.found, each.meant)
        for each in check_folder(out).found
        if each.kind == Kind.PICTURE_COARSE
    ] == [
        ("print.pdf, ink.tif", "a picture of 127 dpi", "250 dpi as planned"),
        (
            "print.pdf, plain.jpg",
            "a picture of 100 dpi",
            "a note of it, for the shop asks for 150 dpi",
        ),
        ("print.pdf, clear.png", "a picture of 139 dpi", "drawn art without pictures"),
    ]
