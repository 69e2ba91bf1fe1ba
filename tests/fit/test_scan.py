"""Marks read out of pictures whose true centres are known: tests/fit/scanner.py made them."""

import numpy as np
import pytest
import shapely
from PIL import Image

from nestplan.faults import Fault
from nestplan.fit.image_file import open_picture
from nestplan.fit.scan import SeenMarks, marks_in_image
from tests.fit.scanner import Device, mark_area, picture, save

SHEET = (180.0, 130.0)
MARKS = np.array(
    [(15, 15), (165, 17), (14, 115), (166, 113), (90.3, 15.4), (15, 60.7), (90, 116), (165, 72)],
    dtype=float,
)
OTHER = MARKS + np.where(np.arange(len(MARKS)) == 5, 8.0, 0.0)[:, None] * (0, 1)
SIZES = {"size_mm": 6.0, "line_mm": 1.0, "clear_mm": 4.0}
DECALS = [
    shapely.Point(x, y).buffer(r) for x, y, r in [(50, 50, 25), (120, 60, 3.4), (130, 85, 18)]
] + [shapely.box(22.6, 20, 40, 24), shapely.box(8, 22.5, 24, 24)]  # right outside clear zones


def made(shape: str, device: Device, **more: float) -> tuple[np.ndarray, np.ndarray]:
    """A picture whose ink has spread by 5 % of the mark's size to each side, and true px."""
    gain = 0.3 if shape in {"disc", "square"} else 0.15
    return picture(MARKS, mark_area(shape, 6.0, 1.0, gain), SHEET, device, **more)


def true_mm(px: np.ndarray, levels: np.ndarray, dpi: float) -> np.ndarray:
    return np.column_stack([px[:, 0], levels.shape[0] - px[:, 1]]) * 25.4 / dpi


def off_mm(seen: SeenMarks, true: np.ndarray) -> np.ndarray:
    """From each true centre to the nearest seen one."""
    apart = seen.places_mm[:, None] - true[None]
    return np.asarray(np.hypot(apart[..., 0], apart[..., 1]).min(axis=0))


@pytest.mark.parametrize("shape", ["disc", "square", "corner", "cross"])
def test_centres_are_found_to_a_hundredth_of_a_millimetre(tmp_path, shape):
    device = Device(extra=DECALS)
    levels, px = made(shape, device)
    save(levels, tmp_path / "scan.jpg", 300, quality=75)

    seen = marks_in_image(tmp_path / "scan.jpg", shape=shape, **SIZES)

    off = off_mm(seen, true_mm(px, levels, 300))
    assert off.max() < 0.02
    assert np.percentile(off, 95) < 0.01
    assert len(seen.places_mm) <= len(MARKS) + 2
    assert seen.scale_from == "resolution"
    assert seen.absorbs == "nothing"
    assert off.max() < 5 * seen.sd_mm


@pytest.mark.parametrize("turned", [90, 180, 263])
def test_a_corner_is_found_whichever_way_the_sheet_lies(tmp_path, turned):
    levels, px = made("corner", Device(), turned=turned)
    save(levels, tmp_path / "scan.png", 300)

    seen = marks_in_image(tmp_path / "scan.png", shape="corner", **SIZES)

    assert off_mm(seen, true_mm(px, levels, 300)).max() < 0.02
    assert len(seen.places_mm) == len(MARKS)


@pytest.mark.parametrize("dpi", [None, 72.0, 150.0])
def test_without_a_true_resolution_one_scale_comes_from_the_plan(tmp_path, dpi):
    """A print 0.4 % longer across than along keeps that difference; its size is lost."""
    levels, _ = made("disc", Device(stretch=(1.004, 1.0)))
    save(levels, tmp_path / "scan.png", dpi)

    seen = marks_in_image(tmp_path / "scan.png", shape="disc", **SIZES, expected_mm=[OTHER, MARKS])

    assert seen.scale_from == "marks"
    assert seen.absorbs == "size"
    assert seen.layout == 1
    ground = np.column_stack([MARKS, np.ones(len(MARKS))])
    order = [int(np.hypot(*(seen.places_mm - at).T).argmin()) for at in MARKS]
    linear = np.linalg.lstsq(ground, seen.places_mm[order], rcond=None)[0][:2]
    sizes = np.linalg.svd(linear, compute_uv=False)
    assert sizes[0] / sizes[1] == pytest.approx(1.004, abs=2e-4)
    assert any("cannot be told" in note for note in seen.notes)


def test_a_photograph_is_measured_by_its_marks_and_says_what_is_lost(tmp_path):
    device = Device(
        dpi=110, keystone_deg=(4, -3), barrel=0.02, distance_mm=400, stretch=(1.003, 1.0)
    )
    levels, _ = made("disc", device)
    save(levels, tmp_path / "photo.jpg", None, quality=85)

    seen = marks_in_image(tmp_path / "photo.jpg", shape="disc", **SIZES, expected_mm=[MARKS, OTHER])

    assert seen.absorbs == "perspective"
    assert seen.layout == 0
    assert off_mm(seen, MARKS).max() < 0.1  # the stretch is gone, and the notes say so
    assert any("stretch, skew and size" in note for note in seen.notes)


@pytest.mark.parametrize("mode", ["1", "P", "LA", "RGB", "RGBA", "CMYK", "I;16", "LAB"])
def test_every_kind_of_colour_and_depth_is_read(tmp_path, mode):
    levels, px = made("disc", Device(noise=1.0))
    image = Image.fromarray(levels)
    if mode == "I;16":
        image = Image.fromarray(levels.astype(np.uint16) * 16)  # 12 bits in 16
    elif mode == "LAB":
        image = Image.merge(
            "LAB", [image, Image.new("L", image.size, 128), image.point(lambda _: 128)]
        )
    elif mode == "1":
        image = image.point(lambda level: 255 * (level > 110), mode="1")
    else:
        image = image.convert("RGB").convert(mode) if mode != "LA" else image.convert("LA")
    image.save(tmp_path / "scan.tif", dpi=(300, 300))

    seen = marks_in_image(tmp_path / "scan.tif", shape="disc", **SIZES)

    assert off_mm(seen, true_mm(px, levels, 300)).max() < (0.03 if mode == "1" else 0.02)


@pytest.mark.parametrize("turned", range(1, 9))
def test_a_picture_is_turned_upright_as_its_file_says(tmp_path, turned):
    """Against Pillow's own way of undoing the eight orientations of Exif 2.3, tag 274."""
    from PIL import ImageOps

    rng = np.random.default_rng(0)
    image = Image.fromarray(rng.integers(0, 255, (40, 60), dtype=np.uint8))
    exif = Image.Exif()
    exif[274] = turned
    image.save(tmp_path / "scan.png", exif=exif, dpi=(300, 200))

    read = open_picture(tmp_path / "scan.png")

    with Image.open(tmp_path / "scan.png") as again:
        assert np.array_equal(read.grey, np.asarray(ImageOps.exif_transpose(again)))
    assert read.px_per_mm is not None
    assert (read.px_per_mm[0] > read.px_per_mm[1]) == (turned < 5)


def fault(path, **more) -> str:
    with pytest.raises(Fault) as caught:
        marks_in_image(path, shape="disc", **SIZES, **more)
    return caught.value.what


def test_what_is_no_scan_of_a_sheet_is_named(tmp_path):
    levels, _ = made("disc", Device())
    save(levels, tmp_path / "good.png", 300)
    whole = (tmp_path / "good.png").read_bytes()
    (tmp_path / "cut.png").write_bytes(whole[: len(whole) // 2])
    (tmp_path / "text.png").write_text("x_mm,y_mm\n1,2\n")
    (tmp_path / "empty.png").write_bytes(b"")
    save(255 - levels, tmp_path / "inverted.png", 300)
    save(levels[:100, :120], tmp_path / "thumb.png", 300)
    save(np.full((600, 600), 200, dtype=np.uint8), tmp_path / "blank.png", 300)
    save(levels[: levels.shape[0] // 4, :700], tmp_path / "part.png", 300)
    save(levels, tmp_path / "none.png", None)
    small = Image.fromarray(levels).reduce(15)
    small.save(tmp_path / "coarse.png", dpi=(20, 20))
    noise = np.random.default_rng(1).integers(0, 255, (900, 900), dtype=np.uint8)
    save(noise, tmp_path / "noise.png", 300)
    pages = [Image.fromarray(levels[:300, :300]), Image.fromarray(levels[300:600, :300])]
    pages[0].save(tmp_path / "two.tif", save_all=True, append_images=pages[1:])
    pages[0].save(tmp_path / "moves.png", save_all=True, append_images=pages[1:])

    assert "no such file" in fault(tmp_path / "gone.png")
    assert "folder" in fault(tmp_path)
    assert "cut off or damaged" in fault(tmp_path / "cut.png")
    assert "no picture" in fault(tmp_path / "text.png")
    assert "no picture" in fault(tmp_path / "empty.png")
    assert "inverted" in fault(tmp_path / "inverted.png")
    assert "120 × 100 pixels" in fault(tmp_path / "thumb.png")
    assert "one even shade" in fault(tmp_path / "blank.png")
    assert "only 1 mark" in fault(tmp_path / "part.png")
    assert "no resolution" in fault(tmp_path / "none.png")
    assert "too coarse" in fault(tmp_path / "coarse.png")
    assert "no registration marks" in fault(tmp_path / "noise.png")
    assert "2 pictures" in fault(tmp_path / "two.tif")
    assert "moves" in fault(tmp_path / "moves.png")
    far = [MARKS * (3.0, 0.4)]
    assert "no registration marks" in fault(tmp_path / "none.png", expected_mm=far)


def test_a_picture_that_unfolds_beyond_memory_is_refused_before_it_does(tmp_path):
    Image.new("1", (40_000, 40_000)).save(tmp_path / "bomb.png")

    assert "too many" in fault(tmp_path / "bomb.png")
