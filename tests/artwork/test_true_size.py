"""Artwork comes out at the size its file states.

source: CSS Values and Units Module Level 4, absolute lengths: 1in = 2.54cm = 96px,
1cm = 10mm = 40Q, 1pc = 1/6 in, 1pt = 1/72 in; SVG 1.1 (2nd ed.) 7.7, 7.8 and 7.10.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.artwork.svg.drawing import read_drawing
from nestplan.artwork.svg.units import transform
from tests.artwork.handmade import XMLNS, decal, loaded, svg

INCH_MM = 25.4


@pytest.mark.parametrize(
    ("length", "mm"),
    [
        ("100mm", 100.0),
        ("10cm", 100.0),
        ("4in", 4 * INCH_MM),
        ("288pt", 4 * INCH_MM),
        ("24pc", 4 * INCH_MM),
        ("400Q", 100.0),
        ("384px", 4 * INCH_MM),
        ("384", 4 * INCH_MM),
        (" 1e2 mm ", 100.0),
        ("100MM", 100.0),
    ],
)
def test_a_page_in_any_css_unit_has_its_true_size(tmp_path, length, mm):
    art = f'<svg {XMLNS} width="{length}" height="{length}"/>'

    found = decal(tmp_path, art, contour="page")

    assert found.contour.width_mm == pytest.approx(mm, rel=1e-12)
    assert found.contour.height_mm == pytest.approx(mm, rel=1e-12)


@pytest.mark.parametrize(
    ("page", "width_mm", "height_mm"),
    [
        ('viewBox="0 0 96 48"', INCH_MM, INCH_MM / 2),
        ('width="100%" height="100%" viewBox="0 0 96 48"', INCH_MM, INCH_MM / 2),
        ('width="50mm" viewBox="0 0 96 48"', 50, 25),
        ('height="50mm" viewBox="0 0 96 48"', 100, 50),
        ('width="50mm" height="40mm" viewBox="0 0 96 48"', 50, 40),
        ('width="auto" height="40mm" viewBox="-5 -5 10 20"', 20, 40),
    ],
)
def test_a_page_without_all_its_sizes_takes_them_from_the_view_box(
    tmp_path, page, width_mm, height_mm
):
    found = decal(tmp_path, svg("", page), contour="page")

    assert found.contour.width_mm == pytest.approx(width_mm, rel=1e-12)
    assert found.contour.height_mm == pytest.approx(height_mm, rel=1e-12)


@pytest.mark.parametrize(
    ("aspect", "left_mm", "top_mm", "width_mm", "height_mm"),
    [  # a view box of 20 × 10 on a page of 100 × 100 mm; the rectangle fills the view box
        ("", 0, 25, 100, 50),
        ("xMinYMin", 0, 0, 100, 50),
        ("xMaxYMax meet", 0, 50, 100, 50),
        ("none", 0, 0, 100, 100),
        ("xMidYMid slice", -50, 0, 200, 100),
        ("xMinYMid slice", 0, 0, 200, 100),
    ],
)
def test_a_view_box_of_another_shape_is_letterboxed(
    tmp_path, aspect, left_mm, top_mm, width_mm, height_mm
):
    """SVG 1.1, 7.8, worked by hand: meet scales by min(100/20, 100/10), slice by max."""
    art = svg(
        '<rect x="5" y="2" width="20" height="10" stroke="#f0f"/>',
        f'width="100mm" height="100mm" viewBox="5 2 20 10" preserveAspectRatio="{aspect}"',
    )

    found = decal(tmp_path, art, contour="colour:#ff00ff")

    assert found.contour.width_mm == pytest.approx(width_mm)
    assert found.contour.height_mm == pytest.approx(height_mm)
    centre = (left_mm + width_mm / 2, top_mm + height_mm / 2)  # y down, from the page's corner
    left, bottom, right, top = found.picture.box_mm
    overhang = max(0, width_mm - 100) / 2 if "xMid" in aspect else max(0, width_mm - 100)
    assert right - left == pytest.approx(100 + (overhang * 2 if "xMid" in aspect else overhang))
    assert top == pytest.approx(centre[1])
    assert bottom == pytest.approx(centre[1] - 100)


def test_a_disc_has_the_area_of_its_circle(tmp_path):
    """Chords lie inside the circle, by 0.02 mm at most: the area is short by less than
    0.02 mm along the whole circumference, and the width is exact."""
    radius = 45.0

    found = decal(tmp_path, svg('<circle id="cut" cx="50" cy="30" r="45"/>'), contour="layer:cut")

    short = np.pi * radius**2 - found.contour.area_mm2
    assert 0 < short < 0.02 * 2 * np.pi * radius
    assert found.contour.width_mm == pytest.approx(2 * radius, abs=1e-9)
    assert found.contour.height_mm == pytest.approx(2 * radius, abs=1e-9)


@pytest.mark.parametrize(
    ("order", "width_mm", "height_mm"),
    [
        ({}, 60, 40),
        ({"width_mm": 90}, 90, 60),
        ({"height_mm": 20}, 30, 20),
        ({"width_mm": 1.5}, 1.5, 1.0),
        ({"width_mm": 3000}, 3000, 2000),
        ({"width_mm": 90, "height_mm": 60}, 90, 60),
    ],
)
def test_the_order_sizes_the_contour_not_the_page(tmp_path, order, width_mm, height_mm):
    art = svg('<ellipse id="cut" cx="40" cy="25" rx="30" ry="20"/>')

    found = decal(tmp_path, art, contour="layer:cut", **order)

    assert found.contour.width_mm == pytest.approx(width_mm, abs=1e-9 * width_mm)
    assert found.contour.height_mm == pytest.approx(height_mm, abs=1e-9 * height_mm)
    left, bottom, right, top = found.picture.box_mm
    scale = width_mm / 60
    assert (left, bottom) == pytest.approx((-40 * scale, -35 * scale))
    assert (right, top) == pytest.approx((60 * scale, 25 * scale))


@pytest.mark.parametrize("width_mm", [2.0, 50.0, 2000.0])
def test_curves_are_flattened_at_the_final_size(tmp_path, width_mm):
    """A large decal gets more chords, none farther than 0.02 mm off."""
    art = svg('<circle id="cut" cx="30" cy="30" r="29"/>')

    found = decal(tmp_path, art, contour="layer:cut", width_mm=width_mm)

    (ring,) = found.contour.rings
    middles = (ring + np.roll(ring, -1, axis=0)) / 2
    sagitta = width_mm / 2 - np.hypot(*middles.T)
    assert sagitta.max() <= 0.02
    assert len(ring) <= 100 or sagitta.max() > 0.005  # and not many more than its area needs
    np.testing.assert_allclose(np.hypot(*ring.T), width_mm / 2, rtol=1e-9)


@pytest.mark.parametrize("offset_mm", [0.5, 2.0, -1.5])
@pytest.mark.parametrize("key", ["width_mm", "height_mm"])
def test_the_ordered_size_includes_the_offset(tmp_path, offset_mm, key):
    art = svg('<path d="M10 10h40v15l-12 20h-20z"/>')

    found = decal(tmp_path, art, contour=f"offset:{offset_mm}", **{key: 70})

    size = found.contour.width_mm if key == "width_mm" else found.contour.height_mm
    assert size == pytest.approx(70, abs=1e-5)


def test_an_offset_is_measured_at_the_final_size(tmp_path):
    """A square of 20 mm, ordered 100 mm wide with 5 mm around it, is scaled to 90 mm; its
    corners are rounded with 5 mm: area 100² - (4 - pi) 5²."""
    art = svg('<rect x="10" y="10" width="20" height="20"/>')

    found = decal(tmp_path, art, contour="offset:5", width_mm=100)

    assert found.contour.area_mm2 == pytest.approx(100**2 - (4 - np.pi) * 25, abs=0.2)
    left, _, right, _ = found.picture.box_mm
    assert right - left == pytest.approx(100 * 90 / 20)  # the page is scaled by 4.5


def test_a_page_in_px_is_noted_when_the_order_gives_no_size(tmp_path):
    art = svg('<rect id="cut" width="10" height="10"/>', 'width="100" height="100"')

    (note,) = [n for n in loaded(tmp_path, art, contour="layer:cut").notes if "96 px" in n.text]

    assert "26.46 × 26.46 mm" in note.text
    sized = loaded(tmp_path, art, contour="layer:cut", width_mm=5)
    assert not [n for n in sized.notes if "96 px" in n.text]


number = st.floats(-30, 30).map(lambda x: round(x, 3))
factor = st.floats(0.3, 3).map(lambda x: round(x, 3)) | st.floats(-3, -0.3).map(
    lambda x: round(x, 3)
)
step = st.one_of(
    st.tuples(number, number).map(lambda t: f"translate({t[0]},{t[1]})"),
    factor.map(lambda s: f"scale({s})"),
    st.tuples(factor, factor).map(lambda s: f"scale({s[0]} {s[1]})"),
    number.map(lambda a: f"rotate({a})"),
    st.tuples(number, number, number).map(lambda t: f"rotate({t[0]} {t[1]},{t[2]})"),
    number.map(lambda a: f"skewX({a})"),
    number.map(lambda a: f"skewY({a})"),
    st.tuples(factor, number, number, factor, number, number).map(
        lambda t: f"matrix({t[0]} {t[1] / 100} {t[2] / 100} {t[3]} {t[4]} {t[5]})"
    ),
)


def one_step(text: str) -> np.ndarray:
    """The map of one transform function, by SVG 1.1, 7.6, on complex-free plain terms."""
    name, _, rest = text.rstrip(")").partition("(")
    n = [float(word) for word in rest.replace(",", " ").split()]
    cos, sin = np.cos(np.radians(n[0])), np.sin(np.radians(n[0]))
    match name, len(n):
        case "translate", 2:
            return np.array([[1, 0, n[0]], [0, 1, n[1]], [0, 0, 1]])
        case "scale", _:
            return np.diag([n[0], n[-1], 1])
        case "rotate", 1:
            return np.array([[cos, -sin, 0], [sin, cos, 0], [0, 0, 1]])
        case "rotate", 3:
            x, y = n[1:]
            there, back = one_step(f"translate({x} {y})"), one_step(f"translate({-x} {-y})")
            return there @ one_step(f"rotate({n[0]})") @ back
        case "skewX", 1:
            return np.array([[1, sin / cos, 0], [0, 1, 0], [0, 0, 1]])
        case "skewY", 1:
            return np.array([[1, 0, 0], [sin / cos, 1, 0], [0, 0, 1]])
        case "matrix", 6:
            return np.array([n[0::2], n[1::2], [0, 0, 1]])
    raise AssertionError(text)


@given(st.lists(st.lists(step, min_size=1, max_size=3), min_size=1, max_size=4))
def test_nested_transforms_move_a_rectangle_as_their_product_does(groups):
    body = '<rect x="1" y="2" width="3" height="5"/>'
    for steps in reversed(groups):
        body = f'<g transform="{" ".join(steps)}">{body}</g>'

    (shape,) = read_drawing(svg(body).encode(), "plate.svg").shapes

    whole = np.eye(3)
    for text in (text for steps in groups for text in steps):
        whole = whole @ one_step(text)
    corners = np.array([[1, 2, 1], [4, 2, 1], [4, 7, 1], [1, 7, 1]]) @ whole.T
    on_page = corners[:, :2] * 96 / INCH_MM  # 1 unit of this page is 1 mm
    (run,) = shape.path
    found = run.mapped(shape.matrix).flattened(0.01)[:-1]
    np.testing.assert_allclose(found, on_page, atol=1e-9 * max(1, np.abs(on_page).max()))


def test_css_transforms_take_units():
    np.testing.assert_allclose(
        transform("translate(10px, 1in) rotate(0.25turn)"), [[0, -1, 10], [1, 0, 96], [0, 0, 1]]
    )
