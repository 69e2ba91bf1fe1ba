"""JPEG, TIFF and WebP: resolution, turn, process inks, and edges against a plain background."""

import io

import numpy as np
import pikepdf
import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pikepdf import Name
from PIL import Image, ImageCms

from nestplan.artwork.raster import open_raster
from nestplan.artwork.rule import rule_of
from nestplan.faults import Fault, Faults
from tests.artwork.handmade import decal, disc, loaded, png

DPI = 254  # ten pixels a millimetre


def saved(image: Image.Image, kind: str, **keys) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **keys)
    return out.getvalue()


def on_paper(radius_px: float, paper=(255, 255, 255)) -> Image.Image:
    """A blue disc with soft edges on a plain ground, no transparency."""
    art = Image.fromarray(disc(radius_px))
    ground = Image.new("RGBA", art.size, (*paper, 255))
    return Image.alpha_composite(ground, art).convert("RGB")


@pytest.mark.parametrize(
    ("kind", "name"), [("JPEG", "a.jpg"), ("TIFF", "a.tif"), ("TIFF", "a.TIFF"), ("PNG", "a.png")]
)
def test_the_resolution_is_the_file_s(tmp_path, kind, name):
    data = saved(Image.new("RGB", (508, 254), "navy"), kind, dpi=(DPI, DPI))

    one = decal(tmp_path, data, name, contour="page")

    assert (one.contour.width_mm, one.contour.height_mm) == pytest.approx((50.8, 25.4), abs=2e-3)


def test_a_tiff_in_dots_a_centimetre_is_understood(tmp_path):
    data = saved(Image.new("L", (500, 200), 9), "TIFF", resolution_unit="cm", resolution=100)

    one = decal(tmp_path, data, "a.tif", contour="page")

    assert (one.contour.width_mm, one.contour.height_mm) == pytest.approx((50, 20), abs=2e-3)


@pytest.mark.parametrize("kind", ["TIFF", "WEBP"])
def test_transparency_makes_the_contour(tmp_path, kind):
    keys = {"lossless": True} if kind == "WEBP" else {}
    data = saved(Image.fromarray(disc(100)), kind, **keys)

    one = decal(tmp_path, data, "a.tif", contour="outline", width_mm=20)

    assert np.abs(np.hypot(*one.contour.rings[0].T) - 10).max() < 0.03


@pytest.mark.parametrize("paper", [(255, 255, 255), (240, 200, 20)])
@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_a_plain_background_is_left_out_of_the_contour(tmp_path, paper, kind):
    """Ten pixels a millimetre: the edge is taken within 1.2 pixels of the true circle."""
    keys = {"quality": 90, "subsampling": 0} if kind == "JPEG" else {}
    data = saved(on_paper(100, paper), kind, dpi=(DPI, DPI), **keys)

    found = loaded(tmp_path, data, "a.jpg", contour="outline")

    (one,) = found.decals
    assert np.abs(np.hypot(*one.contour.rings[0].T) - 10).max() < 0.12
    assert any("background" in note.text and note.level == "look" for note in found.notes)


def test_a_hole_in_the_colour_of_the_background_is_art(tmp_path):
    art = Image.fromarray(disc(100, hole_px=40))
    paper = Image.alpha_composite(Image.new("RGBA", art.size, "white"), art).convert("RGB")

    one = decal(tmp_path, saved(paper, "PNG", dpi=(DPI, DPI)), "a.png", contour="outline")

    assert len(one.contour.rings) == 1


def test_art_that_fills_the_picture_has_no_background(tmp_path):
    noise = np.random.default_rng(3).integers(0, 255, (60, 60, 3), dtype=np.uint8)

    with pytest.raises(Fault, match="no plain background"):
        decal(tmp_path, png(noise), "a.png", contour="outline", width_mm=30)


def test_a_camera_held_upright_gives_a_picture_that_stands(tmp_path):
    """Orientation 6: the first row is the right side (EXIF 2.3, 4.6.4)."""
    samples = np.zeros((40, 80, 3), dtype=np.uint8)
    samples[:, :40] = (255, 0, 0)  # the left half becomes the upper one
    image = Image.fromarray(samples)
    exif = Image.Exif()
    exif[0x0112] = 6

    art = open_raster(saved(image, "JPEG", exif=exif, quality=95, dpi=(100, 200)), "a.jpg")

    assert art.colour.shape == (80, 40, 3)
    assert art.colour[10, 20, 0] > 200
    assert art.colour[70, 20, 0] < 50
    assert art.dpi == (200, 100)


INKS = np.array([[[255, 0, 0, 0], [0, 255, 0, 0], [0, 0, 255, 0], [0, 0, 0, 255]]], dtype=np.uint8)


@pytest.mark.parametrize("kind", ["TIFF", "JPEG"])
def test_process_inks_stay_process_inks(tmp_path, kind):
    image = Image.fromarray(np.repeat(np.repeat(INKS, 16, 0), 16, 1), mode="CMYK")
    keys = {"quality": 100, "subsampling": 0} if kind == "JPEG" else {}

    one = decal(tmp_path, saved(image, kind, **keys), "a.tif", contour="page", width_mm=40)

    with pikepdf.open(io.BytesIO(one.picture.pdf)) as pdf:
        kept = pdf.pages[0].Resources.XObject.Pixels
        assert kept.ColorSpace == Name.DeviceCMYK
        samples = np.asarray(pikepdf.PdfImage(kept).as_pil_image())
    assert samples.shape == (16, 64, 4)
    assert np.abs(samples[8, 8::16].astype(int) - INKS[0]).max() <= 3
    document = pypdfium2.PdfDocument(one.picture.pdf)
    seen = document[0].render().to_numpy()[:, :, 2::-1]
    document.close()
    height, width = seen.shape[:2]
    at = [seen[height // 2, int(width * (k + 0.5) / 4)] for k in range(4)]
    assert at[0].argmin() == 0  # cyan takes red
    assert at[1].argmin() == 1
    assert at[2].argmin() == 2
    assert at[3].max() < 60


def test_a_profile_of_other_channels_is_not_kept(tmp_path):
    rgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    image = Image.new("CMYK", (9, 9))

    assert open_raster(saved(image, "TIFF", icc_profile=rgb), "a.tif").profile is None


def test_more_pictures_than_one_are_noted(tmp_path):
    frames = [Image.new("RGB", (20, 20), colour) for colour in ("red", "blue")]
    data = saved(frames[0], "TIFF", save_all=True, append_images=frames[1:])

    notes = loaded(tmp_path, data, "a.tif", contour="page", width_mm=20).notes

    assert any("2 pictures" in note.text for note in notes)


def test_pictures_of_50_000_pixels_a_side_are_refused_unread(tmp_path):
    """Two and a half thousand million pixels in a few kilobytes of one bit each."""
    data = saved(Image.new("1", (9, 9)), "TIFF")
    for tag in (b"\x00\x01\x04\x00\x01\x00\x00\x00", b"\x01\x01\x04\x00\x01\x00\x00\x00"):
        at = data.index(tag) + len(tag)
        data = data[:at] + (50_000).to_bytes(4, "little") + data[at + 4 :]

    with pytest.raises(Fault, match="million"):
        decal(tmp_path, data, "a.tif", contour="page", width_mm=40)


def test_pixels_of_32_bits_are_refused(tmp_path):
    with pytest.raises(Fault, match="32 bits"):
        decal(tmp_path, saved(Image.new("F", (9, 9)), "TIFF"), "a.tif", contour="page", width_mm=9)


SOUND = [
    saved(on_paper(12), "JPEG", dpi=(DPI, DPI)),
    saved(on_paper(12), "TIFF", dpi=(DPI, DPI)),
    saved(Image.fromarray(disc(12)), "WEBP", lossless=True),
]


@given(
    data=st.sampled_from(SOUND),
    damage=st.lists(st.tuples(st.integers(0, 400), st.binary(min_size=1, max_size=4))),
    length=st.integers(0, 3000),
)
def test_damaged_files_give_a_fault_or_art(data, damage, length):
    broken = bytearray(data[: max(len(data) // 4, length)])
    for at, by in damage:
        broken[at : at + len(by)] = by

    try:
        art = open_raster(bytes(broken), "a.jpg")
        art.contour(rule_of("outline"), 0.1)
    except (Fault, Faults):
        pass
