"""Drawings as programs save them: planned as they look, or refused with the element and why."""

import io
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pypdfium2
import pytest
import resvg_py
from PIL import Image, ImageFilter

from nestplan.faults import Fault, Faults
from tests.artwork.handmade import decal, loaded, svg

CUT = '<rect x="10" y="10" width="60" height="40" fill="none" stroke="#f0f"/>'

# each looks alike in resvg, which reads the file itself, and in pdfium, which reads our PDF
LOOKS = {
    "mask_of_a_gradient": """<linearGradient id="g"><stop offset="0" stop-color="white"/>
        <stop offset="1"/></linearGradient><mask id="m"><rect width="100" height="60"
        fill="url(#g)"/></mask><rect x="10" y="10" width="80" height="40" fill="red"
        mask="url(#m)"/>""",
    "mask_by_alpha": """<mask id="m" mask-type="alpha"><circle cx="50" cy="30" r="20"/></mask>
        <rect x="10" y="5" width="80" height="50" fill="red" mask="url(#m)"/>""",
    "mask_in_a_mask": """<mask id="n"><rect width="50" height="60" fill="white"/></mask>
        <mask id="m" mask="url(#n)"><circle cx="50" cy="30" r="20" fill="white"/></mask>
        <rect x="10" y="5" width="80" height="50" fill="red" mask="url(#m)"/>""",
    "clip_in_a_clip": """<clipPath id="n"><rect width="50" height="60"/></clipPath>
        <clipPath id="m" clip-path="url(#n)"><circle cx="50" cy="30" r="20"/></clipPath>
        <rect x="10" y="5" width="80" height="50" fill="red" clip-path="url(#m)"/>""",
    "pattern_turned_and_inherited": """<pattern id="q" width="10" height="10"
        patternUnits="userSpaceOnUse"><rect width="5" height="10" fill="red"/></pattern>
        <pattern id="p" href="#q" patternTransform="skewX(30)"/>
        <rect x="10" y="5" width="80" height="50" fill="url(#p)"/>""",
    "pattern_on_a_stroke": """<pattern id="p" width=".1" height=".1" viewBox="0 0 4 4">
        <rect width="2" height="4" fill="navy"/></pattern><rect x="20" y="15" width="60"
        height="30" fill="none" stroke="url(#p)" stroke-width="12"/>""",
    "gradient_with_a_focus": """<radialGradient id="g" fx=".3" fy=".3" r=".6">
        <stop offset="0" stop-color="white"/><stop offset="1" stop-color="navy"/></radialGradient>
        <rect x="10" y="5" width="80" height="50" fill="url(#g)"/>""",
    "gradient_that_inherits_its_stops": """<linearGradient id="h"><stop offset="0"
        stop-color="red"/><stop offset="1" stop-color="blue"/></linearGradient>
        <linearGradient id="g" href="#h" gradientUnits="userSpaceOnUse" x1="20" x2="80"/>
        <rect x="10" y="5" width="80" height="50" fill="url(#g)"/>""",
    "symbol_in_a_corner_of_its_frame": """<symbol id="s" viewBox="0 0 10 20"
        preserveAspectRatio="xMaxYMid meet"><rect width="10" height="20" fill="red"/></symbol>
        <use href="#s" x="10" y="5" width="80" height="50"/>""",
    "use_hands_on_its_style": """<defs><g id="a"><rect x="10" y="10" width="20" height="20"/>
        <rect x="40" y="10" width="20" height="20" fill="lime"/></g></defs>
        <use href="#a" fill="red" stroke="navy" stroke-width="3"/>""",
    "sheet_in_cdata": """<style type="text/css"><![CDATA[ .st0{fill:#FF0000;} /* x */
        .st1{fill:none;stroke:#0000FF;stroke-width:4;stroke-miterlimit:10;} ]]></style>
        <rect class="st0" x="10" y="10" width="30" height="40"/>
        <rect class="st1" x="55" y="10" width="30" height="40"/>""",
    "group_that_lets_through": """<g opacity=".5"><rect x="10" y="10" width="40" height="30"
        fill="red"/><rect x="30" y="20" width="40" height="30" fill="blue"/></g>""",
    "colours_that_multiply": """<rect width="100" height="60" fill="gold"/><g
        style="isolation:isolate"><rect x="10" y="10" width="40" height="30" fill="red"/>
        <rect x="30" y="20" width="40" height="30" fill="cyan" style="mix-blend-mode:multiply"/>
        </g>""",
    "stroke_below_its_fill": """<circle cx="50" cy="30" r="18" fill="red" stroke="navy"
        stroke-width="12" paint-order="stroke"/>""",
    "markers_at_every_corner": """<marker id="m" markerWidth="4" markerHeight="4" refX="2" refY="2"
        orient="auto"><path d="M0 0L4 2L0 4z" fill="lime"/></marker><path fill="none" stroke="red"
        d="M10 50L40 10L60 45L90 20" stroke-width="3" marker-start="url(#m)" marker-mid="url(#m)"
        marker-end="url(#m)"/>""",
    "blur": """<filter id="f"><feGaussianBlur stdDeviation="3"/></filter><g filter="url(#f)">
        <rect x="20" y="10" width="50" height="30" fill="red"/></g>""",
    "choice_between_a_foreign_object_and_a_group": """<switch><foreignObject width="1" height="1"
        requiredExtensions="http://x.example/"/><g><rect x="10" y="10" width="50" height="30"
        fill="red"/></g></switch>""",
}


def shown(body: str, contour: str = "page") -> tuple[Image.Image, Image.Image]:
    """Our PDF as pdfium renders it, and the file as resvg does."""
    with TemporaryDirectory() as folder:
        (found,) = loaded(Path(folder), svg(body), contour=contour).decals
    page = pypdfium2.PdfDocument(found.picture.pdf)[0]
    ours = page.render(scale=600 / page.get_width()).to_pil().convert("RGB").resize((600, 360))
    text = svg(body, 'width="600" height="360" viewBox="0 0 100 60"')
    theirs = resvg_py.svg_to_bytes(svg_string=text, skip_system_fonts=True, background="white")
    return ours, Image.open(io.BytesIO(theirs)).convert("RGB")


@pytest.mark.parametrize("name", LOOKS)
def test_the_print_looks_like_the_file(name):
    ours, theirs = shown(LOOKS[name])
    low, high = (
        np.asarray(theirs.filter(each(3))).astype(int)
        for each in (ImageFilter.MinFilter, ImageFilter.MaxFilter)
    )
    seen = np.asarray(ours).astype(int)
    wrong = ((seen < low - 24) | (seen > high + 24)).any(axis=2)

    assert np.asarray(theirs).min() < 250, "there is something to see"
    assert wrong.mean() <= 0.006  # pdfium draws the edges of turned patterns without half tones


@pytest.mark.parametrize(
    ("text", "rgb"),
    [  # W3C, CSS Color Module Level 4, in its own examples' terms
        ("rgb(255 0 0)", (255, 0, 0)),
        ("rgb(100% 50% 0%)", (255, 128, 0)),
        ("hsl(120deg 100% 25%)", (0, 128, 0)),
        ("hwb(120 0% 50%)", (0, 128, 0)),
        ("RebeccaPurple", (0x66, 0x33, 0x99)),
        ("rgb(255 0 0 / 50%)", (255, 127, 127)),
        ("#f008", (255, 119, 119)),
    ],
)
def test_colours_of_today_are_printed_as_they_are_meant(text, rgb):
    for body in (
        f'<rect width="100" height="60" fill="{text}"/>',
        f'<style>.a{{fill:{text}}}</style><rect class="a" width="100" height="60"/>',
    ):
        ours, _ = shown(body)
        assert ours.getpixel((300, 180)) == pytest.approx(rgb, abs=2)


@pytest.mark.parametrize(
    ("body", "what"),
    [
        (
            '<linearGradient id="g" x2=".2" spreadMethod="reflect"><stop/></linearGradient>'
            '<rect width="9" height="9" fill="url(#g)"/>',
            "spreadMethod='reflect'",
        ),
        (
            '<radialGradient id="h" spreadMethod="repeat"><stop/></radialGradient><pattern id="p">'
            '<rect width="9" height="9" fill="url(#h)"/></pattern>'
            '<rect width="9" height="9" fill="url(#p)"/>',
            "spreadMethod='repeat'",
        ),
        ('<rect width="9" height="9" style="rotate:30deg"/>', "rotate: '30deg'"),
        ('<style>path{d:path("M0 0h9v9z")}</style><path/>', "the style says d"),
        (
            '<path d="M0 0h9" stroke="red" stroke-dasharray="1" pathLength="9"/>',
            "counted in shares of pathLength",
        ),
        (
            '<g transform="scale(2)"><path d="M0 0h9" stroke="red" '
            'style="vector-effect:non-scaling-stroke"/></g>',
            "does not grow with the drawing",
        ),
        ('<rect width="9" height="9" fill="oklch(60% .2 30)"/>', "is not one of sRGB"),
        ('<rect width="9" height="9" fill="device-cmyk(0 1 1 0)"/>', "is not understood"),
    ],
)
def test_what_would_look_otherwise_is_refused(tmp_path, body, what):
    with pytest.raises((Fault, Faults)) as caught:
        loaded(tmp_path, svg(body), contour="page")

    assert what in str(caught.value)
    assert "line 1" in str(caught.value)


@pytest.mark.parametrize(
    "group",
    [
        '<g id="cut_x20_line">',
        '<g id="a1" data-name="cut line">',
        '<g id="a1"><title>cut line</title>',
        '<g id="cut_x0020_line">',
        '<g id="layer3" shop:label="cut line" shop:groupmode="layer" style="display:inline">',
    ],
)
def test_a_layer_is_found_by_the_name_a_person_gave_it(tmp_path, group):
    found = decal(tmp_path, svg(f"{group}{CUT}</g><circle r='5'/>"), contour="layer:cut line")

    assert found.contour.bounds_mm == pytest.approx((-30, -20, 30, 20))


def test_plain_entities_are_written_out(tmp_path):
    """Older programs declare namespaces and styles so."""
    head = (
        '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/Graphics/SVG/1.1/DTD/'
        'svg11.dtd" [<!ENTITY ns_svg "http://www.w3.org/2000/svg"><!ENTITY st "stroke:#f0f">]>'
    )
    art = f'{head}<svg xmlns="&ns_svg;" width="100mm" height="60mm" viewBox="0 0 100 60">'
    art += '<rect x="10" y="10" width="60" height="40" style="&st;"/></svg>'

    found = decal(tmp_path, art, contour="colour:#ff00ff")

    assert found.contour.area_mm2 == pytest.approx(2400)


@pytest.mark.parametrize(
    "art",
    [
        '<!DOCTYPE svg [<!ENTITY a "xxxx"><!ENTITY b "&a;&a;">]>',
        "<!DOCTYPE svg [<!ENTITY a '" + "x" * 3000 + "'>]>",
        '<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/passwd">]>',
        '<!DOCTYPE svg [<!ENTITY a "<rect/>">]>',
    ],
)
def test_entities_that_could_grow_or_reach_out_are_refused(tmp_path, art):
    with pytest.raises(Fault, match="defines entities"):
        loaded(tmp_path, art + svg(CUT), contour="page")


def test_a_transform_turns_about_its_origin(tmp_path):
    art = svg(
        "<style>rect{transform-origin:45px 25px;transform:rotate(90deg)}</style>"
        '<rect x="30" y="15" width="30" height="20"/><circle cx="5" cy="5" r="5"/>'
    )

    found = decal(tmp_path, art, contour="outline")

    left, _, right, top = found.picture.box_mm
    assert right - left == pytest.approx(100)
    rect = max(found.contour.region.geoms, key=lambda part: part.area).bounds
    assert (rect[0] - left, top - rect[3], rect[2] - left, top - rect[1]) == pytest.approx(
        (35, 10, 55, 40), abs=0.02
    )
