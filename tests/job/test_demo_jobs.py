"""The demo jobs are right, and their art is what they say it is."""

from pathlib import Path

import pytest
from lxml import etree
from PIL import Image

from nestplan.artwork import load_artwork
from nestplan.job import read_job

DEMO = Path(__file__).parents[2] / "demo_jobs"
NAMES = ("regatta", "berths", "sponsors", "numbers", "passes", "lockers", "keepsakes")
JOBS = {name: DEMO / name / f"{name}.toml" for name in NAMES}
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module", params=JOBS)
def loaded(request):
    job = read_job(JOBS[request.param])
    return job, load_artwork(job)


def test_its_art_calls_for_nobody(loaded):
    _, artwork = loaded

    assert artwork.notes == ()


def test_its_art_prints_beyond_the_contour_by_the_bleed(loaded):
    """The picture reaches at least so far; whether ink does, the artwork room has looked."""
    for decal in loaded[1].decals:
        left, bottom, right, top = decal.contour.bounds_mm
        reach = decal.bleed_mm - 1e-6
        box = decal.picture.box_mm
        assert box[0] <= left - reach and box[1] <= bottom - reach, decal.name
        assert box[2] >= right + reach and box[3] >= top + reach, decal.name


def test_the_regatta_has_curves_a_hole_and_concave_outlines():
    """Hull over area tells a concave outline; by hand: a disc's is 1."""
    artwork = load_artwork(read_job(JOBS["regatta"]))
    shapes = {decal.name: decal.contour for decal in artwork.decals}
    filled = {
        name: outline.area_mm2 / outline.region.convex_hull.area for name, outline in shapes.items()
    }

    assert len(shapes) >= 6
    assert [name for name, outline in shapes.items() if len(outline.rings) == 2] == ["life ring"]
    assert filled["life ring"] == pytest.approx(1 - (32 / 70) ** 2, rel=1e-3)
    assert filled["gull"] < 0.7 and filled["wave stripe"] < 0.6
    widths = sorted(outline.width_mm for outline in shapes.values())
    assert widths[0] < 80 and widths[-1] > 370
    assert {decal.cut for decal in artwork.decals} == {"kiss", "through"}
    assert {decal.rotate for decal in artwork.decals} == {"none", "half", "quarter", "free"}


def test_the_berth_plate_is_90_by_60_with_corners_of_6():
    decal = load_artwork(read_job(JOBS["berths"])).decals[0]

    assert decal.quantity == 96
    assert decal.contour.width_mm == pytest.approx(90, abs=1e-6)
    assert decal.contour.height_mm == pytest.approx(60, abs=1e-6)
    # 90 * 60 less the corners outside four quarter discs: (4 - pi) 6^2 = 30.9027
    assert decal.contour.area_mm2 == pytest.approx(5369.10, abs=1.0)


def test_the_sponsors_send_soft_pictures_at_300_dpi():
    for path in sorted((DEMO / "sponsors/art").glob("*.png")):
        with Image.open(path) as image:
            assert image.mode == "RGBA"
            assert image.info["dpi"] == pytest.approx((300, 300), abs=0.01)
            soft = sum(image.getchannel("A").histogram()[1:255])
            assert soft > 1000, "its edge is not smooth"
        assert path.stat().st_size < 200_000


@pytest.mark.parametrize("path", sorted(DEMO.glob("*/art/*.svg")), ids=lambda path: path.stem)
def test_a_drawing_is_in_mm_and_needs_no_font_nor_file(path):
    root = etree.parse(path).getroot()
    width, height = root.get("width"), root.get("height")

    assert width.endswith("mm") and height.endswith("mm")
    assert root.get("viewBox") == f"0 0 {width[:-2]} {height[:-2]}"
    texts = [e for e in root.iter(f"{SVG}text") if e.get("data-row") is None]
    assert not texts and not list(root.iter(f"{SVG}image"))
    links = [value for e in root.iter() for key, value in e.items() if key.endswith("href")]
    assert all(link.startswith("#") for link in links)
