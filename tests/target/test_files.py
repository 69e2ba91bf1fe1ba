"""The target's files, read back by other libraries than those that wrote them."""

import re
from dataclasses import replace

import numpy as np
import pytest
import shapely
from lxml import etree

from nestplan.check.pdf_content import is_black
from nestplan.check.pdf_pages import read_pdf
from nestplan.faults import Fault
from nestplan.job import read_shop
from nestplan.target import equipment_of, make_target, read_readings, read_sheet, target_files
from nestplan.target.station import BOX, X_AT, Y_AT
from tests.target.simulate import SHOP, target_of
from tests.target.test_layout import on_film

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def target():
    return target_of("affine")


@pytest.fixture(scope="module")
def files(target):
    return target_files(target, "0.0")


def slits(data: bytes) -> dict[int, np.ndarray]:
    """(44, 2, 2) ends of every slit, run coordinates, by station."""
    root = etree.fromstring(data)
    length = float(root.get("viewBox").split()[3])
    assert (root.get("width"), root.get("height")) == ("1370mm", f"{length:g}mm")
    assert not root.xpath("//@transform")
    found: dict[int, list[np.ndarray]] = {}
    for path in root.find(f"{SVG}g[@id='kiss']"):
        ends = np.array(re.findall(r"-?[\d.]+", path.get("d")), dtype=float).reshape(-1, 2)
        ends[:, 1] = length - ends[:, 1]
        found.setdefault(int(path.get("data-station")), []).append(ends)
    return {number: np.array(ends) for number, ends in found.items()}


def test_the_print_is_its_page_at_true_size_with_every_mark_black(target, files):
    (page,) = read_pdf(files["target-print.pdf"]).pages

    assert (page.width_mm, page.length_mm) == pytest.approx((1350, 1300), abs=1e-3)
    seen = [shape for shape, ink in page.fills if is_black(ink)]
    assert len(seen) == len(target.marks)
    centres = np.array([(shape.centroid.x + 10.0, shape.centroid.y) for shape in seen])
    assert np.abs(centres - target.marks_mm).max() < 2e-3


def test_the_slits_lie_on_their_print_but_for_the_step_of_the_vernier(target, files):
    cut = slits(files["target-cut.svg"])

    assert list(cut) != sorted(cut)  # there and back
    for station in target.stations:
        ends = cut[station.number] - (station.x_mm, station.y_mm)
        cross, x, y = ends[:2], ends[2:23], ends[23:]
        assert cross.mean(axis=(0, 1)) == pytest.approx((0, 0), abs=1e-3)
        assert x[:, 0, 0] == pytest.approx(X_AT[0] + 1.9 * np.arange(-10, 11), abs=1e-3)
        assert y[:, 0, 1] == pytest.approx(Y_AT[1] + 1.9 * np.arange(-10, 11), abs=1e-3)


def test_the_marks_of_the_cut_layer_are_those_of_the_print(target, files):
    root = etree.fromstring(files["target-cut.svg"])
    for path, mark in zip(root.find(f"{SVG}g[@id='marks']"), target.marks, strict=True):
        ring = np.array(re.findall(r"-?[\d.]+", path.get("d")), dtype=float).reshape(-1, 2)
        middle = (ring.min(axis=0) + ring.max(axis=0)) / 2
        assert int(path.get("data-mark")) == mark.number
        assert middle == pytest.approx((mark.x_mm, 1300 - mark.y_mm), abs=2e-3)


def clear_film(**printer):
    equipment = on_film(base="clear")
    able = equipment.printer.model_copy(update=printer)
    return replace(equipment, printer=able)


def test_on_clear_film_white_lies_below_marks_stations_and_words():
    target = make_target(clear_film(prints_white=True))
    (page,) = read_pdf(target_files(target, "0.0")["target-print.pdf"]).pages

    white = shapely.union_all([field.shape for field in page.whites])
    x0 = target.page_x0_mm
    for x, y in target.marks_mm - (x0, 0):
        assert white.buffer(0.01).covers(shapely.Point(x, y).buffer(3.0 + 4.0))
    for station in target.stations:
        box = shapely.box(*(np.array(BOX) + 2 * [station.x_mm - x0, station.y_mm]))
        assert white.buffer(0.01).covers(box)
    assert not any(field.late for field in page.whites)
    assert page.knocked == ()
    sheet = shapely.box(0, 0, page.width_mm, page.length_mm).buffer(0.01)
    assert sheet.covers(white)


def test_clear_film_without_white_ink_is_refused(tmp_path):
    text = SHOP.read_text().replace(
        'name = "white gloss 1370"', 'name = "glass"\nbase = "clear"', 1
    )
    (tmp_path / "shop.toml").write_text(text)
    shop = read_shop(tmp_path / "shop.toml")

    with pytest.raises(Fault, match="no sensor sees a black mark") as refused:
        equipment_of(tmp_path / "shop.toml", shop, setup=None, roll=None)
    assert refused.value.code == 3
    assert "--roll" in refused.value.do


def test_the_guide_is_one_a4_page_that_fonts_travel_with(files):
    file = read_pdf(files["target-guide.pdf"])

    assert len(file.pages) == 1
    assert (file.pages[0].width_mm, file.pages[0].length_mm) == pytest.approx((210, 297), abs=0.01)
    assert b"/Helvetica" not in files["target-guide.pdf"]


def test_the_same_shop_gives_the_same_bytes():
    first, second = (target_files(make_target(on_film("combined")), "0.0") for _ in "ab")

    assert first == second


def test_the_empty_table_is_read_as_nothing_filled_in(target, files, tmp_path):
    path = tmp_path / "read.csv"
    path.write_bytes(files["target-readings.csv"])
    sheet = read_sheet(path)
    readings = read_readings(sheet, target)

    assert (sheet.head["setup"], sheet.head["roll"]) == ("pair", "white gloss 1370")
    assert (readings.stations, readings.tapes) == ((), ())
    assert len(sheet.rows) == len(target.stations) + len(target.tapes)
