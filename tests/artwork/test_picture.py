"""The printed picture: vector, without its cut line, and exactly where `box_mm` says."""

import base64
import hashlib
import io
import subprocess
import sys

import numpy as np
import pikepdf
import pypdfium2
import pytest
import shapely

from nestplan.artwork import Decal
from nestplan.faults import Fault
from tests.artwork.handmade import decal, disc, loaded, png, svg

PER_MM = 8


def ink(found: Decal) -> tuple[np.ndarray, np.ndarray]:
    """Pixels with ink as pdfium shows the picture, and the decal coordinates of their centres."""
    left, bottom, right, top = found.picture.box_mm
    page = pypdfium2.PdfDocument(found.picture.pdf)[0]
    scale = PER_MM * (right - left) / page.get_width()
    assert page.get_height() * scale == pytest.approx(PER_MM * (top - bottom), rel=1e-4)
    dark = page.render(scale=scale).to_numpy()[..., :3].min(axis=2) < 128
    row, column = np.indices(dark.shape)
    x = left + (column + 0.5) / PER_MM
    y = top - (row + 0.5) / PER_MM
    return dark, np.stack([x, y], axis=-1)


def within(found: Decal, at: np.ndarray, grown_mm: float) -> np.ndarray:
    """Which places lie in the contour grown by so much."""
    return shapely.contains_xy(found.contour.region.buffer(grown_mm), at[..., 0], at[..., 1])


def images(pdf: bytes) -> list[pikepdf.Object]:
    """Every image anywhere in a PDF."""
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        return [
            (int(o.Width), int(o.Height))
            for o in opened.objects
            if isinstance(o, pikepdf.Stream) and o.get("/Subtype") == "/Image"
        ]


L_SHAPE = "M10 10h60v12h-40v20h-20z"


@pytest.mark.parametrize("width_mm", [None, 24.0, 61.0])
@pytest.mark.parametrize(
    "page",
    [
        'width="100mm" height="60mm" viewBox="0 0 100 60"',
        'width="4in" height="80mm" viewBox="-20 -5 120 70"',
        'viewBox="0 0 100 60"',
        'width="30mm" height="90mm" viewBox="0 0 100 60" preserveAspectRatio="xMinYMax"',
    ],
)
def test_ink_lies_inside_the_contour_that_was_drawn_from_the_same_shape(tmp_path, page, width_mm):
    """A shape that is black inside its outer edge and nowhere else: every pixel with ink lies in
    the contour, every other outside, but for those on the edge."""
    art = svg(f'<path d="{L_SHAPE}"/>', page)

    found = decal(tmp_path, art, contour="outline", width_mm=width_mm)

    dark, at = ink(found)
    deep, near = within(found, at, -1.5 / PER_MM), within(found, at, 1.5 / PER_MM)
    assert dark[deep].all()
    assert not dark[~near].any()
    assert deep.sum() > 100


def test_a_png_s_ink_lies_inside_its_contour(tmp_path):
    samples = disc(60)
    samples[20:60, 20:40, 3] = 0  # no longer round: left and right, up and down are told apart

    found = decal(tmp_path, png(samples), "plate.png", contour="outline", height_mm=30)

    dark, at = ink(found)
    deep, near = within(found, at, -0.4), within(found, at, 0.4)
    assert dark[deep].all()
    assert not dark[~near].any()


def test_art_outside_the_page_is_printed_as_far_as_the_bleed_goes(tmp_path):
    """The page is the trim, its background reaches 5 mm beyond: with 3 mm of bleed the picture
    shows 3 mm of it."""
    art = svg('<rect x="-5" y="-5" width="110" height="70"/>')

    found = loaded(tmp_path, art, contour="page", bleed_mm=3.0)

    (one,) = found.decals
    assert one.picture.box_mm == pytest.approx((-53, -33, 53, 33))
    assert ink(one)[0].all()
    assert found.notes == ()


@pytest.mark.parametrize(
    ("body", "contour"),
    [
        (f'<g id="cut"><path d="{L_SHAPE}" stroke="black" stroke-width="4"/></g>', "layer:cut"),
        (f'<path id="cut" d="{L_SHAPE}" stroke="#000" stroke-width="4"/>', "layer:cut"),
        (
            f'<defs><path id="p" d="{L_SHAPE}"/></defs><use id="cut" href="#p" stroke="black"/>',
            "layer:cut",
        ),
        (
            f'<path d="{L_SHAPE}" fill="none" stroke="#010101" stroke-width="4"/>',
            "colour:#010101",
        ),
        (
            f'<style>.k path {{fill:none;stroke:#010101}}</style><g class="k"><path d="{L_SHAPE}"'
            ' stroke-width="4"/></g>',
            "colour:#010101",
        ),
    ],
)
def test_the_cut_line_is_not_printed(tmp_path, body, contour):
    """Only a disc far from the cut line remains."""
    found = decal(tmp_path, svg(body + '<circle cx="85" cy="45" r="5"/>'), contour=contour)

    dark, at = ink(found)
    left, _, _, top = found.picture.box_mm
    away = np.hypot(at[..., 0] - left - 85, top - at[..., 1] - 45)
    assert dark[away < 4.8].all()
    assert not dark[away > 5.2].any()


def test_a_fill_stays_when_only_its_stroke_is_the_cut_line(tmp_path):
    body = f'<path d="{L_SHAPE}" stroke="#f0f" stroke-width="8"/>'

    found = decal(tmp_path, svg(body), contour="colour:#ff00ff")

    dark, at = ink(found)
    assert dark[within(found, at, -0.2)].all()
    assert not dark[~within(found, at, 0.2)].any()


def test_a_shape_used_as_art_too_stays_where_it_is_art(tmp_path):
    """One drawing, used black on the left, and on the right as the cut line."""
    body = """<defs><path id="p" d="M0 0h20v20h-20z"/></defs><use href="#p" x="10" y="20"/>
        <g stroke="#f0f" fill="none"><use href="#p" x="60" y="20"/></g>"""

    found = decal(tmp_path, svg(body), contour="colour:#ff00ff")

    dark, at = ink(found)
    left, _, _, _ = found.picture.box_mm
    x = at[..., 0] - left
    assert dark[(x > 11) & (x < 29)].any()
    assert not dark[x > 31].any()


ALL_VECTOR = """
    <defs><linearGradient id="l"><stop offset="0" stop-color="red"/><stop offset="1"
    stop-color="blue" stop-opacity=".3"/></linearGradient>
    <radialGradient id="r"><stop offset="0" stop-color="red"/><stop offset="1"/></radialGradient>
    <pattern id="p" width="4" height="4" patternUnits="userSpaceOnUse"><circle r="2"/></pattern>
    <clipPath id="c"><circle cx="50" cy="30" r="20"/></clipPath>
    <mask id="m"><rect width="50" height="60" fill="white"/></mask>
    <symbol id="s" viewBox="0 0 9 9"><circle cx="4" cy="4" r="4"/></symbol>
    <marker id="k" markerWidth="3" markerHeight="3"><circle r="2"/></marker></defs>
    <rect width="90" height="50" fill="url(#l)" opacity=".5"/>
    <rect x="5" width="40" height="50" fill="url(#r)" style="mix-blend-mode:multiply"/>
    <rect y="5" width="40" height="50" fill="url(#p)" clip-path="url(#c)"/>
    <rect x="40" width="40" height="50" mask="url(#m)"/><use href="#s" width="9" height="9"/>
    <path d="M5 5 C 9 90 50 -40 90 50" fill="none" stroke="url(#l)" stroke-dasharray="4 2"
    marker-end="url(#k)"/>"""


def test_vector_art_stays_vector(tmp_path):
    assert images(decal(tmp_path, svg(ALL_VECTOR), contour="page").picture.pdf) == []


def test_an_effect_is_printed_as_pixels_and_said(tmp_path):
    body = """<filter id="f"><feGaussianBlur stdDeviation="1"/></filter>
        <rect id="glow" x="20" y="20" width="25.4" height="25.4" filter="url(#f)"/>"""

    art = loaded(tmp_path, svg(body), contour="page")

    (note,) = art.notes
    assert note.level == "look"
    assert 'id="glow"' in note.where
    widest = max(max(size) for size in images(art.decals[0].picture.pdf))
    assert widest >= 300, "an inch at 300 dpi"


@pytest.mark.parametrize(
    "region",
    ['width="1000000" height="1000000" filterUnits="userSpaceOnUse"', 'width="9999" height="9999"'],
)
def test_an_effect_of_absurd_extent_is_refused_before_memory_runs_out(tmp_path, region):
    body = f"""<filter id="f" {region}><feFlood/></filter>
        <rect id="glow" width="50" height="30" filter="url(#f)"/>"""

    with pytest.raises(Fault, match="too large to be printed as pixels") as caught:
        loaded(tmp_path, svg(body), contour="page")

    assert 'id="glow"' in caught.value.where


def test_an_effect_on_a_wide_decal_is_drawn_coarser(tmp_path):
    """0.96 × 0.48 m at 300 dpi would be 64 million pixels; 12 million are the most."""
    body = """<filter id="f"><feOffset dx="1"/></filter>
        <rect x="10" y="10" width="80" height="40" filter="url(#f)"/>"""

    (wide, *_) = images(decal(tmp_path, svg(body), contour="page", width_mm=1000).picture.pdf)

    assert 5e6 < wide[0] * wide[1] < 13e6


def test_a_coarse_embedded_picture_is_noted_by_its_element(tmp_path):
    link = "data:image/png;base64," + base64.b64encode(png(disc(20))).decode()
    body = f'<image id="photo" href="{link}" x="10" y="10" width="40" height="40"/>'

    art = loaded(tmp_path, svg(body), contour="page")

    (note,) = art.notes
    assert ("32 dpi" in note.text, 'id="photo"' in note.where, note.level) == (True, True, "look")
    assert (50, 50) in images(art.decals[0].picture.pdf)


def test_pictures_have_their_final_size_as_pdf_pages(tmp_path):
    """1 pt = 1/72 in: a page of 100 × 60 mm ordered at twice its size is 566.93 × 340.16 pt."""
    art = svg('<rect id="cut" width="100" height="60"/>')

    pdf = decal(tmp_path, art, contour="layer:cut", width_mm=200).picture.pdf

    with pikepdf.open(io.BytesIO(pdf)) as opened:
        assert len(opened.pages) == 1
        box = [float(number) for number in opened.pages[0].MediaBox]
    assert box == pytest.approx([0, 0, 200 * 72 / 25.4, 120 * 72 / 25.4], abs=1e-3)


CUT_PATH = f'<path id="cut" d="{L_SHAPE}"/>'


def fingerprint(folder) -> str:
    """All bytes of two decals, in short."""
    found = (
        decal(folder, svg(ALL_VECTOR + CUT_PATH), contour="layer:cut", width_mm=70),
        decal(folder, png(disc(40)), "plate.png", contour="offset:2", width_mm=70),
    )
    rings = b"".join(ring.tobytes() for one in found for ring in one.contour.rings)
    boxes = repr([one.picture.box_mm for one in found]).encode()
    return hashlib.sha256(found[0].picture.pdf + found[1].picture.pdf + rings + boxes).hexdigest()


def test_the_same_file_gives_the_same_bytes_in_every_process(tmp_path):
    """Another hash seed, so any order taken from a set shows; and the converter of SVG orders
    its own dictionaries anew on every call."""
    script = (
        "import sys; from pathlib import Path; from tests.artwork.test_picture import fingerprint;"
        "print(fingerprint(Path(sys.argv[1])))"
    )
    other = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path)],
        capture_output=True,
        text=True,
        check=True,
        env={"PYTHONHASHSEED": "5", "PYTHONPATH": ":".join(path for path in sys.path if path)},
    ).stdout.strip()

    assert {fingerprint(tmp_path) for _ in range(4)} == {other}


def test_the_digest_is_that_of_the_file(tmp_path):
    art = svg('<rect width="9" height="9"/>')

    found = decal(tmp_path, art, contour="outline")

    assert found.digest == hashlib.sha256(art.encode()).hexdigest()
    assert found.source == "plate.svg"
