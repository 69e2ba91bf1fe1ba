"""Files made to keep the machine busy are refused before they do."""

import io
from pathlib import Path

import numpy as np
import pikepdf
import pytest
from pikepdf import Array

from nestplan.artwork.pdf.resources import operators_about
from nestplan.artwork.pixel_pdf import pixels_pdf
from nestplan.artwork.svg.units import largest_scale
from nestplan.faults import Fault
from tests.artwork.handmade import loaded, svg

CUT = '<rect id="cut" x="10" y="10" width="60" height="40" fill="none"/>'
NESTED = "<g>" * 100 + '<rect class="a" width="9" height="9"/>' + "</g>" * 100


def refused(tmp_path: Path, body: str) -> Fault:
    with pytest.raises(Fault) as caught:
        loaded(tmp_path, svg(body), contour="layer:cut")
    return caught.value


@pytest.mark.parametrize(
    ("rule", "art"),
    [
        ("q g g g g g g g g g g rect {fill:red}", NESTED),
        ("rect:not(q g g g g g g g g g g) {fill:red}", NESTED),
        ("q ~ rect ~ rect {fill:red}", "<rect/>" * 3000),
        ("rect:nth-of-type(2n+1) {fill:red}", "<rect/>" * 3000),
        ("g:has(rect) {fill:red}", "<g><rect/></g>" * 2000),
        ("rect {font-family:" + "x" * 30_000 + "}", "<rect/>" * 3000),
    ],
)
def test_rules_that_would_take_hours_are_refused(tmp_path, rule, art):
    caught = refused(tmp_path, f"<style>{rule}</style>{CUT}{art}")
    assert "too long" in caught.what
    assert "<style>" in caught.where


def test_a_selector_of_thousands_of_parts_is_left_out_with_a_word(tmp_path):
    body = f"<style>{'g ' * 10_000} {{fill:red}}</style>{CUT}"
    notes = loaded(tmp_path, svg(body), contour="layer:cut").notes
    assert any("hundreds of parts" in note.text for note in notes)


def test_many_classes_as_drawing_programs_write_them_are_no_trouble(tmp_path):
    rules = "".join(f".st{n}{{fill:#{n:06x};stroke:none}}" for n in range(100))
    shapes = "".join(f'<rect class="st{n % 100}" width="9" height="9"/>' for n in range(300))
    loaded(tmp_path, svg(f"<style>{rules}</style>{CUT}{shapes}"), contour="layer:cut")


@pytest.mark.parametrize(
    ("content", "operators"),
    [
        (b"q 1 0 0 1 5 5 cm /F1 12 Tf (f S f (not) \\) W n) Tj Q", 5),
        (b"[(A) -20 (B C)] TJ % S S S\nf* b* d0 T* ' \"", 7),
        (b"BI /W 1 /H 1 ID \x01 S f n \x02 EI Q", 4),
        (b"/OC /MC0 BDC 0 0 9 9 re W* n EMC", 5),
    ],
)
def test_operators_are_counted_without_being_read(content, operators):
    assert operators_about(content, 1000) == operators
    assert operators_about(content, 2) == 2


@pytest.mark.parametrize(
    ("body", "operators"),
    [(b"(" * 90_000, 0), (b"BI ID " * 40_000, 80_000), (b"<" * 90_000, 0), (b"% f" * 9, 0)],
)
def test_what_never_ends_is_counted_in_one_pass(body, operators):
    assert operators_about(body, 10**9) == operators


@pytest.mark.parametrize("repeated", [False, True])
def test_a_page_of_endless_operators_is_refused(tmp_path, repeated):
    held = io.BytesIO()
    with pikepdf.new() as pdf:
        page = pdf.add_blank_page(page_size=(250, 165))
        stream = pdf.make_stream(b"0 0 m 9 9 l S\n" * (1000 if repeated else 51_000))
        page.obj.Contents = Array([stream] * 51) if repeated else stream
        pdf.save(held)
    with pytest.raises(Fault, match="150000 drawing operators"):
        loaded(tmp_path, held.getvalue(), name="plate.pdf", contour="page")


def test_rows_are_packed_in_parts_and_come_out_whole():
    colour = np.random.default_rng(1).integers(0, 256, (1500, 1000, 3), dtype=np.uint8)
    pdf, _ = pixels_pdf(colour, None, None, 20.0, 30.0)
    with pikepdf.open(io.BytesIO(pdf)) as found:
        image = found.pages[0].Resources.XObject.Pixels
        assert image.read_bytes() == colour.tobytes()


def test_the_largest_scale_is_the_larger_singular_value():
    for matrix in np.random.default_rng(2).normal(size=(200, 2, 2)):
        affine = np.eye(3)
        affine[:2, :2] = matrix
        assert largest_scale(affine) == pytest.approx(np.linalg.norm(matrix, 2), rel=1e-12)
