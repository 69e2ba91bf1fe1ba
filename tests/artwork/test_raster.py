"""Contours from the alpha of PNG files, and their pictures pixel for pixel."""

import io
import struct
import zlib

import numpy as np
import pikepdf
import pypdfium2
import pytest
from PIL import Image

from nestplan.artwork.pixel_pdf import pixels_pdf
from nestplan.artwork.raster import open_raster
from nestplan.faults import Fault
from tests.artwork.handmade import decal, disc, loaded, png

DPI = 300
MM = 25.4 / DPI  # of a pixel


def away_from_circle(contour, radius_mm):
    """Signed distance of the outer ring's points from a circle about the origin."""
    return np.hypot(*contour.rings[0].T) - radius_mm


def test_a_soft_disc_is_found_within_a_hundredth_of_a_millimetre(tmp_path):
    """Disc of 10 mm radius with a hole of 2, covered pixels by their share: the half-covered
    level lies on the circle. Thinning may add 0.02 mm inwards."""
    art = png(disc(10 / MM, 2 / MM), dpi=(DPI, DPI))

    contour = decal(tmp_path, art, "plate.png", contour="outline").contour

    off = away_from_circle(contour, 10)
    assert off.max() < 0.01
    assert off.min() > -0.01
    assert contour.area_mm2 == pytest.approx(np.pi * (100 - 4), rel=0.003)
    assert len(contour.rings) == 2


def test_a_hard_disc_is_not_cut_along_its_stairs(tmp_path):
    art = png(disc(10 / MM, 2 / MM, soft=False), dpi=(DPI, DPI))

    contour = decal(tmp_path, art, "plate.png", contour="outline").contour

    assert np.abs(away_from_circle(contour, 10)).max() < 0.06  # a pixel is 0.085
    assert len(contour.rings[0]) < 200  # stairs would have 4 × 2 × 118
    assert contour.length_mm == pytest.approx(2 * np.pi * 12, rel=0.01)


def test_pixels_count_from_edge_to_edge(tmp_path):
    """A block of 60 × 40 pixels at 254 dpi is 6 × 4 mm: half a pixel is not lost on each side."""
    samples = np.zeros((60, 100, 4), dtype=np.uint8)
    samples[10:50, 20:80] = 255

    found = decal(tmp_path, png(samples, dpi=(254, 254)), "plate.png", contour="outline")

    assert found.contour.width_mm == pytest.approx(6.0, abs=0.02)
    assert found.contour.height_mm == pytest.approx(4.0, abs=0.02)
    left, bottom, right, top = found.picture.box_mm
    assert (left, bottom, right, top) == pytest.approx((-5, -3, 5, 3), abs=0.02)


def test_art_that_touches_the_edge_of_the_picture_closes_there(tmp_path):
    samples = np.zeros((60, 100, 4), dtype=np.uint8)
    samples[:, 20:] = 255

    found = decal(tmp_path, png(samples, dpi=(254, 254)), "plate.png", contour="outline")

    assert found.contour.width_mm == pytest.approx(8.0, abs=0.02)
    assert found.contour.height_mm == pytest.approx(6.0, abs=0.02)


def test_an_offset_runs_round_the_alpha_at_the_final_size(tmp_path):
    art = png(disc(10 / MM), dpi=(DPI, DPI))

    contour = decal(tmp_path, art, "plate.png", contour="offset:2.0", width_mm=54).contour

    assert contour.width_mm == pytest.approx(54, abs=1e-5)
    assert np.abs(away_from_circle(contour, 27)).max() < 0.06


def test_the_page_is_the_whole_picture(tmp_path):
    art = png(np.zeros((60, 100, 3), dtype=np.uint8), dpi=(254, 254))

    found = decal(tmp_path, art, "plate.png", contour="page")

    assert found.contour.bounds_mm == pytest.approx((-5, -3, 5, 3))
    assert found.picture.box_mm == pytest.approx((-5, -3, 5, 3))


def test_three_hundred_dpi_come_back_as_three_hundred(tmp_path):
    """PNG stores 11811 pixels a metre, which is 299.9994 dpi; 1000 px are 84.6667 mm."""
    art = png(np.zeros((300, 1000, 3), dtype=np.uint8), dpi=(300, 300))

    found = decal(tmp_path, art, "plate.png", contour="page")

    assert found.contour.width_mm == pytest.approx(84.66667, abs=1e-4)


def test_pixels_need_not_be_square(tmp_path):
    samples = np.zeros((60, 100, 4), dtype=np.uint8)
    samples[10:50, 20:80] = 255

    found = decal(tmp_path, png(samples, dpi=(254, 127)), "plate.png", contour="outline")

    assert found.contour.width_mm == pytest.approx(6.0, abs=0.02)
    assert found.contour.height_mm == pytest.approx(8.0, abs=0.02)


def test_dust_is_left_out_with_a_note(tmp_path):
    samples = disc(10 / MM)
    samples[2:6, 2:6, 3] = 255
    samples[len(samples) // 2, len(samples) // 2, 3] = 0

    art = loaded(tmp_path, png(samples, dpi=(DPI, DPI)), "plate.png", contour="outline")

    (found,) = art.decals
    assert len(found.contour.rings) == 1
    (note,) = art.notes
    assert note.level == "look"
    assert "below 1 mm²" in note.text


def test_coarse_pixels_are_noted_with_their_resolution(tmp_path):
    art = png(disc(100), dpi=(300, 300))

    notes = loaded(tmp_path, art, "plate.png", contour="outline", width_mm=100).notes

    assert ["51 dpi" in note.text and note.level == "look" for note in notes] == [True]


@pytest.mark.parametrize(
    ("save", "order", "what", "do"),
    [
        ({}, {"contour": "outline"}, "it has no resolution", "write width_mm or height_mm"),
        ({}, {"contour": "layer:cut", "width_mm": 9}, "layer:cut names a drawn line", "outline"),
        ({}, {"contour": "colour:#ff0000", "width_mm": 9}, "names a drawn line", "SVG"),
    ],
)
def test_what_a_png_cannot_answer_is_said(tmp_path, save, order, what, do):
    with pytest.raises(Fault) as caught:
        loaded(tmp_path, png(disc(50), **save), "plate.png", **order)

    assert what in caught.value.what
    assert do in caught.value.do
    assert caught.value.code == 2


@pytest.mark.parametrize(
    ("alpha", "what"), [(255, "opaque everywhere"), (200, "opaque"), (90, "transparent"), (0, "tr")]
)
@pytest.mark.parametrize("contour", ["outline", "offset:1"])
def test_alpha_without_an_edge_is_told(tmp_path, alpha, what, contour):
    samples = np.full((40, 40, 4), alpha, dtype=np.uint8)

    with pytest.raises(Fault) as caught:
        loaded(tmp_path, png(samples), "plate.png", contour=contour, width_mm=40)

    assert what in caught.value.what


def test_a_picture_without_alpha_is_told_about_the_page(tmp_path):
    with pytest.raises(Fault, match="opaque everywhere") as caught:
        loaded(tmp_path, png(np.zeros((9, 9, 3), np.uint8)), "plate.png", width_mm=9)

    assert "page" in caught.value.do


WHOLE = png(disc(50), dpi=(300, 300))


@pytest.mark.parametrize(
    "data",
    [
        b"not a picture",
        WHOLE[:20],
        WHOLE[:100],
        WHOLE[: len(WHOLE) // 2],
        WHOLE[:60] + bytes(40) + WHOLE[100:],
        b"\xff\xd8\xff\xe0" + bytes(50),
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
    ],
)
def test_a_broken_or_other_file_is_one_fault(tmp_path, data):
    with pytest.raises(Fault, match="cannot be read") as caught:
        loaded(tmp_path, data, "plate.png", contour="page", width_mm=9)

    assert caught.value.where == "plate.png"


def test_a_jpeg_that_calls_itself_png_is_read_for_what_it_is(tmp_path):
    out = io.BytesIO()
    Image.new("RGB", (9, 9)).save(out, "JPEG")

    assert decal(tmp_path, out.getvalue(), "plate.png", contour="page", width_mm=9)


def header(width: int, height: int) -> bytes:
    """A PNG that promises so many pixels and holds none (PNG, 5 and 11.2)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 6, 0, 0, 0))
        + chunk(b"IDAT", zlib.compress(bytes(10)))
        + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize("size", [(20_000, 6_000), (60_000, 60_000), (2**31 - 1, 1)])
def test_a_picture_that_unfolds_too_far_is_refused_unread(tmp_path, size):
    with pytest.raises(Fault) as caught:
        loaded(tmp_path, header(*size), "plate.png", contour="page", width_mm=9)

    assert caught.value.code == 2


def rgba(seed: int, size: int = 12) -> np.ndarray:
    return np.random.default_rng(seed).integers(0, 256, (size, size + 3, 4), dtype=np.uint8)


def pictures() -> dict[str, tuple[bytes, np.ndarray]]:
    """PNG files of every mode, with the RGBA that Pillow itself makes of them."""
    base = Image.fromarray(rgba(1))
    kinds = {
        "grey": base.convert("L"),
        "grey with alpha": base.convert("LA"),
        "rgb": base.convert("RGB"),
        "rgb with alpha": base,
        "palette": base.convert("RGB").quantize(16),
        "black and white": base.convert("1"),
        "sixteen bit grey": Image.fromarray(
            (np.arange(180).reshape(12, 15) * 300).astype(np.uint16)
        ),
    }
    found = {}
    for name, image in kinds.items():
        out = io.BytesIO()
        image.save(out, "PNG")
        found[name] = (
            out.getvalue(),
            np.asarray(
                image.convert("RGBA")
                if "16" not in image.mode
                else Image.fromarray((np.asarray(image) >> 8).astype(np.uint8)).convert("RGBA")
            ),
        )
    out = io.BytesIO()
    kinds["palette"].save(out, "PNG", transparency=3)
    found["palette with a clear colour"] = (
        out.getvalue(),
        np.asarray(Image.open(io.BytesIO(out.getvalue())).convert("RGBA")),
    )
    return found


@pytest.mark.parametrize("name", pictures())
def test_every_pixel_reaches_the_pdf(tmp_path, name):
    """pikepdf takes the image out again: colour and alpha are what Pillow read from the PNG."""
    data, expected = pictures()[name]

    pdf = decal(tmp_path, data, "plate.png", contour="page", width_mm=9).picture.pdf

    with pikepdf.open(io.BytesIO(pdf)) as opened:
        image = opened.pages[0].Resources.XObject.Pixels
        found = pikepdf.PdfImage(image).as_pil_image().convert("RGB")
        alpha = np.full(expected.shape[:2], 255)
        if "/SMask" in image:
            alpha = np.asarray(pikepdf.PdfImage(image.SMask).as_pil_image())
        assert image.Filter == "/FlateDecode"
    np.testing.assert_array_equal(np.asarray(found), expected[..., :3])
    np.testing.assert_array_equal(alpha, expected[..., 3])


def test_sixteen_bits_are_noted(tmp_path):
    data, _ = pictures()["sixteen bit grey"]

    notes = loaded(tmp_path, data, "plate.png", contour="page", width_mm=1).notes

    assert ["16 bits" in note.text for note in notes] == [True]


def test_the_picture_lies_upright_and_fills_its_page():
    """Red above, blue below; rendered by pdfium at a pixel to a pixel."""
    colour = np.zeros((10, 20, 3), dtype=np.uint8)
    colour[:5, :, 0], colour[5:, :, 2] = 255, 255
    alpha = np.full((10, 20), 255, dtype=np.uint8)
    alpha[:, 10:] = 0

    pdf, _ = pixels_pdf(colour, alpha, None, 20 * MM, 10 * MM)

    page = pypdfium2.PdfDocument(pdf)[0]
    assert page.get_size() == pytest.approx((20 * 72 / DPI, 10 * 72 / DPI), abs=1e-4)
    seen = page.render(scale=DPI / 72 * (1 - 1e-6)).to_numpy()[..., ::-1].astype(int)
    assert seen.shape == (10, 20, 3)
    assert np.abs(seen[1, 2] - (255, 0, 0)).max() < 4
    assert np.abs(seen[8, 2] - (0, 0, 255)).max() < 4
    assert seen[:, 12:].min() == 255


def test_a_profile_of_the_file_is_kept_when_it_fits():
    from PIL import ImageCms

    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()

    kept = open_raster(png(disc(5), icc_profile=profile), "plate.png").profile
    grey = open_raster(png(disc(5)[..., 3], icc_profile=profile), "plate.png").profile

    assert kept == profile
    assert grey is None
