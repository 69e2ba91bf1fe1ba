"""Which line of the art is cut: by layer, by colour, the page, the outer edge, an offset."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.artwork.art import upright
from nestplan.artwork.svg.drawing import read_drawing
from nestplan.artwork.svg.paint import painted_region
from nestplan.faults import Fault
from tests.artwork.handmade import decal, loaded, svg

PLATE = '<rect x="10" y="10" width="60" height="40" fill="none" stroke="#f0f"/>'
ART = '<circle cx="40" cy="30" r="5"/>'


@pytest.mark.parametrize(
    "body",
    [
        '<g id="cut line"><rect x="10" y="10" width="60" height="40"/></g>',
        '<g shop:label="cut line"><rect x="10" y="10" width="60" height="40"/></g>',
        '<g label="cut line"><g><rect x="10" y="10" width="60" height="40"/></g></g>',
        '<rect id="cut line" x="10" y="10" width="60" height="40"/>',
        '<defs><g id="cut line"><rect width="60" height="40"/></g></defs>'
        '<use href="#cut line" x="10" y="10"/>',
        '<defs><rect id="r" width="60" height="40"/></defs>'
        '<g id="cut line"><use href="#r" x="10" y="10"/></g>',
    ],
)
def test_a_layer_is_a_group_or_shape_with_that_id_or_label(tmp_path, body):
    found = decal(tmp_path, svg(body + "<circle r='5'/>"), contour="layer:cut line")

    assert found.contour.bounds_mm == pytest.approx((-30, -20, 30, 20))
    assert found.contour.area_mm2 == pytest.approx(2400)


@pytest.mark.parametrize(
    "stroke",
    [
        'stroke="#f0f"',
        'stroke="#FF00FF"',
        'stroke="magenta"',
        'stroke="rgb(255, 0, 255)"',
        'stroke="rgb(100%, 0%, 100%)"',
        'style="stroke:fuchsia"',
        'class="cut"',
        'stroke="currentColor" color="magenta"',
        'stroke="hsl(300, 100%, 50%)"',
        'stroke="#f0f" stroke-width="0"',
    ],
)
def test_a_colour_is_the_computed_stroke_however_it_is_written(tmp_path, stroke):
    body = f"""<style>g > .cut {{stroke: #ff00ff}}</style><g fill="none">
        <rect x="10" y="10" width="60" height="40" {stroke}/>
        <circle r="5" stroke="#fe00ff" fill="#f0f"/></g>"""

    found = decal(tmp_path, svg(body), contour="colour:#ff00ff")

    assert found.contour.bounds_mm == pytest.approx((-30, -20, 30, 20))


def test_the_colour_of_a_group_is_inherited(tmp_path):
    body = '<g stroke="#f0f"><g><rect x="10" y="10" width="60" height="40"/></g></g>'

    assert decal(tmp_path, svg(body), contour="colour:#FF00ff").contour.width_mm == 60


def test_the_cut_line_is_the_middle_of_its_stroke(tmp_path):
    body = '<rect x="10" y="10" width="60" height="40" fill="none" stroke="#f0f" stroke-width="9"/>'

    assert decal(tmp_path, svg(body), contour="colour:#ff00ff").contour.width_mm == 60


def test_the_page_is_cut_whatever_stands_on_it(tmp_path):
    found = decal(tmp_path, svg("<circle r='500'/>"), contour="page")

    assert found.contour.bounds_mm == pytest.approx((-50, -30, 50, 30))


def test_rings_in_rings_are_holes_and_islands(tmp_path):
    """By hand: 60 × 40 - 40 × 20 + 10 × 10 = 1700 mm²."""
    body = """<g id="cut"><rect x="30" y="25" width="10" height="10"/>
        <rect x="10" y="10" width="60" height="40"/><path d="M20 20h40v20h-40z"/></g>"""

    contour = decal(tmp_path, svg(body), contour="layer:cut").contour

    assert contour.area_mm2 == pytest.approx(1700)
    assert [shapely.LinearRing(ring).is_ccw for ring in contour.rings] in (
        [True, False, True],
        [True, True, False],
    )


def test_a_hole_belongs_to_the_smallest_ring_around_it(tmp_path):
    """Five rings in each other: 50² - 40² + 30² - 20² + 10² = 1500 mm²; the inner hole lies in
    the island, not in the plate."""
    rings = [f'<rect x="{k}" y="{k}" width="{50 - 2 * k}" height="{50 - 2 * k}"/>' for k in (
        10, 0, 20, 5, 15)]  # fmt: skip

    contour = decal(tmp_path, svg(f'<g id="cut">{"".join(rings)}</g>'), contour="layer:cut").contour

    assert contour.area_mm2 == pytest.approx(1500)
    assert contour.region.is_valid
    sides = [np.ptp(ring[:, 0]) for ring in contour.rings]
    assert [shapely.LinearRing(ring).is_ccw for ring in contour.rings].count(True) == 3
    assert sides[sides.index(50) + 1] == pytest.approx(40)
    assert sides[sides.index(30) + 1] == pytest.approx(20)


plates = st.tuples(*[st.integers(0, 80)] * 2, *[st.integers(2, 12)] * 2)


@given(st.lists(plates, min_size=20, max_size=40))
def test_the_outer_edge_of_many_shapes_is_their_union(found):
    """Dozens of rectangles of at least 2 mm, on the whole millimetre, so no speck is left
    out; shapely unites them on its own."""
    shapes = "".join(f'<rect x="{x}" y="{y}" width="{w}" height="{h}"/>' for x, y, w, h in found)
    drawing = read_drawing(svg(shapes).encode(), "plate.svg")

    painted = painted_region(drawing.shapes, upright(25.4 / 96), 0.02)

    wanted = shapely.union_all([shapely.box(x, -y - h, x + w, -y) for x, y, w, h in found])
    assert painted.symmetric_difference(wanted).area == pytest.approx(0, abs=1e-6)


def test_several_plates_are_one_contour_of_several_pieces(tmp_path):
    body = '<g id="cut"><circle cx="20" cy="30" r="9"/><circle cx="60" cy="30" r="9"/></g>'

    contour = decal(tmp_path, svg(body), contour="layer:cut").contour

    assert len(contour.rings) == 2
    assert contour.width_mm == pytest.approx(58)


def test_an_outline_keeps_its_holes(tmp_path):
    body = '<path fill-rule="evenodd" d="M10 10h60v40h-60z M20 20h40v20h-40z"/>'

    assert decal(tmp_path, svg(body), contour="outline").contour.area_mm2 == pytest.approx(1600)


def test_an_outline_includes_half_the_stroke(tmp_path):
    body = '<rect x="10" y="10" width="60" height="40" stroke="red" stroke-width="4"/>'

    assert decal(tmp_path, svg(body), contour="outline").contour.width_mm == pytest.approx(64)


def test_an_offset_closes_narrow_gaps_and_rounds_corners(tmp_path):
    """Two squares 3 mm apart, grown by 2 mm, are one piece."""
    body = (
        '<rect x="10" y="10" width="20" height="20"/><rect x="33" y="10" width="20" height="20"/>'
    )

    contour = decal(tmp_path, svg(body), contour="offset:2").contour

    assert len(contour.rings) == 1
    assert contour.width_mm == pytest.approx(47, abs=1e-6)
    corner = np.array([contour.bounds_mm[0], contour.bounds_mm[1]])
    nearest = np.hypot(*(contour.rings[0] - corner).T).min()
    assert nearest == pytest.approx(2 * (np.sqrt(2) - 1), abs=0.02)


def test_a_negative_offset_shrinks(tmp_path):
    body = '<rect x="10" y="10" width="60" height="40"/>'

    assert decal(tmp_path, svg(body), contour="offset:-2").contour.area_mm2 == pytest.approx(
        56 * 36
    )


def test_hairlines_between_abutting_shapes_are_not_cut(tmp_path):
    """Drawing programs round to 0.001; a knife would run up and down the seam."""
    body = '<rect width="20" x="10" height="30"/><rect x="30.001" width="20" height="30"/>'

    contour = decal(tmp_path, svg(body), contour="outline").contour

    assert len(contour.rings) == 1
    assert contour.length_mm == pytest.approx(140, abs=0.1)


def test_specks_are_left_out_with_a_note(tmp_path):
    body = """<path fill-rule="evenodd" d="M10 10h60v40h-60z M20 20h.5v.5h-.5z"/>
        <rect x="80" y="20" width=".5" height=".5"/>"""

    art = loaded(tmp_path, svg(body), contour="outline")

    (found,) = art.decals
    assert len(found.contour.rings) == 1
    (note,) = art.notes
    assert note.level == "look"
    assert "1 speck and 1 hole are below 1 mm² left out" in note.text


def test_one_line_drawn_twice_is_cut_once_with_a_note(tmp_path):
    twin = PLATE.replace("<rect", '<rect id="twin"')
    body = f'<g id="cut">{PLATE}{twin}</g>{ART}'

    art = loaded(tmp_path, svg(body), contour="layer:cut")

    (found,) = art.decals
    assert len(found.contour.rings) == 1
    (note,) = art.notes
    assert (note.level, "twin" in note.where) == ("look", True)
    assert "cut once" in note.text


def test_rings_too_small_for_a_knife_are_left_out_with_a_note(tmp_path):
    body = f'<g id="cut">{PLATE}<circle id="dust" cx="5" cy="5" r=".2" fill="none"/></g>{ART}'

    art = loaded(tmp_path, svg(body), contour="layer:cut")

    (note,) = art.notes
    assert note.level == "look"
    assert "1 ring of the cut line less than 0.5 mm across is left out" in note.text
    assert "dust" in note.text


def test_lines_that_meet_at_their_ends_are_one_ring(tmp_path):
    """A rectangle as four lines, drawn in any order and direction, 0.03 mm apart at a corner."""
    body = """<g id="cut" stroke="red"><path d="M10 10H70"/><path d="M10 50V10"/>
        <path d="M70 10.03V50"/><path d="M10 50H70"/></g>"""

    contour = decal(tmp_path, svg(body), contour="layer:cut").contour

    assert contour.area_mm2 == pytest.approx(2400, abs=2)
    assert len(contour.rings) == 1


def test_a_gap_of_less_than_a_knife_step_is_closed(tmp_path):
    body = '<path id="cut" fill="none" d="M10 10h60v40h-60v-39.96"/>'

    contour = decal(tmp_path, svg(body), contour="layer:cut").contour

    assert contour.area_mm2 == pytest.approx(2400, abs=2)


@pytest.mark.parametrize(
    ("contour", "names"),
    [
        ("layer:cutt", ["'cutt'", "cut, art, frame"]),
        ("colour:#ff00fe", ["#ff00fe", "#ff00ff, #0000ff"]),
    ],
)
def test_a_contour_that_is_not_there_is_answered_with_what_is(tmp_path, contour, names):
    body = f"""<g id="cut">{PLATE}</g><g id="art"><rect id="frame" width="9" height="9"
        stroke="blue"/></g>"""

    with pytest.raises(Fault) as caught:
        loaded(tmp_path, svg(body), contour=contour)

    assert names[0] in caught.value.what
    assert names[1] in caught.value.do
    assert "plate.svg" in caught.value.where
    assert caught.value.code == 2


def test_a_layer_name_is_not_guessed_when_there_is_none(tmp_path):
    with pytest.raises(Fault, match="no layer named 'cut'") as caught:
        loaded(tmp_path, svg('<rect width="9" height="9"/>'), contour="layer:cut")

    assert "it has none at all" in caught.value.do


@pytest.mark.parametrize("how", ['display="none"', 'style="visibility:hidden"'])
def test_a_hidden_cut_line_is_told_apart_from_a_missing_one(tmp_path, how):
    with pytest.raises(Fault, match="is hidden in the art"):
        loaded(tmp_path, svg(f'<g id="cut" {how}>{PLATE}</g>'), contour="layer:cut")


def test_a_fill_that_goes_with_the_cut_layer_is_noted(tmp_path):
    body = '<rect id="cut" width="60" height="40"/>' + ART

    art = loaded(tmp_path, svg(body), contour="layer:cut")

    assert [("fills" in note.text, note.level) for note in art.notes] == [(True, "look")]


def test_art_that_is_all_cut_line_prints_nothing_and_says_so(tmp_path):
    (note,) = loaded(tmp_path, svg(PLATE), contour="colour:#ff00ff").notes

    assert (note.level, note.text) == (
        "know",
        "nothing is left to print: the art is all cut line",
    )


def test_art_that_falls_apart_is_noted(tmp_path):
    body = '<circle cx="20" cy="30" r="9"/><circle cx="60" cy="30" r="9"/>'

    art = loaded(tmp_path, svg(body), contour="outline")

    assert ["2 separate pieces" in note.text for note in art.notes] == [True]


def test_art_beyond_the_page_is_noted_with_how_far(tmp_path):
    art = loaded(tmp_path, svg('<circle cx="95" cy="30" r="20"/>'), contour="outline")

    assert ["15.0 mm beyond its page" in note.text for note in art.notes] == [True]


def test_a_cut_line_inside_its_clip_is_whole(tmp_path):
    body = f"""<clipPath id="board"><rect width="100" height="60"/></clipPath>
        <g clip-path="url(#board)">{PLATE}</g>"""

    assert decal(tmp_path, svg(body), contour="colour:#ff00ff").contour.width_mm == 60
