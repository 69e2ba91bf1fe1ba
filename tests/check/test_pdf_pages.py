"""The PDF walker, against the standard's figures and against a second reader."""

import io
from math import pi

import numpy as np
import pikepdf
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from pikepdf import Array, Dictionary, Name
from reportlab.pdfgen.canvas import Canvas

from nestplan.check.pdf_content import Unreadable
from nestplan.check.pdf_pages import read_pdf

PT = 72 / 25.4


def pdf(
    content: str,
    *,
    box: tuple[float, ...] = (0, 0, 200, 300),
    forms: dict[str, dict[str, object]] | None = None,
    **page: object,
) -> bytes:
    """One page with content; forms: name -> content, BBox and what else its dictionary holds."""
    made = pikepdf.new()
    sheet = made.add_blank_page(page_size=(100, 100))
    sheet.obj.MediaBox = Array([float(value) for value in box])
    resources = Dictionary()
    for name, parts in (forms or {}).items():
        stream = made.make_stream(str(parts.pop("content")).encode())
        stream.Type, stream.Subtype = Name.XObject, Name.Form
        for key, value in parts.items():
            stream[f"/{key}"] = value
        resources[f"/{name}"] = stream
    sheet.obj.Resources = Dictionary(XObject=resources)
    sheet.obj.Contents = made.make_stream(content.encode())
    for key, value in page.items():
        sheet.obj[f"/{key}"] = value
    held = io.BytesIO()
    made.save(held)
    return held.getvalue()


def only(data: bytes):
    """The only page."""
    (page,) = read_pdf(data).pages
    return page


def test_a4_is_210_by_297_mm():
    """ISO 216 size; 595.276 x 841.890 units of 1/72 inch (ISO 32000-1 8.3.2.3)."""
    page = only(pdf("", box=(0, 0, 595.276, 841.890)))

    assert (page.width_mm, page.length_mm) == pytest.approx((210, 297), abs=1e-3)


def test_a_page_of_14400_units_is_5080_mm_and_a_user_unit_multiplies_all():
    """PDF Reference 1.7, Appendix C; UserUnit: ISO 32000-1, Table 30."""
    long = only(pdf("0 0 14400 10 re f", box=(0, 0, 14400, 100)))
    longer = only(pdf("0 0 14400 10 re f", box=(0, 0, 14400, 100), UserUnit=2.5))

    assert long.width_mm == pytest.approx(5080.0)
    assert longer.width_mm == pytest.approx(2.5 * 5080.0)
    assert longer.fills[0][0].bounds[2] == pytest.approx(2.5 * 5080.0)


def test_a_box_may_start_anywhere_and_name_any_two_corners():
    """ISO 32000-1 7.9.5: a rectangle may be given by any two opposite corners."""
    page = only(pdf("110 220 10 10 re f", box=(300, 500, 100, 200)))

    assert (page.width_mm, page.length_mm) == pytest.approx((200 / PT, 300 / PT))
    assert page.fills[0][0].bounds[:2] == pytest.approx((10 / PT, 20 / PT))


def test_a_turned_or_cropped_page_is_called_odd():
    assert only(pdf("", Rotate=90)).odd == ("turned by 90°",)
    assert only(pdf("", CropBox=Array([0, 0, 100, 100]))).odd == ("cropped",)


def test_matrices_join_from_the_inside_out():
    """ISO 32000-1 8.3.4: what is concatenated last is applied first."""
    page = only(pdf("q 2 0 0 2 10 20 cm q 0 1 -1 0 5 0 cm 3 4 1 1 re f Q Q"))

    assert np.array(page.fills[0][0].bounds) * PT == pytest.approx(
        [10 + 2 * (5 - 5), 20 + 2 * 3, 10 + 2 * (5 - 4), 20 + 2 * 4]
    )


def test_a_circle_of_four_curves_has_the_area_of_a_circle():
    """k = 4/3 tan(pi/8) = 0.5522847498, radius off by at most 2.725e-4: handbook value."""
    k = 0.5522847498 * 50
    curves = (
        f"150 100 m 150 {100 + k} {100 + k} 150 100 150 c {100 - k} 150 50 {100 + k} 50 100 c "
        f"50 {100 - k} {100 - k} 50 100 50 c {100 + k} 50 150 {100 - k} 150 100 c f"
    )
    area = only(pdf(curves)).fills[0][0].area * PT**2

    assert area == pytest.approx(pi * 50**2, rel=2e-3)


@pytest.mark.parametrize("operator", ["f", "F", "f*", "B", "B*", "b", "b*"])
def test_every_operator_that_fills_is_seen(operator):
    assert len(only(pdf(f"10 10 m 20 10 l 20 20 l {operator}")).fills) == 1


def test_even_odd_and_winding_fill_differently():
    """ISO 32000-1 8.5.3.3: the same two squares, both counter-clockwise."""
    rings = "0 0 20 20 re 5 5 10 10 re "

    assert only(pdf(rings + "f")).fills[0][0].area * PT**2 == pytest.approx(400)
    assert only(pdf(rings + "f*")).fills[0][0].area * PT**2 == pytest.approx(300)


@pytest.mark.parametrize(
    ("colour", "black"),
    [("", True), ("0 g", True), ("0 0 0 rg", True), ("0 0 0 1 k", True), ("0.5 g", False)],
)
def test_what_is_black_counts_as_a_bar(colour, black):
    """The first colour of a page is black: ISO 32000-1, Table 52."""
    stroke = colour.upper()
    bars = only(pdf(f"{stroke} 0 10 m {100 * PT} 10 l S", box=(0, 0, 400, 400))).bars

    assert [bar.length_mm for bar in bars] == ([pytest.approx(100)] if black else [])


ART = {
    "content": "0 0 30 40 re W n 1 0 0 rg 0 0 99 99 re f /Inner Do",
    "BBox": Array([-5, -5, 50, 60]),
}


def art(**more: object) -> dict[str, dict[str, object]]:
    """A form whose clip is 30 by 40."""
    return {"Art": {**ART, "content": "0 0 30 40 re W n 1 0 0 rg 0 0 99 99 re f", **more}}


def test_the_outline_of_a_form_is_its_clip():
    (placed,) = only(pdf("q 0 1 -1 0 100 50 cm /Art Do Q", forms=art())).placed

    assert placed.picture.outline.area == 1200
    assert np.array(placed.centre_mm) * PT == pytest.approx([100 - 20, 50 + 15])


def test_the_box_of_a_form_cuts_its_clip():
    """ISO 32000-1 8.10.1: the BBox is a clip of its own."""
    forms = art(BBox=Array([0, 0, 20, 60]))

    assert only(pdf("/Art Do", forms=forms)).placed[0].picture.outline.area == 800


def test_the_matrix_of_a_form_comes_before_its_use():
    forms = art(Matrix=Array([2, 0, 0, 2, 7, 0]))
    (placed,) = only(pdf("1 0 0 1 0 10 cm /Art Do", forms=forms)).placed

    assert np.array(placed.centre_mm) * PT == pytest.approx([2 * 15 + 7, 2 * 20 + 10])


def test_a_form_of_paths_only_is_part_of_the_page():
    forms = {"Dot": {"content": "0 0 5 5 re f", "BBox": Array([0, 0, 5, 5])}}
    page = only(pdf("q 1 0 0 1 50 60 cm /Dot Do Q", forms=forms))

    assert page.placed == ()
    assert np.array(page.fills[0][0].bounds) * PT == pytest.approx([50, 60, 55, 65])


def test_forms_that_use_each_other_without_end_are_refused():
    made = pikepdf.open(io.BytesIO(pdf("/Art Do", forms=art(content="/Art Do"))))
    form = made.pages[0].Resources.XObject.Art
    form.Resources = Dictionary(XObject=Dictionary(Art=form))
    held = io.BytesIO()
    made.save(held)

    with pytest.raises(Unreadable, match="without end"):
        read_pdf(held.getvalue())


@pytest.mark.parametrize(
    "content", ["Q", "1 2 l S", "/None Do", "1 0 0 cm", "(x) 0 m", "1 2 3 m", "0 0 1e12 5 re f"]
)
def test_content_against_the_rules_is_refused(content):
    with pytest.raises(Unreadable):
        read_pdf(pdf(content))


def test_pdfium_puts_every_shape_at_the_same_place():
    """A second reader, made by others, on a page drawn by a third library."""
    held = io.BytesIO()
    canvas = Canvas(held, pagesize=(400, 300))
    canvas.translate(30, 40)
    canvas.rotate(25)
    for k in range(5):
        canvas.rect(20 * k, 7 * k, 10 + k, 5, stroke=0, fill=1)
        canvas.circle(25 * k, 60, 6, stroke=0, fill=1)
    canvas.save()
    ours = [np.array(shape.bounds) * PT for shape, _ in only(held.getvalue()).fills]

    page = pypdfium2.PdfDocument(held.getvalue())[0]
    theirs = [item.get_bounds() for item in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_PATH])]

    assert len(ours) == len(theirs) == 10
    for one, other in zip(ours, theirs, strict=True):
        middle = np.reshape(one, (2, 2)).mean(axis=0)  # its boxes of curves hold the handles too
        assert middle == pytest.approx(np.reshape(other, (2, 2)).mean(axis=0), abs=0.01)


def test_what_is_no_pdf_is_refused():
    with pytest.raises(Unreadable):
        read_pdf(b"%PDF-1.7\n%%EOF")
