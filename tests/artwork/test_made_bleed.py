"""Bleed made of the art's edge, judged by its look: ink everywhere, in the colour of the edge.

The pictures are rendered by pdfium, or by poppler where it is installed; what a colour must
be is worked out here from the formula the art was drawn by.
"""

import io
from collections.abc import Callable

import numpy as np
import pikepdf
import pypdfium2
import pytest
import shapely
from PIL import Image

from nestplan.artwork import Decal
from tests.artwork.handmade import decal, loaded, png

PER_MM = 12.0
DPI = 254.0  # ten pixels a millimetre


def rendered(found: Decal) -> tuple[np.ndarray, np.ndarray]:
    """Colours (h, w, 3) of the picture on white, and decal coordinates (h, w, 2) of pixels."""
    page = pypdfium2.PdfDocument(found.picture.pdf)[0]
    left, bottom, right, top = found.picture.box_mm
    seen = page.render(scale=PER_MM * 25.4 / 72).to_numpy()[..., :3][..., ::-1]
    height, width = seen.shape[:2]
    x = left + (np.arange(width) + 0.5) * (right - left) / width
    y = top - (np.arange(height) + 0.5) * (top - bottom) / height
    return seen.astype(float), np.stack(np.meshgrid(x, y), axis=-1)


def in_ring(found: Decal, at: np.ndarray, slack_mm: float = 0.1) -> np.ndarray:
    """Pixels between the contour and the end of the bleed."""
    region = found.contour.region
    ring = region.buffer(found.bleed_mm - slack_mm).difference(region.buffer(slack_mm))
    return shapely.contains_xy(ring, at[..., 0], at[..., 1])


def nearest_edge(found: Decal, points: np.ndarray) -> np.ndarray:
    """The point of the contour that is nearest to each of the points."""
    edge = found.contour.region.boundary
    return shapely.get_coordinates(
        shapely.line_interpolate_point(
            edge, shapely.line_locate_point(edge, shapely.points(points))
        )
    )


def off(found: Decal, expected: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
    """How far ring pixels are from the colour of the nearest edge point, 0 to 255.

    expected: from decal coordinates (n, 2) to colours (n, 3).
    """
    seen, at = rendered(found)
    ring = in_ring(found, at)
    assert ring.sum() > 1000, "the picture holds the bleed"
    colours = expected(nearest_edge(found, at[ring]))
    return np.abs(seen[ring] - colours).max(axis=1)


# ---- pixels ----------------------------------------------------------------------------------


def by_angle(points: np.ndarray) -> np.ndarray:
    """A colour wheel without white in it."""
    angle = np.arctan2(points[:, 1], points[:, 0])
    return np.stack([120 + 100 * np.cos(angle + k * 2.1) for k in range(3)], axis=1)


def wheel(radius_mm: float = 12.0, soft_px: float = 1.0, rim=(255, 255, 255)) -> np.ndarray:
    """RGBA of a disc whose colour goes by its angle; its soft rim is of another colour."""
    half = int(radius_mm * DPI / 25.4) + 12
    at = np.arange(-half, half) + 0.5
    x, y = np.meshgrid(at, -at)
    away = np.hypot(x, y)
    edge = radius_mm * DPI / 25.4
    colour = by_angle(np.stack([x.ravel(), y.ravel()], axis=1)).reshape(*x.shape, 3)
    cover = np.clip((edge - away) / soft_px + 0.5, 0, 1)
    colour[cover < 0.9] = rim
    return np.dstack([np.round(colour), np.round(255 * cover)]).astype(np.uint8)


@pytest.mark.parametrize("how", ["edge", "mirror"])
@pytest.mark.parametrize("soft_px", [1.0, 6.0])
def test_a_ring_of_pixels_has_the_colours_of_the_edge(tmp_path, how, soft_px):
    """Also round a soft edge whose faded rim is white: colours come from well inside."""
    art = png(wheel(soft_px=soft_px), dpi=(DPI, DPI))
    order = {"contour": "outline", "bleed_mm": 2.0}

    bare = decal(tmp_path, art, "a.png", **order)
    found = decal(tmp_path, art, "a.png", **order, make_bleed=how)

    away = off(found, by_angle)
    assert away.mean() < 3
    assert np.quantile(away, 0.99) < 12
    assert [fault.kind for fault in bare.faults] == ["bleed"]
    assert not found.faults


def test_the_pictures_own_pixels_stay_what_they_are(tmp_path):
    samples = wheel()
    order = {"contour": "outline", "bleed_mm": 2.0}

    found = decal(tmp_path, png(samples, dpi=(DPI, DPI)), "a.png", **order, make_bleed="edge")

    with pikepdf.open(io.BytesIO(found.picture.pdf)) as pdf:
        images = pdf.pages[0].Resources.XObject
        assert set(images) == {"/Pixels", "/Ring"}
        own = np.asarray(pikepdf.PdfImage(images.Pixels).as_pil_image().convert("RGB"))
        cover = np.asarray(pikepdf.PdfImage(images.Pixels.SMask).as_pil_image())
    np.testing.assert_array_equal(own, samples[..., :3])
    np.testing.assert_array_equal(cover, samples[..., 3])


def test_inside_the_contour_nothing_changes(tmp_path):
    art, order = png(wheel(), dpi=(DPI, DPI)), {"contour": "outline", "bleed_mm": 2.0}
    pictures = []
    for how in ("none", "edge"):
        found = decal(tmp_path, art, "a.png", **order, make_bleed=how)
        seen, at = rendered(found)
        inside = shapely.contains_xy(found.contour.region.buffer(-0.3), at[..., 0], at[..., 1])
        low, high = at[inside].min(axis=0), at[inside].max(axis=0)
        pictures.append((seen[inside].mean(axis=0), low, high))

    for one, other in zip(*pictures, strict=True):
        np.testing.assert_allclose(one, other, atol=0.5)


def test_process_colours_stay_process_colours(tmp_path):
    """A rectangle of four inks, cut along its page: the ring has the very same inks."""
    colour = np.zeros((150, 200, 4), dtype=np.uint8)
    colour[..., 0], colour[..., 3] = np.linspace(10, 250, 200)[None, :], 40
    out = io.BytesIO()
    Image.fromarray(colour, "CMYK").save(out, "TIFF", dpi=(DPI, DPI))

    found = decal(
        tmp_path, out.getvalue(), "a.tif", contour="page", bleed_mm=2.0, make_bleed="edge"
    )

    left, bottom, right, top = found.picture.box_mm
    assert min(-left, right) >= 12.0
    assert min(-bottom, top) >= 9.5
    with pikepdf.open(io.BytesIO(found.picture.pdf)) as pdf:
        ring = pdf.pages[0].Resources.XObject.Ring
        assert ring.ColorSpace == "/DeviceCMYK"
        inks = np.frombuffer(ring.read_bytes(), dtype=np.uint8)
        there = np.asarray(pikepdf.PdfImage(ring.SMask).as_pil_image()) == 255
        inks = inks.reshape(*there.shape, 4)
    column = inks[there.shape[0] // 2]
    assert tuple(column[there[there.shape[0] // 2]][0]) == tuple(colour[75, 0])
    assert set(inks[there][:, 3].tolist()) == {40}


def test_a_mirror_shows_the_art_beyond_the_edge(tmp_path):
    """Columns grow lighter by 4 a pixel; 1 mm outside looks like 1 mm inside."""
    colour = np.zeros((100, 200, 3), dtype=np.uint8)
    colour[:] = (20 + np.abs(np.arange(200) - 100))[None, :, None]

    found = decal(
        tmp_path, png(colour, dpi=(DPI, DPI)), "a.png", contour="page", bleed_mm=2.0,
        make_bleed="mirror",
    )  # fmt: skip

    seen, at = rendered(found)
    row = seen[len(seen) // 2]
    x = at[len(seen) // 2, :, 0]
    outside, inside = np.interp([10.995, 9.005], x, row[:, 0])
    assert outside == pytest.approx(inside, abs=2)


def test_a_hole_is_bled_into(tmp_path):
    art = png(wheel(), dpi=(DPI, DPI))
    samples = np.array(Image.open(io.BytesIO(art)))
    at = np.arange(len(samples)) + 0.5 - len(samples) / 2
    samples[np.hypot(*np.meshgrid(at, at)) < 50, 3] = 0

    found = decal(
        tmp_path, png(samples, dpi=(DPI, DPI)), "a.png", contour="outline", bleed_mm=2.0,
        make_bleed="edge",
    )  # fmt: skip

    assert len(found.contour.rings) == 2
    assert off(found, by_angle).mean() < 6


@pytest.mark.parametrize("how", ["edge", "mirror"])
def test_art_that_stands_clear_of_its_contour_gets_no_ring(tmp_path, how):
    art = png(wheel(), dpi=(DPI, DPI))

    plain = decal(tmp_path, art, "a.png", contour="offset:2.0", bleed_mm=2.0)
    found = decal(tmp_path, art, "a.png", contour="offset:2.0", bleed_mm=2.0, make_bleed=how)

    assert plain.picture.pdf == found.picture.pdf


def test_art_that_goes_on_keeps_its_own_bleed(tmp_path):
    """The contour runs 3 mm inside the edge: what is printed beyond it is the art itself."""
    art = png(wheel(), dpi=(DPI, DPI))

    plain = decal(tmp_path, art, "a.png", contour="offset:-3.0", bleed_mm=2.0)
    found = decal(tmp_path, art, "a.png", contour="offset:-3.0", bleed_mm=2.0, make_bleed="edge")

    assert plain.picture.pdf == found.picture.pdf


def test_a_photograph_on_white_is_bled_over_its_background(tmp_path):
    """An opaque picture: its edge is found on the white, the ring covers the white."""
    samples = wheel(rim=(255, 255, 255)).astype(float)
    cover = samples[..., 3:] / 255
    flat = np.round(samples[..., :3] * cover + 255 * (1 - cover)).astype(np.uint8)

    found = decal(
        tmp_path, png(flat, dpi=(DPI, DPI)), "a.png", contour="outline", bleed_mm=2.0,
        make_bleed="edge",
    )  # fmt: skip

    assert off(found, by_angle).mean() < 4
    assert not found.faults


def test_the_same_order_gives_the_same_bytes_and_says_what_was_made(tmp_path):
    art, order = png(wheel(), dpi=(DPI, DPI)), {"contour": "outline", "bleed_mm": 2.0}

    one = loaded(tmp_path, art, "a.png", **order, make_bleed="edge")
    two = loaded(tmp_path, art, "a.png", **order, make_bleed="edge")

    assert one.decals[0].picture.pdf == two.decals[0].picture.pdf
    (note,) = [note for note in one.notes if "bleed" in note.text]
    assert note.level == "know"
    assert "along 100 % of the contour (75 mm)" in note.text
