"""JPEG goes into the print byte for byte where two readers agree on it, else its pixels do."""

import io

import numpy as np
import pikepdf
import pypdfium2
import pytest
from PIL import Image

from nestplan.artwork.jpeg import kept_jpeg
from nestplan.artwork.pixel_file import WEBP_MOST, read_pixels
from nestplan.artwork.pixel_pdf import pixels_pdf
from nestplan.artwork.webp import webp_size
from nestplan.faults import Fault
from tests.artwork.handmade import decal

MODES = {"L": 1, "RGB": 3, "CMYK": 4}


def jpeg(mode="RGB", **save) -> bytes:
    """48 by 32 px, soft slopes that differ channel by channel."""
    down, across = np.mgrid[0:32, 0:48]
    parts = [20 + 3 * across, 20 + 5 * down, 200 - 2 * across - 2 * down, across + down]
    samples = np.stack(parts[: MODES[mode]], axis=-1).astype(np.uint8)
    held = io.BytesIO()
    Image.fromarray(samples.squeeze(), mode).save(held, "JPEG", **{"quality": 95, **save})
    return held.getvalue()


def seen(pdf: bytes) -> np.ndarray:
    document = pypdfium2.PdfDocument(pdf)
    try:
        return np.array(document[0].render(scale=3).to_pil().convert("RGB")).astype(int)
    finally:
        document.close()


@pytest.mark.parametrize(
    "save",
    [{"mode": mode} for mode in MODES]
    + [{"progressive": True}, {"keep_rgb": True}, {"subsampling": 2}],
    ids=str,
)
def test_the_file_itself_is_printed_and_looks_as_its_pixels_do(save):
    data = jpeg(**save)
    read = read_pixels(data, "a.jpg")

    kept, _ = pixels_pdf(read.colour, None, None, 48, 32, jpeg=read.jpeg)
    packed, _ = pixels_pdf(read.colour, None, None, 48, 32)

    with pikepdf.open(io.BytesIO(kept)) as pdf:
        image = pdf.pages[0].Resources.XObject.Pixels
        assert image.read_raw_bytes() == data
        assert image.Filter == "/DCTDecode"
        assert (int(image.Width), int(image.Height)) == (48, 32)
    assert np.abs(seen(kept) - seen(packed)).max() <= 2  # two decoders round for themselves


def test_a_picture_that_the_camera_held_sideways_is_packed_anew(tmp_path):
    exif = Image.Exif()
    exif[0x0112] = 6

    one = decal(tmp_path, jpeg(exif=exif), "a.jpg", contour="page", width_mm=20)

    with pikepdf.open(io.BytesIO(one.picture.pdf)) as pdf:
        image = pdf.pages[0].Resources.XObject.Pixels
        assert (int(image.Width), int(image.Height)) == (32, 48)
        assert image.Filter == "/FlateDecode"


def doubtful() -> dict[str, bytes]:
    """Files that a PDF reader may take for something else, or cannot read."""
    data = jpeg()
    frame = data.index(b"\xff\xc0")
    no_head = data[:2] + data[2 + 2 + int.from_bytes(data[4:6], "big") :]
    assert no_head[:4] != data[:4], "the JFIF marker is gone"
    at = no_head.index(b"\xff\xc0") + 10
    named = bytearray(no_head)
    named[at : at + 9 : 3] = b"RGB"
    return {
        "channels called RGB": bytes(named),
        "arithmetic coding": data[:frame] + b"\xff\xc9" + data[frame + 2 :],
        "no frame": data[:frame],
        "another size": data[: frame + 5] + b"\0\x21" + data[frame + 7 :],
        "much behind it": data + bytes(10_000),
        "no JPEG": b"\x89PNG\r\n\x1a\n",
        "nothing": b"",
    }


@pytest.mark.parametrize("name", doubtful())
def test_a_doubtful_file_is_not_kept(name):
    assert kept_jpeg(doubtful()[name], 48, 32, 3) is None
    assert kept_jpeg(jpeg(), 48, 32, 3) is not None


@pytest.mark.parametrize("save", [{}, {"lossless": True}, {"exif": b"Exif\0\0II*\0\x08\0\0\0\0\0"}])
def test_a_webp_tells_its_size_before_it_is_unfolded(save):
    held = io.BytesIO()
    Image.new("RGB", (301, 7), (9, 90, 160)).save(held, "WEBP", **save)

    assert webp_size(held.getvalue()) == (301, 7)
    assert webp_size(jpeg()) is None


def test_a_vast_webp_is_refused_by_its_head_alone():
    head = b"VP8X" + (10).to_bytes(4, "little") + bytes(4)
    body = head + (15_999).to_bytes(3, "little") + (5_999).to_bytes(3, "little")
    data = b"RIFF" + (4 + len(body)).to_bytes(4, "little") + b"WEBP" + body

    with pytest.raises(
        Fault, match=rf"16000 × 6000 pixels, more than {WEBP_MOST // 10**6} million"
    ):
        read_pixels(data, "a.webp")
