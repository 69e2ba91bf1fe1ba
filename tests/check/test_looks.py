"""Looks: what two renderings of one thing may differ by, and what they may not."""

import io

import numpy as np
import pytest
from PIL import Image
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from nestplan.check.looks import (
    IMAGE_PX,
    Look,
    allowed_mm2,
    blurred,
    differ_mm2,
    grid_of,
    look_of,
    seen_at,
    seen_closer,
    wrong_mm2,
)
from nestplan.check.outlines import Pose, contour_of
from nestplan.check.pdf_pages import read_pdf
from nestplan.check.picture import opened, page_of

PT = 72 / 25.4
SIDE_MM = 60.0
SQUARE = contour_of(
    [np.array([[-30.0, -30.0], [30.0, -30.0], [30.0, 30.0], [-30.0, 30.0]])], bleed_mm=0.0
)


def page_with(image: Image.Image, angle: float) -> bytes:
    """The image on a square of 60 mm about (70, 60) of a page of 140 by 120 mm, as a form."""
    held = io.BytesIO()
    pdf = Canvas(held, pagesize=(140 * PT, 120 * PT), invariant=1)
    pdf.beginForm("art", 0, 0, SIDE_MM, SIDE_MM)
    clip = pdf.beginPath()
    clip.rect(0, 0, SIDE_MM, SIDE_MM)
    pdf.clipPath(clip, stroke=0, fill=0)
    pdf.drawImage(ImageReader(image), 0, 0, SIDE_MM, SIDE_MM, mask="auto")
    pdf.endForm()
    pdf.translate(70 * PT, 60 * PT)
    pdf.rotate(angle)
    pdf.scale(PT, PT)
    pdf.translate(-SIDE_MM / 2, -SIDE_MM / 2)
    pdf.doForm("art")
    pdf.save()
    return held.getvalue()


def photograph(seed: int) -> Image.Image:
    """Soft blobs under fine grain: what a compressed photograph is to a renderer."""
    rng = np.random.default_rng(seed)
    coarse = Image.fromarray(rng.integers(0, 256, (12, 12, 3), dtype=np.uint8))
    soft = np.asarray(coarse.resize((600, 600), Image.Resampling.BICUBIC)).astype(float)
    grain = rng.normal(0, 12, soft.shape)
    return Image.fromarray(np.clip(soft + grain, 0, 255).astype(np.uint8))


def wrong(
    image: Image.Image, angle: float, other: Image.Image, round_px: int
) -> tuple[float, float]:
    """On how many mm² a copy at an angle does not look like another image; how many it may."""
    look = look_upright(other, round_px)
    data = page_with(image, angle)
    with opened(data) as document, page_of(document, 1, 140.0, 120.0) as page:
        window = page.window((0, 0, 140, 120), look.grid.per_mm)
    soft = np.asarray(blurred(window.image()))
    rows, columns = window.index(Pose(x_mm=70, y_mm=60, angle_deg=angle).put(look.grid.places))
    return wrong_mm2(look, soft[rows, columns].astype(np.int16)), allowed_mm2(look.grid)


def look_upright(image: Image.Image, round_px: int) -> Look:
    """The look of the form itself."""
    data = page_with(image, 0.0)
    (placed,) = read_pdf(data).pages[0].placed
    onto = np.array([[1.0, 0.0], [0.0, 1.0], [-SIDE_MM / 2, -SIDE_MM / 2]])
    return look_of(data, placed.picture.form.key, onto, grid_of(SQUARE, 4.0), round_px=round_px)


@pytest.mark.parametrize("angle", [0.0, 37.5, 90.0, 180.0, 217.5, 301.0])
def test_a_photograph_looks_like_itself_at_every_angle(angle):
    found, allowed = wrong(photograph(1), angle, photograph(1), round_px=2)

    assert found <= allowed


@pytest.mark.parametrize("angle", [0.0, 37.5, 217.5])
def test_another_photograph_does_not(angle):
    found, _ = wrong(photograph(1), angle, photograph(2), round_px=2)

    assert found > 1000  # of 3600 mm²


def test_a_look_does_not_differ_from_itself_and_does_from_another():
    one, other = look_upright(photograph(1), 0), look_upright(photograph(2), 0)

    assert differ_mm2(one, one) == 0
    assert differ_mm2(one, other) == differ_mm2(other, one) > 1000


def test_a_grid_lies_inside_the_print_and_holds_its_area():
    """60 x 60 mm less a rim of half a millimetre: 59 squared."""
    grid = grid_of(SQUARE, 4.0)

    assert np.abs(grid.places).max() <= 29.5
    assert len(grid.places) * grid.each_mm2 == pytest.approx(59.0**2, rel=0.01)


def test_a_grid_of_fewer_places_covers_the_same_area():
    grid = grid_of(SQUARE, 4.0, most=1000)

    assert len(grid.places) <= 1500
    assert len(grid.places) * grid.each_mm2 == pytest.approx(59.0**2, rel=0.05)


def striped(hue: int) -> Image.Image:
    """A disc of stripes with a soft edge, 300 pixels an inch."""
    at = np.arange(700) - 349.5
    away = np.hypot(*np.meshgrid(at, at))
    stripes = np.where((np.arange(700) // 35) % 2, 255, 20)
    samples = np.zeros((700, 700, 4), dtype=np.uint8)
    samples[..., hue] = stripes[:, np.newaxis]
    samples[..., 3] = np.clip((330 - away) * 20, 0, 255)
    return Image.fromarray(samples)


@pytest.mark.parametrize("angle", [105, 195, 225, 255])
def test_a_picture_with_a_soft_mask_may_be_turned(angle):
    """Renderers turn masked pictures by whole pixels; looked at closer, nothing is off."""
    pose = Pose(x_mm=70, y_mm=60, angle_deg=angle)
    wrongs = []
    for shown in (striped(0), striped(1)):
        look = look_upright(striped(0), IMAGE_PX)
        data = page_with(shown, angle)
        with opened(data) as document, page_of(document, 1, 140.0, 120.0) as page:
            window = page.window((0, 0, 140, 120), look.grid.per_mm)
            first = seen_at(window, np.asarray(blurred(window.image())), look.grid, pose)
            closer = seen_closer(page, look.grid.per_mm, look.grid, pose)
        wrongs.append((wrong_mm2(look, first), wrong_mm2(look, closer)))
    own, other = wrongs

    assert own[1] == 0, f"at first sight {own[0]} mm2"
    assert min(other) > 500, "another picture is another picture, however close one looks"
