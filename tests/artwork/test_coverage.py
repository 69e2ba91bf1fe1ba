"""Ink measured on the artwork, against areas worked by hand and against another renderer.

Poppler's `pdftoppm` renders the same PDF with code of its own, in RGB and in process inks; RGB
is divided by the plain rule of ISO 32000-1, 10.3.4 there too.
"""

import io
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
import shapely
from pikepdf import Array, Dictionary, Name, Pdf, Stream
from PIL import Image

from nestplan.artwork import Picture, load_artwork
from nestplan.artwork.coverage import coverage_of, ink_shares
from nestplan.artwork.plates import has_process_inks
from nestplan.job import read_job

DEMO = Path(__file__).parents[2] / "demo_jobs"
PERCENT = 0.01


def picture(content: bytes, **resources) -> Picture:
    """A page of 100 by 100 units that stands for 100 by 100 mm."""
    pdf = Pdf.new()
    page = pdf.add_blank_page(page_size=(100, 100))
    page.Resources = Dictionary(**{k: make(pdf) for k, make in resources.items()})
    page.Contents = Stream(pdf, content)
    held = io.BytesIO()
    pdf.save(held)
    return Picture(pdf=held.getvalue(), box_mm=(0.0, 0.0, 100.0, 100.0))


def measured(found: Picture, region: shapely.Geometry | None = None) -> list[float]:
    region = shapely.box(0, 0, 100, 100) if region is None else region
    return [round(100 * share, 2) for share in ink_shares(found, region)]


@pytest.mark.parametrize(
    ("content", "inks"),
    [
        (b"1 0 0 rg 0 0 50 100 re f", [0, 50, 50, 0]),  # red is magenta and yellow
        (b"0 0 0.4 rg 0 0 100 50 re f", [20, 20, 0, 30]),  # 0.6 black, 0.4 of cyan and magenta
        (b"0.25 g 0 0 100 100 re f", [0, 0, 0, 75]),
        (b"0.2 0.4 0 0.8 k 0 0 50 50 re f", [5, 10, 0, 20]),  # inks as the art gives them
        (b"1 0 0 0 k 0 0 100 100 re f 0 0 0 1 k 0 0 50 100 re f", [50, 0, 0, 50]),  # knocked out
        (b"1 0 0 0 k 0 0 50 100 re f 0 1 0 rg 50 0 50 100 re f", [100, 0, 50, 0]),  # both kinds
    ],
)
def test_flat_areas_by_hand(content, inks):
    assert measured(picture(content)) == pytest.approx(inks, abs=0.3)


def test_what_is_cut_away_takes_no_ink():
    """Of a red page a quarter is printed, half of that red."""
    found = picture(b"1 0 0 rg 0 0 25 100 re f")

    assert measured(found, shapely.box(0, 0, 50, 50)) == pytest.approx([0, 50, 50, 0], abs=0.3)


def test_a_gradient_of_process_ink_is_half_of_it():
    def shading(pdf):
        ramp = Dictionary(
            FunctionType=2, Domain=Array([0, 1]), C0=Array([0] * 4), C1=Array([1, 0, 0, 0]), N=1
        )
        axis = Dictionary(
            ShadingType=2, ColorSpace=Name.DeviceCMYK, Coords=Array([0, 0, 100, 0]), Function=ramp
        )
        return Dictionary(S=pdf.make_indirect(axis))

    found = picture(b"/S sh", Shading=shading)
    assert measured(found) == pytest.approx([50, 0, 0, 0], abs=0.5)


def test_a_picture_in_process_inks():
    def image(pdf):
        stream = Stream(pdf, Image.new("CMYK", (8, 8), (51, 0, 102, 153)).tobytes())
        stream.Type, stream.Subtype = Name.XObject, Name.Image
        stream.Width = stream.Height = 8
        stream.ColorSpace, stream.BitsPerComponent = Name.DeviceCMYK, 8
        return Dictionary(I=stream)

    found = picture(b"q 100 0 0 100 0 0 cm /I Do Q", XObject=image)
    assert measured(found) == pytest.approx([20, 0, 40, 60], abs=0.5)


def test_a_spot_colour_is_printed_in_the_inks_it_stands_for():
    def spaces(pdf):
        tint = Dictionary(
            FunctionType=2, Domain=Array([0, 1]), C0=Array([0] * 4), C1=Array([0, 0.5, 1, 0]), N=1
        )
        return Dictionary(
            Sp=Array([Name.Separation, Name("/Buoy"), Name.DeviceCMYK, pdf.make_indirect(tint)])
        )

    found = picture(b"/Sp cs 0.8 scn 0 0 100 100 re f", ColorSpace=spaces)
    assert measured(found) == pytest.approx([0, 40, 80, 0], abs=0.5)


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="no pdftoppm on this machine")
@pytest.mark.parametrize("job", ["regatta", "berths", "sponsors"])
def test_the_demo_art_within_one_percent_of_another_render(job, tmp_path):
    for decal in load_artwork(read_job(DEMO / job / f"{job}.toml")).decals:
        ours = ink_shares(decal.picture, shapely.box(*decal.picture.box_mm))
        source = tmp_path / "art.pdf"
        source.write_bytes(decal.picture.pdf)
        subprocess.run(["pdftoppm", "-png", "-r", "200", source, tmp_path / "art"], check=True)
        (made,) = tmp_path.glob("art-*.png")
        light = np.asarray(Image.open(made).convert("RGB")) / 255.0
        made.unlink()
        grey = light.max(axis=2)
        theirs = [float((grey - light[..., k]).mean()) for k in range(3)]
        theirs.append(float(1 - grey.mean()))

        assert ours == pytest.approx(theirs, abs=PERCENT), decal.name
        assert sum(ours) == pytest.approx(sum(theirs), rel=PERCENT), decal.name


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="no pdftoppm on this machine")
def test_process_inks_within_one_percent_of_another_render(tmp_path):
    content = (
        b"0.9 0.1 0 0.2 k 10 10 50 50 re f 0 0.8 0.9 0 k 40 40 50 50 re f 0.1 0.6 0.3 rg "
        b"70 5 m 95 5 l 95 30 l f 0 0 0 1 K 3 w 10 90 m 90 80 l S"
    )
    found = picture(content)
    assert has_process_inks(found.pdf)
    (tmp_path / "art.pdf").write_bytes(found.pdf)
    subprocess.run(
        ["pdftoppm", "-jpegcmyk", "-r", "400", tmp_path / "art.pdf", tmp_path / "art"], check=True
    )
    (made,) = tmp_path.glob("art-*.jpg")
    theirs = (np.asarray(Image.open(made)) / 255.0).mean(axis=(0, 1))

    assert ink_shares(found, shapely.box(0, 0, 100, 100)) == pytest.approx(theirs, abs=PERCENT)


def test_a_decal_printed_in_a_mirror_takes_the_same_ink():
    decal = load_artwork(read_job(DEMO / "berths" / "berths.toml")).decals[0]

    assert coverage_of(decal.turned_over()).percent == pytest.approx(coverage_of(decal).percent)
