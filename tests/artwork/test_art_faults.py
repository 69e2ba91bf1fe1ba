"""What is wrong with art: each fault by hand, and a twin without it."""

import io
import re
from dataclasses import replace

import numpy as np
import pikepdf
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from nestplan.artwork import load_artwork
from nestplan.artwork.art_faults.corner import corners, sharp_corners
from nestplan.artwork.art_faults.fault import EACH_MOST
from nestplan.artwork.art_faults.subject import Subject
from nestplan.artwork.art_faults.weeding import NARROW_MM, narrow_parts
from nestplan.geometry.outline import outline_of
from nestplan.job import Machine
from tests.artwork.handmade import job, loaded, png, svg

FIELD = '<rect x="5" y="5" width="80" height="50" fill="#036"/>'
CUT = '<g id="cut" fill="none"><rect x="10" y="10" width="60" height="30"/></g>'
LAYER = {"contour": "layer:cut", "bleed_mm": 2.0}


def faults(folder, art, name="plate.svg", **order):
    """Faults of the only decal; every one of them is a note of the plan as well."""
    art = loaded(folder, art, name, **order)
    (found,) = art.decals
    assert [fault.note for fault in found.faults] == [
        note for note in art.notes if note in [fault.note for fault in found.faults]
    ]
    return found.faults


def kinds(found):
    return [fault.kind for fault in found]


def printed_on(folder, art, name="plate.svg", *, printer, **order):
    """Faults of a decal for a printer with these keys."""
    (folder / name).write_bytes(art if isinstance(art, bytes) else art.encode())
    machine = Machine(name="printer", does=["print"], width_mm=1600, **printer)
    asked = job(folder, {"name": "plate", "artwork": name, **order})
    (found,) = load_artwork(replace(asked, printer=machine)).decals
    return found.faults


def subject(region) -> Subject:
    """A decal of which only the contour matters."""
    return Subject(
        where="", source="", contour=outline_of(region), bleed_mm=0.0, picture=None, printed=()
    )


def over_mm(fault) -> float:
    """The length that a text tells."""
    return float(re.search(r"over (\d+\.\d) mm", fault.text)[1])


# ---- lines too thin --------------------------------------------------------------------------


@pytest.mark.parametrize("width", [0.02, 0.08])
def test_a_line_thinner_than_a_quarter_point_is_told_where_it_is(tmp_path, width):
    """0.25 pt are 0.0882 mm (ISO 32000-1: a point is 1/72 in)."""
    line = f'<path id="thin" d="M20 15H40" stroke="#fff" stroke-width="{width}"/>'

    (fault,) = faults(tmp_path, svg(FIELD + line + CUT), **LAYER)

    assert fault.kind == "hairline"
    assert fault.level == "look"
    assert 'id="thin"' in fault.where
    assert f"{width:.3f} mm thick" in fault.text
    assert (fault.x_mm, fault.y_mm, fault.size_mm) == pytest.approx((-10, 10, 20))


@pytest.mark.parametrize(
    "line",
    [
        '<path d="M20 15H40" stroke="#fff" stroke-width="0.09"/>',
        '<path d="M20 15H40" stroke="none" stroke-width="0.02"/>',
        '<path d="M20 15H40" stroke="#fff" stroke-width="0.02" visibility="hidden"/>',
        '<path d="M75 15H80" stroke="#fff" stroke-width="0.02"/>',
        '<g transform="scale(10)"><path d="M2 1.5H4" stroke="#fff" stroke-width="0.02"/></g>',
        '<clipPath id="c"><rect width="9" height="9"/></clipPath><g clip-path="url(#c)">'
        '<path d="M20 15H40" stroke="#fff" stroke-width="0.02"/></g>',
        '<rect x="20" y="15" width="20" height="0.1" fill="#fff"/>',
    ],
    ids=["thick", "not drawn", "hidden", "beyond the bleed", "scaled up", "clipped off", "shape"],
)
def test_lines_that_are_no_matter_are_not_told(tmp_path, line):
    assert not faults(tmp_path, svg(FIELD + line + CUT), **LAYER)


def test_a_filled_sliver_is_a_line_too(tmp_path):
    sliver = '<path id="sliver" d="M20 15H40V15.05H20Z" fill="#fff"/>'

    (fault,) = faults(tmp_path, svg(FIELD + sliver + CUT), **LAYER)

    assert fault.kind == "hairline"
    assert "0.050 mm thick" in fault.text


def test_a_cut_line_is_no_hairline(tmp_path):
    cut = CUT.replace("<rect", '<rect stroke="#e6007e" stroke-width="0.01"')

    assert not faults(tmp_path, svg(FIELD + cut), contour="colour:#e6007e", bleed_mm=2.0)


def test_of_many_faults_a_few_are_told_and_the_rest_counted(tmp_path):
    lines = "".join(
        f'<path d="M20 {12 + k}H40" stroke="#fff" stroke-width="0.0{k + 1}"/>' for k in range(7)
    )

    found = faults(tmp_path, svg(FIELD + lines + CUT), **LAYER)

    assert kinds(found) == ["hairline"] * EACH_MOST
    assert "0.010 mm" in found[0].text
    assert found[-1].text.endswith("(and 4 more such places)")


# ---- too narrow to weed ----------------------------------------------------------------------


def test_a_narrow_slit_and_a_narrow_spit_are_told_with_their_length():
    plate = shapely.box(0, 0, 60, 40)
    slit = shapely.box(10, 20, 30, 20.8)
    spit = shapely.box(60, 10, 72, 10.9)

    found = narrow_parts(subject(plate.difference(slit).union(spit)))

    assert kinds(found) == ["narrow", "waste"]
    assert (found[0].x_mm, found[0].y_mm) == pytest.approx((66, 10.45), abs=0.3)
    assert over_mm(found[0]) == pytest.approx(12, abs=0.2)
    assert (found[1].x_mm, found[1].y_mm) == pytest.approx((20, 20.4), abs=0.3)
    assert over_mm(found[1]) == pytest.approx(20, abs=0.2)


@settings(max_examples=25)
@given(
    width=st.floats(1.1, 5.0),
    long=st.floats(4.0, 30.0),
    angle=st.floats(0, 360),
    radius=st.floats(0.0, 0.5),
)
def test_what_is_wider_than_the_disc_is_never_told(width, long, angle, radius):
    plate = shapely.box(-20, -20, 20, 20).difference(shapely.box(-long / 2, 3, long / 2, 3 + width))
    plate = plate.union(shapely.box(20, 5, 20 + long, 5 + width))
    turned = shapely.affinity.rotate(plate.buffer(-radius).buffer(radius), angle)

    assert not narrow_parts(subject(turned))


@settings(max_examples=25)
@given(width=st.floats(0.2, 0.9), long=st.floats(3.0, 30.0), angle=st.floats(0, 360))
def test_what_is_narrower_is_always_told(width, long, angle):
    plate = shapely.box(-20, -20, 20, 20).union(shapely.box(20, 5, 20 + long, 5 + width))
    turned = shapely.affinity.rotate(plate, angle, origin=(0, 0))

    (fault,) = narrow_parts(subject(turned))

    middle = shapely.affinity.rotate(
        shapely.Point(20 + long / 2, 5 + width / 2), angle, origin=(0, 0)
    )
    assert fault.kind == "narrow"
    assert shapely.distance(middle, shapely.Point(fault.x_mm, fault.y_mm)) < NARROW_MM


# ---- sharp corners ---------------------------------------------------------------------------


def spike(angle_deg: float, radius_mm: float = 0.0) -> shapely.Geometry:
    """A triangle of 40 mm height whose top has this angle, rounded."""
    half = 40 * np.tan(np.radians(angle_deg / 2))
    region = shapely.Polygon([(-half, 0), (half, 0), (0, 40)])
    return region.buffer(-radius_mm).buffer(radius_mm, quad_segs=32) if radius_mm else region


@settings(max_examples=30)
@given(angle=st.floats(5, 29), turn=st.floats(0, 360))
def test_a_point_is_told_with_its_angle(angle, turn):
    region = shapely.affinity.rotate(spike(angle), turn, origin=(0, 0))

    (fault,) = sharp_corners(subject(region))

    tip = shapely.affinity.rotate(shapely.Point(0, 40), turn, origin=(0, 0))
    assert f"a point of {angle:.0f}°" in fault.text
    assert (fault.x_mm, fault.y_mm) == pytest.approx((tip.x, tip.y), abs=1e-6)


@pytest.mark.parametrize(
    "region",
    [
        spike(31),
        spike(20, 1.0),
        shapely.box(0, 0, 30, 20),
        shapely.Point(0, 0).buffer(0.6, quad_segs=64),
        shapely.box(0, 0, 30, 20).buffer(0.3, quad_segs=16),
    ],
    ids=["blunt", "rounded", "square", "small disc", "small radius"],
)
def test_corners_a_knife_can_take_are_not_told(region):
    assert not sharp_corners(subject(region))


def test_a_notch_is_told_as_such_and_a_rounded_point_with_its_radius():
    plate = shapely.box(-20, 0, 20, 60)
    (notch,) = sharp_corners(subject(plate.difference(spike(20))))
    assert "a notch of 20°" in notch.text

    (corner,) = corners(outline_of(spike(15, 0.12)).rings[0])
    assert corner.radius_mm == pytest.approx(0.12, abs=0.03)


# ---- the cut line ----------------------------------------------------------------------------


def test_a_doubled_cut_line_is_told_and_cut_once(tmp_path):
    twice = CUT.replace("</g>", '<rect id="two" x="10" y="10" width="60" height="30"/></g>')

    (fault,) = faults(tmp_path, svg(FIELD + twice), **LAYER)

    assert fault.kind == "doubled"
    assert 'id="two"' in fault.where
    assert not faults(tmp_path, svg(FIELD + CUT), **LAYER)


@pytest.mark.parametrize(("gap", "told"), [(0.0, 0), (0.02, 1), (0.04, 1)])
def test_a_gap_that_was_closed_is_told(tmp_path, gap, told):
    cut = f'<path id="cut" fill="none" d="M10 {10 + gap}V40H70V10H10"/>'

    found = faults(tmp_path, svg(FIELD + cut), **LAYER)

    assert kinds(found) == ["joined"] * told
    if told:
        assert f"open by {gap:.3f} mm" in found[0].text
        assert (found[0].x_mm, found[0].y_mm) == pytest.approx((-30, 15), abs=0.1)


# ---- colours and ink -------------------------------------------------------------------------


def page(content: bytes) -> bytes:
    """A PDF of 80 × 60 mm with this content."""
    pdf = pikepdf.new()
    pdf.add_blank_page(page_size=(80 / 25.4 * 72, 60 / 25.4 * 72))
    pdf.pages[0].Contents = pdf.make_stream(b"2.834646 0 0 2.834646 0 0 cm " + content)
    pdf.pages[0].Resources = pikepdf.Dictionary(
        Font=pikepdf.Dictionary(
            F=pikepdf.Dictionary(
                Type=pikepdf.Name.Font,
                Subtype=pikepdf.Name.Type1,
                BaseFont=pikepdf.Name.Harbour,
            )
        )
    )
    out = io.BytesIO()
    pdf.save(out)
    return out.getvalue()


def test_ink_over_the_printers_limit_is_told_where_it_lies(tmp_path):
    art = page(b"0.9 0.8 0.8 0.8 k 10 20 20 10 re f 0.9 0.8 0.8 0 k 40 20 20 10 re f")
    order = {"contour": "page"}

    (fault,) = printed_on(tmp_path, art, "a.pdf", printer={"ink_limit_percent": 300}, **order)

    assert fault.kind == "ink"
    assert "add up to 330 %" in fault.text
    assert (fault.x_mm, fault.y_mm, fault.size_mm) == pytest.approx((-20, -5, 20), abs=0.01)
    assert not printed_on(tmp_path, art, "a.pdf", printer={"ink_limit_percent": 340}, **order)
    assert not printed_on(tmp_path, art, "a.pdf", printer={}, **order)


def test_ink_of_a_picture_in_process_colours_is_summed_over_a_millimetre(tmp_path):
    """255 of 255 is full ink; 254 dpi are ten pixels a millimetre. A single pixel is no matter."""
    colour = np.full((100, 200, 4), (200, 100, 100, 0), dtype=np.uint8)
    colour[60:80, 120:140] = (255, 255, 255, 102)
    out = io.BytesIO()
    Image.fromarray(colour, "CMYK").save(out, "TIFF", dpi=(254, 254))

    (fault,) = printed_on(
        tmp_path, out.getvalue(), "a.tif", printer={"ink_limit_percent": 300}, contour="page"
    )

    assert "add up to 340 %" in fault.text
    assert (fault.x_mm, fault.y_mm, fault.size_mm) == pytest.approx((2.5, -1.5, 1.0), abs=1e-3)
    colour[60:80, 120:140] = (200, 100, 100, 0)
    colour[60, 120] = 255
    out = io.BytesIO()
    Image.fromarray(colour, "CMYK").save(out, "TIFF", dpi=(254, 254))
    assert not printed_on(
        tmp_path, out.getvalue(), "a.tif", printer={"ink_limit_percent": 300}, contour="page"
    )


def test_rgb_art_is_told_where_the_shop_wants_process_colours(tmp_path):
    cmyk = {"art_colour": "cmyk"}
    mixed = page(b"0 0 1 0 k 10 20 20 10 re f 1 0 0 rg 40 20 20 10 re f 0 g 1 1 2 2 re f")
    clean = page(b"0 0 1 0 k 10 20 20 10 re f 0.5 g 40 20 20 10 re f")

    (fault,) = printed_on(tmp_path, mixed, "a.pdf", printer=cmyk, contour="page")
    (drawn,) = printed_on(tmp_path, svg(FIELD + CUT), printer=cmyk, **LAYER)

    assert fault.kind == drawn.kind == "colour"
    assert "1 of 3 elements of the art is RGB" in fault.text
    assert (fault.x_mm, fault.y_mm) == pytest.approx((10, -5), abs=0.01)
    assert "all of the art is RGB" in drawn.text
    assert not printed_on(tmp_path, clean, "a.pdf", printer=cmyk, contour="page")
    assert not printed_on(tmp_path, mixed, "a.pdf", printer={}, contour="page")


def test_a_missing_font_is_told_at_its_first_text(tmp_path):
    art = page(b"BT /F 5 Tf 1 0 0 1 20 30 Tm (berth) Tj 0 -8 Td (seven) Tj ET")

    (fault,) = faults(tmp_path, art, "a.pdf", contour="page")

    assert fault.kind == "font"
    assert "text in Harbour" in fault.text
    assert "2 pieces of text" in fault.text
    assert (fault.x_mm, fault.y_mm) == pytest.approx((-20, 2.5), abs=0.01)


@pytest.mark.parametrize(("dpi", "told"), [(151, 0), (149, 1)])
def test_a_coarse_picture_is_told_at_its_printed_size(tmp_path, dpi, told):
    colour = np.zeros((200, 300, 3), dtype=np.uint8)

    found = faults(tmp_path, png(colour), "a.png", contour="page", width_mm=300 / dpi * 25.4)

    assert kinds(found) == ["resolution"] * told


def test_short_bleed_has_a_place_on_the_side_that_is_short(tmp_path):
    """The field ends at the right side of the cut, x 30 from its middle."""
    field = '<rect x="5" y="5" width="65" height="50" fill="#036"/>'

    (fault,) = faults(tmp_path, svg(field + CUT), **LAYER)

    assert fault.kind == "bleed"
    assert (fault.x_mm, fault.y_mm) == pytest.approx((30, 0), abs=1.5)
    assert fault.size_mm == pytest.approx(30, abs=2)
