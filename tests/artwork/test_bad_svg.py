"""Every bad drawing gets one clear fault: what, where, what to do; and never a traceback."""

import base64

import numpy as np
import pytest

from nestplan.faults import Fault, Faults
from tests.artwork.handmade import XMLNS, loaded, png, svg

CUT = '<rect id="cut" x="10" y="10" width="60" height="40" fill="none"/><circle r="5"/>'


def fault(tmp_path, body: str | bytes, contour="layer:cut", **order) -> Fault:
    """The one fault of a drawing."""
    art = body if isinstance(body, bytes) or "xmlns=" in body else svg(body)
    with pytest.raises(Fault) as caught:
        loaded(tmp_path, art, contour=contour, **order)
    assert caught.value.code == 2
    assert caught.value.do
    assert "plate" in caught.value.where
    return caught.value


@pytest.mark.parametrize(
    ("body", "what", "where"),
    [
        (
            '<path id="cut" d="M10 10h60v40h-60v-38" fill="none"/>',
            "its ends leave a gap of 2.00 mm",
            "x 10.00, y 10.00 mm",
        ),
        ('<line id="cut" x1="5" x2="40" y2="3"/>', "open", '<line id="cut">'),
        ('<path id="cut" d="M10 10h60"/>', "a gap of 60.00 mm", ""),
        ('<path id="cut" d="M10 10z M20 20h0"/>', "encloses no area", ""),
        ('<path id="cut" d="M10 10h60z"/>', "encloses no area", ""),
        ('<path id="cut" d="M10 10h60v40h-20z h-5z"/>', "encloses no area", ""),
        (
            '<path id="cut" d="M10 10L70 50V10L10 50z"/>',
            "crosses or touches itself",
            "x 40.00, y 30.00 mm",
        ),
        (
            '<path id="cut" d="M10 10h60v20h-20v20h-40z M50 30"/>',
            None,
            "",
        ),
        (
            '<g id="cut"><rect width="20" height="20"/>'
            '<rect id="cut too" x="15" y="5" width="20" height="9"/></g>',
            "two cut lines cross or touch",
            "x 20.00, y",
        ),
        ('<circle id="cut" r=".2"/>', "less than 0.5 mm across", ""),
        (
            '<g id="cut"><path id="cut a" d="M0 0h30"/><path d="M30 0v30"/>'
            '<path d="M30 30h-9"/></g>',
            "open",
            "",
        ),
    ],
)
def test_a_line_no_knife_can_follow(tmp_path, body, what, where):
    if what is None:  # the same shape without trouble: the fault is not a false alarm
        assert loaded(tmp_path, svg(body), contour="layer:cut").decals
        return
    found = fault(tmp_path, body)

    assert what in found.what
    assert where in found.where
    assert "cut" in found.where


def test_places_are_told_in_the_art_s_own_millimetres(tmp_path):
    """The decal is ordered twice as large; its file still shows the crossing at 40, 30."""
    body = '<path id="cut" d="M10 10L70 50V10L10 50z"/>'

    assert "x 40.00, y 30.00 mm" in fault(tmp_path, body, width_mm=120).where


def test_all_open_lines_are_told_at_once(tmp_path):
    body = '<g id="cut"><path id="a" d="M1 1h9v9"/><path id="b" d="M40 1h9v9"/></g>'

    with pytest.raises(Faults) as caught:
        loaded(tmp_path, svg(body), contour="layer:cut")

    assert ['"a"' in fault.where for fault in caught.value.each] == [True, False]


@pytest.mark.parametrize(
    ("art", "what", "where"),
    [
        (b"", "empty", "plate.svg"),
        (b"not xml", "not well-formed", "plate.svg:1:1"),
        (svg("<g>")[:-6].encode(), "not well-formed", "plate.svg:1:"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'>\n<g>\n</svg>", "not well-formed", ":3:"),
        (b"\x1f\x8b\x08\0", "compressed", "plate.svg"),
        (b"<?xml version='1.0' encoding='no-such'?><svg/>", "", "plate.svg"),
        (b"<html/>", "<html>, not <svg>", "plate.svg"),
        (b"<svg width='9' height='9'/>", "not <svg> of SVG", "plate.svg"),
        (b"\xff\xfe\xfd", "not well-formed", "plate.svg"),
        (svg("<g>" * 300 + "</g>" * 300).encode(), "nested too deep", "plate.svg"),
    ],
)
def test_a_file_that_is_no_svg(tmp_path, art, what, where):
    found = fault(tmp_path, art)

    assert what in found.what
    assert where in found.where


ENTITIES = '<!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>'


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
@pytest.mark.parametrize(
    "art",
    [
        ENTITIES + svg("<desc>&b;</desc>" + CUT),
        ENTITIES + svg(f'<g class="&b;">{CUT}</g>'),
        '<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/passwd">]>' + svg("<desc>&x;</desc>" + CUT),
        '<!DOCTYPE svg [<!ENTITY % p SYSTEM "http://x.example/p"> %p;]>' + svg(CUT),
    ],
)
def test_entities_are_refused_unread(tmp_path, art, encoding):
    found = fault(tmp_path, art.encode(encoding))

    assert "entity bomb" in found.what
    assert "<!ENTITY>" in found.where


def test_a_doctype_without_entities_is_welcome_and_never_fetched(tmp_path):
    art = (
        '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" '
        '"http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">' + svg(CUT)
    )

    assert loaded(tmp_path, art, contour="layer:cut").decals


OUTSIDE = {
    "picture_in_a_file": '<image id="out" href="photo.png" width="9" height="9"/>',
    "picture_on_the_network": '<image id="out" xlink:href="http://x.example/p.png" width="9"/>',
    "use_of_another_file": '<use id="out" href="other.svg#a"/>',
    "gradient_of_another_file": '<linearGradient id="out" href="other.svg#a"/>',
    "fill_of_another_file": '<rect id="out" fill="url(other.svg#g)" width="9" height="9"/>',
    "fill_in_a_style": '<rect id="out" style="fill:url(\'//x.example/g\')" width="9" height="9"/>',
    "filter_picture": '<filter><feImage id="out" href="photo.png"/></filter>',
    "sheet_imports": '<style id="out">@import "more.css";</style>',
    "sheet_refers": '<style id="out">rect {fill: url(more.svg#g)}</style>',
    "svg_in_a_data_link": '<image id="out" href="data:image/svg+xml,%3Csvg/%3E" width="9"/>',
    "data_link_of_a_use": '<use id="out" href="data:image/svg+xml,%3Csvg/%3E#a"/>',
    "file_scheme": '<image id="out" href="file:///etc/passwd" width="9" height="9"/>',
}


@pytest.mark.parametrize("name", OUTSIDE)
def test_what_reaches_outside_the_file_is_refused_by_name(tmp_path, name):
    found = fault(tmp_path, OUTSIDE[name] + CUT)

    assert "outside its file" in found.what or "cannot be read" in found.what
    assert 'id="out"' in found.where


def test_a_style_sheet_beside_the_file_is_refused(tmp_path):
    found = fault(tmp_path, '<?xml-stylesheet href="a.css"?>' + svg(CUT))

    assert "xml-stylesheet" in found.what


def test_all_outside_references_are_told_at_once(tmp_path):
    body = OUTSIDE["picture_in_a_file"] + OUTSIDE["use_of_another_file"]

    with pytest.raises(Faults) as caught:
        loaded(tmp_path, svg(body + CUT), contour="layer:cut")

    assert len(caught.value.each) == 2


def test_a_link_for_readers_is_no_outside_reference(tmp_path):
    body = f'<a href="http://race-office.example/">{CUT}</a>'

    assert loaded(tmp_path, svg(body), contour="layer:cut").decals


@pytest.mark.parametrize(
    "body",
    [
        '<g id="loop"><use href="#loop"/></g>',
        '<g id="loop"><g><use xlink:href="#two"/></g></g><g id="two"><use href="#loop"/></g>',
        '<use id="loop" href="#loop"/>',
        '<symbol id="loop"><use href="#loop"/></symbol><use href="#loop"/>',
        '<g id="loop"><use href="#page"/></g>',
    ],
)
def test_use_loops_are_refused_by_name(tmp_path, body):
    art = f'<svg {XMLNS} id="page" width="9mm" height="9mm">{body}{CUT}</svg>'

    found = fault(tmp_path, art)

    assert "draws itself" in found.what
    assert "<use" in found.where


def test_uses_of_uses_cannot_grow_without_bound(tmp_path):
    """Seven levels of ten each would be ten million rectangles."""
    levels = "".join(f'<g id="l{k + 1}">' + f'<use href="#l{k}"/>' * 10 + "</g>" for k in range(7))

    found = fault(
        tmp_path, f'<defs><rect id="l0" width="1" height="1"/>{levels}</defs><use href="#l7"/>{CUT}'
    )

    assert "more than 20000 elements" in found.what


def test_too_many_elements_are_refused(tmp_path):
    assert "more than 20000 elements" in fault(tmp_path, "<g/>" * 20_001 + CUT).what


@pytest.mark.parametrize(
    ("body", "what"),
    [
        ('<use id="cut" href="#gone"/>', "refers to '#gone'"),
        ('<rect id="cut" width="9" height="9" clip-path="url(#gone)"/>', "clip-path refers to"),
        ('<rect id="cut" width="9" height="9" mask="url(#gone)"/>', "mask refers to '#gone'"),
        ('<rect id="cut" width="9" height="9" filter="url(#gone)"/>', "filter refers to '#gone'"),
        ('<rect id="cut" width="9" height="9" fill="url(#gone)"/>', "painted with '#gone'"),
        ('<text id="cut" x="9" y="9">berth 12</text>', "the text 'berth 12' is live"),
        ('<text id="cut"><tspan>berth 12</tspan></text>', "the text 'berth 12' is live"),
        ('<filter><feTurbulence id="cut" numOctaves="1000000"/></filter>', "numOctaves is 1000000"),
        ('<filter><feConvolveMatrix id="cut" order="3 99"/></filter>', "order is 3 99"),
        (
            '<g transform="scale(9e8)"><g transform="scale(9e8)" id="cut"/></g>',
            "beyond all numbers",
        ),
        ('<mask><text id="cut">12</text></mask>', "the text '12' is live"),
        ('<clipPath><text id="cut">12</text></clipPath>', "the text '12' is live"),
        ('<foreignObject id="cut" width="9" height="9"/>', "<foreignObject>"),
        ('<path id="cut" d="M0 0 L10 x"/>', "no sense at character 10"),
        ('<path id="cut" d="L0 0"/>', "begins with 'L0 0', not with M"),
        ('<path id="cut" d="M0 0 A5 5 0 2 1 9 9"/>', "flag at character 13"),
        ('<path id="cut" d="M0 0 L1e999 0"/>', "too large a number"),
        ('<path id="cut" d="M0 0z 5 5"/>', "no sense at character 7"),
        ('<rect id="cut" width="-9" height="9"/>', "width is -9, less than nothing"),
        ('<circle id="cut" r="-1"/>', "r is -1"),
        ('<rect id="cut" width="9q9" height="9"/>', "'9q9' is not a length"),
        ('<rect id="cut" width="9em" height="9"/>', "depends on a font"),
        ('<rect id="cut" width="nan" height="9"/>', "'nan' is not a length"),
        ('<rect id="cut" width="9" height="9" transform="turn(5)"/>', "1 numbers in turn()"),
        ('<rect id="cut" width="9" height="9" transform="scale(1"/>', "makes no sense from"),
        ('<rect id="cut" width="9" height="9" transform="rotate()"/>', "0 numbers in rotate()"),
        ('<polygon id="cut" points="1 2 3 x"/>', "not a list of numbers"),
        ('<rect id="cut" style="fill:var(--ink)" width="9" height="9"/>', "fill is 'var(--ink)'"),
        ('<rect id="cut" width="calc(1px + 2px)" height="9"/>', "that CSS computes"),
        ('<rect id="cut" width="9" height="9" clip-path="circle(5px)"/>', "clip-path is 'circle"),
        (
            '<rect id="cut" width="9" height="9" transform="scale(2)" transform-origin="50% 50%"/>',
            "transform-origin is '50% 50%'",
        ),
        ('<svg id="cut" viewBox="0 0 0 9"><rect width="9" height="9"/></svg>', "viewBox"),
        ('<svg id="cut" viewBox="0 0 9 9" preserveAspectRatio="best"/>', "preserveAspectRatio"),
    ],
)
def test_what_cannot_be_read_is_named_with_its_element(tmp_path, body, what):
    found = fault(tmp_path, body)

    assert what in found.what
    assert '"cut"' in found.where


@pytest.mark.parametrize(
    ("page", "what"),
    [
        ("", "neither width and height nor a viewBox"),
        ('width="0" height="9"', "the page is 0 × 9 px"),
        ('width="-5mm" height="9mm"', "the page is"),
        ('width="9mm" height="9mm" viewBox="0 0 9"', "not four numbers"),
        ('width="9em" height="9em"', "depends on a font"),
    ],
)
def test_a_page_without_a_size_is_refused(tmp_path, page, what):
    assert what in fault(tmp_path, svg(CUT, page)).what


@pytest.mark.parametrize(
    "body",
    [
        "<script>alert(1)</script>",
        '<rect width="9" height="9"><animate attributeName="x" to="9"/></rect>',
        "<text> </text>",
        '<text display="none">hidden</text>',
        '<g visibility="hidden"><text>hidden</text></g>',
        '<defs><text id="t">unused</text></defs>',
        "<!-- --><?pi?><desc>x</desc><metadata><other/></metadata>",
        "<shop:view/>",
        "<style>circle {fill: red} @font-face {font-family: x}</style>",
        "<switch><foreignObject requiredExtensions='x'/><g/></switch>",
    ],
)
def test_what_does_no_harm_is_read_without_a_word(tmp_path, body):
    art = loaded(tmp_path, svg(body + CUT), contour="layer:cut")

    assert art.notes == ()


def test_a_style_rule_that_is_not_understood_is_noted(tmp_path):
    body = "<style>rect:nonsense(2) {fill: red} @media print {rect {fill: none}}</style>" + CUT

    art = loaded(tmp_path, svg(body), contour="layer:cut")

    assert [note.level for note in art.notes] == ["look", "look"]


def test_nothing_painted_has_no_outer_edge(tmp_path):
    body = '<rect width="9" height="9" fill="none"/><circle cx="500" cy="500" r="9"/>'

    assert "paints nothing" in fault(tmp_path, body, contour="outline").what


def test_an_embedded_picture_that_is_broken_is_refused(tmp_path):
    found = fault(tmp_path, f'<image id="cut" href="data:image/png;base64,AAAA" width="9"/>{CUT}')

    assert "cannot be read" in found.what


def test_an_embedded_picture_that_unfolds_too_far_is_refused(tmp_path):
    bomb = base64.b64encode(png(np.zeros((10_001, 10_000), dtype=np.uint8))).decode()

    found = fault(tmp_path, f'<image id="cut" href="data:image/png;base64,{bomb}" width="9"/>{CUT}')

    assert "10000 × 10001 pixels" in found.what


def test_a_cut_line_that_a_clip_hides_in_part_is_refused(tmp_path):
    clip = '<clipPath id="c"><rect width="50" height="60"/></clipPath>'
    body = f'{clip}<g clip-path="url(#c)">{CUT}</g>'

    assert "hidden in part by a clip path" in fault(tmp_path, body).what


def test_shrinking_to_nothing_is_refused(tmp_path):
    found = fault(tmp_path, '<rect width="9" height="9"/>', contour="offset:-5")

    assert "shrinks by 5 mm" in found.what


def test_a_width_that_its_offset_alone_fills_is_refused(tmp_path):
    found = fault(tmp_path, '<rect width="9" height="9"/>', contour="offset:5", width_mm=10)

    assert "takes 10 mm, but width_mm is 10" in found.what


def test_art_is_never_stretched(tmp_path):
    found = fault(tmp_path, CUT, width_mm=60, height_mm=50)

    assert "40 mm high, not 50" in found.what


def test_a_page_of_kilometres_is_refused(tmp_path):
    """A cut line of a hair on a large page, ordered 60 mm wide."""
    page = 'width="1000mm" height="1000mm" viewBox="0 0 100000 100000"'
    art = svg('<rect id="cut" width="60" height="40" fill="none"/>', page)

    assert "its page would be 100.0 m wide" in fault(tmp_path, art, width_mm=60).what


def test_groups_nested_deeper_than_a_pdf_allows_are_refused(tmp_path):
    body = "<g opacity='.9'>" * 3 + "<g>" * 40 + '<circle r="5"/>' + "</g>" * 43

    found = fault(tmp_path, body + CUT)

    assert "cannot be written as PDF" in found.what
