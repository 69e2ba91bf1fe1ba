"""PDF artwork: pages made here operator by operator, contours known by hand, pictures rendered
by pdfium and held against what the page says."""

import io
import zlib
from math import pi

import numpy as np
import pikepdf
import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pikepdf import Array, Dictionary, Name, Pdf, Stream

from nestplan.artwork.document import open_document
from nestplan.artwork.rule import rule_of
from nestplan.faults import Fault, Faults
from tests.artwork.handmade import decal, loaded

MM = 72 / 25.4
K = 0.5522847498  # of the radius: control points of a quarter circle


def circle(x, y, r) -> str:
    """Four cubics; the area is 2.7e-4 above that of the true circle."""
    k = K * r
    return (
        f"{x + r} {y} m {x + r} {y + k} {x + k} {y + r} {x} {y + r} c "
        f"{x - k} {y + r} {x - r} {y + k} {x - r} {y} c "
        f"{x - r} {y - k} {x - k} {y - r} {x} {y - r} c "
        f"{x + k} {y - r} {x + r} {y - k} {x + r} {y} c h "
    )


def page(content: str, *, size=(100, 60), layers=(), off=(), more=None, page_keys=None) -> bytes:
    """A PDF whose content is in mm from the lower left. Layers are /L0, /L1 …, a spot is /Cut."""
    pdf = Pdf.new()
    sheet = pdf.add_blank_page(page_size=(size[0] * MM, size[1] * MM))
    groups = [pdf.make_indirect(Dictionary(Type=Name.OCG, Name=name)) for name in layers]
    if groups:
        hidden = Array([group for group in groups if str(group.Name) in off])
        pdf.Root.OCProperties = Dictionary(
            OCGs=Array(groups), D=Dictionary(Order=Array(groups), OFF=hidden)
        )
    tint = Dictionary(FunctionType=2, Domain=[0, 1], C0=[0, 0, 0, 0], C1=[0, 1, 0, 0], N=1)
    spot = Array([Name.Separation, Name("/Knife Line"), Name.DeviceCMYK, tint])
    sheet.Resources = Dictionary(
        Properties=Dictionary({f"/L{k}": group for k, group in enumerate(groups)}),
        ColorSpace=Dictionary(Cut=spot),
    )
    for kind, entries in (more(pdf) if more else {}).items():
        sheet.Resources[kind] = entries
    sheet.Contents = Stream(pdf, f"{MM:.9f} 0 0 {MM:.9f} 0 0 cm {content}".encode())
    for key, value in (page_keys or {}).items():
        sheet.obj[key] = value
    out = io.BytesIO()
    pdf.save(out, deterministic_id=True)
    return out.getvalue()


def pixels(picture, per_mm=4.0) -> np.ndarray:
    """The picture rendered on white, (h, w, 3)."""
    document = pypdfium2.PdfDocument(picture.pdf)
    found = document[0].render(scale=per_mm / MM).to_numpy()[:, :, 2::-1]
    document.close()
    return found


def colour_at(one, x_mm, y_mm, per_mm=4.0) -> tuple[int, ...]:
    """Colour of a decal's picture at a place in decal coordinates."""
    left, _, _, top = one.picture.box_mm
    row, column = int((top - y_mm) * per_mm), int((x_mm - left) * per_mm)
    return tuple(pixels(one.picture, per_mm)[row, column].tolist())


BLUE = "0 0 1 rg 5 5 90 50 re f "
DISC = circle(50, 30, 20)


@pytest.mark.parametrize(
    ("drawn", "contour"),
    [
        (f"/OC /L0 BDC 1 0 0 RG 1 w {DISC} S EMC", "layer:cut line"),
        (f"1 0 0.2 RG 1 w {DISC} S", "colour:#ff0033"),
        (f"0 1 0 0 K 1 w {DISC} s", "colour:#ff00ff"),
        (f"/Cut CS 1 SCN 1 w {DISC} S", "spot:Knife Line"),
    ],
)
def test_the_contour_is_the_drawn_line_and_is_not_printed(tmp_path, drawn, contour):
    one = decal(tmp_path, page(BLUE + drawn, layers=["cut line"]), "a.pdf", contour=contour)

    assert one.contour.area_mm2 == pytest.approx(pi * 400, rel=2e-3)
    assert one.contour.width_mm == pytest.approx(40, abs=1e-3)
    assert one.picture.box_mm == pytest.approx((-50, -30, 50, 30), abs=1e-3)
    assert colour_at(one, 19.9, 0.0) == (0, 0, 255)  # where the line was, the art is seen
    assert colour_at(one, -48, 0) == (255, 255, 255)


def test_a_filled_shape_in_the_line_s_colour_keeps_its_fill(tmp_path):
    art = page(f"0 0.5 0 rg 1 0 0 RG 2 w {DISC} B")

    one = decal(tmp_path, art, "a.pdf", contour="colour:#ff0000")

    assert colour_at(one, 0, 0) == (0, 128, 0)
    assert colour_at(one, 20.5, 0) == (255, 255, 255)


def test_a_line_in_a_form_is_found_where_the_form_is_placed(tmp_path):
    def form(pdf):
        inner = Stream(pdf, f"/Cut CS 1 SCN {circle(0, 0, 5)} S 1 0 0 rg 0 0 2 2 re f".encode())
        inner.Type, inner.Subtype, inner.BBox = Name.XObject, Name.Form, Array([-9, -9, 9, 9])
        inner.Matrix = Array([2, 0, 0, 2, 0, 0])
        return {"/XObject": Dictionary(F=pdf.make_indirect(inner))}

    art = page(BLUE + "q 1 0 0 1 30 20 cm /F Do Q", more=form)
    with pikepdf.open(io.BytesIO(art)) as pdf:  # the spot is a resource of the form as well
        sheet = pdf.pages[0]
        sheet.Resources.XObject.F.Resources = Dictionary(ColorSpace=sheet.Resources.ColorSpace)
        out = io.BytesIO()
        pdf.save(out)

    one = decal(tmp_path, out.getvalue(), "a.pdf", contour="spot:Knife Line")

    assert one.contour.width_mm == pytest.approx(20, abs=1e-3)
    assert one.picture.box_mm[:2] == pytest.approx((-30, -20), abs=1e-3)
    assert colour_at(one, 1, 1) == (255, 0, 0)
    assert colour_at(one, 9.9, 0) == (0, 0, 255)


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
@pytest.mark.parametrize("unit", [1, 2])
def test_boxes_turn_and_unit_are_honoured(tmp_path, turn, unit):
    """Media 100 by 60 mm, cropped to 90 by 50, trimmed to 80 by 30; a red corner tells up."""
    boxes = {
        "/CropBox": Array([value * MM for value in (5, 5, 95, 55)]),
        "/TrimBox": Array([value * MM for value in (10, 15, 90, 45)]),
        "/Rotate": turn,
        "/UserUnit": unit,
    }
    art = page("0 0 1 rg 0 0 100 60 re f 1 0 0 rg 10 15 8 8 re f", page_keys=boxes)

    one = decal(tmp_path, art, "a.pdf", contour="trim")
    whole = decal(tmp_path, art, "a.pdf", contour="page")

    sides, seen = (80 * unit, 30 * unit), (90 * unit, 50 * unit)
    if turn % 180:
        sides, seen = sides[::-1], seen[::-1]
    assert (one.contour.width_mm, one.contour.height_mm) == pytest.approx(sides, abs=1e-3)
    assert (whole.contour.width_mm, whole.contour.height_mm) == pytest.approx(seen, abs=1e-3)
    side = unit * 2
    at = {0: (-1, -1), 90: (-1, 1), 180: (1, 1), 270: (1, -1)}[turn]  # clockwise, ISO 32000-1
    x, y = at[0] * (sides[0] / 2 - side), at[1] * (sides[1] / 2 - side)
    assert colour_at(one, x, y) == (255, 0, 0)
    assert colour_at(one, -x, -y) == (0, 0, 255)
    bleed = (100 - 80) / 2 * unit if turn % 180 == 0 else (60 - 30) / 2 * unit
    assert one.picture.box_mm[0] == pytest.approx(-sides[0] / 2 - bleed, abs=1e-3)


def test_the_page_s_operators_reach_the_print_untouched(tmp_path):
    content = BLUE + "0.1 0.9 0.2 0.3 k 20 20 9 9 re f"

    one = decal(tmp_path, page(content), "a.pdf", contour="page")

    with pikepdf.open(io.BytesIO(one.picture.pdf)) as pdf:
        form = pdf.pages[0].Resources.XObject.Page
        assert content.encode() in form.read_bytes()


def test_the_outer_edge_comes_from_a_rendering(tmp_path):
    art = loaded(tmp_path, page(f"0 0 1 rg {DISC} f"), "a.pdf", contour="outline")

    (one,) = art.decals
    assert one.contour.area_mm2 == pytest.approx(pi * 400, rel=2e-3)
    ring = np.concatenate(one.contour.rings)
    assert np.abs(np.hypot(*ring.T) - 20).max() < 0.05
    assert any("rendering" in note.text for note in art.notes)


def test_a_hidden_layer_is_neither_printed_nor_part_of_the_edge(tmp_path):
    content = f"0 0 1 rg {DISC} f /OC /L0 BDC 1 0 0 rg 0 0 60 60 re f EMC"
    art = loaded(
        tmp_path, page(content, layers=["notes"], off=["notes"]), "a.pdf", contour="outline"
    )

    (one,) = art.decals
    assert one.contour.width_mm == pytest.approx(40, abs=0.05)
    assert colour_at(one, 0, 0) == (0, 0, 255)
    assert any("layer notes" in note.text for note in art.notes)


def test_names_that_are_not_there_are_answered_with_those_that_are(tmp_path):
    art = page(BLUE + f"/OC /L0 BDC {DISC} S EMC /Cut CS 1 SCN {DISC} S", layers=["cut line"])
    for contour, near in (("layer:cutline", "cut line"), ("spot:Knife", "Knife Line")):
        with pytest.raises(Fault) as caught:
            decal(tmp_path, art, "a.pdf", contour=contour)
        assert near in caught.value.do


def test_an_open_line_is_refused_with_its_place_and_layer(tmp_path):
    art = page("/OC /L0 BDC 10 10 m 60 10 l 60 40 l S EMC", layers=["cut line"])

    with pytest.raises(Fault) as caught:
        decal(tmp_path, art, "a.pdf", contour="layer:cut line")

    assert "open" in caught.value.what
    assert 'layer "cut line"' in caught.value.where


def test_text_without_its_font_is_noted(tmp_path):
    def font(pdf):
        plain = Dictionary(Type=Name.Font, Subtype=Name.Type1, BaseFont=Name.Helvetica)
        return {"/Font": Dictionary(F=plain)}

    art = page(BLUE + "BT /F 5 Tf 20 20 Td (regatta) Tj ET", more=font)

    found = loaded(tmp_path, art, "a.pdf", contour="page")

    assert any("Helvetica" in note.text for note in found.notes)


def test_more_pages_than_one_are_noted(tmp_path):
    with pikepdf.open(io.BytesIO(page(BLUE))) as pdf:
        pdf.add_blank_page()
        out = io.BytesIO()
        pdf.save(out)

    notes = loaded(tmp_path, out.getvalue(), "a.pdf", contour="page").notes

    assert any("2 pages" in note.text for note in notes)


def test_a_locked_file_is_refused(tmp_path):
    with pikepdf.open(io.BytesIO(page(BLUE))) as pdf:
        out = io.BytesIO()
        pdf.save(out, encryption=pikepdf.Encryption(owner="a", user="b"))

    with pytest.raises(Fault, match="password"):
        decal(tmp_path, out.getvalue(), "a.pdf", contour="page")


def test_the_same_page_gives_the_same_bytes(tmp_path):
    art = page(BLUE + f"/Cut CS 1 SCN {DISC} S")

    one, other = (decal(tmp_path, art, "a.pdf", contour="spot:Knife Line") for _ in range(2))

    assert one.picture.pdf == other.picture.pdf


HOSTILE = {
    "coordinates_of_kilometres": page("0 0 m 1000000000 1000000000 l 5 5 l s"),
    "a_page_of_nothing": page(BLUE, page_keys={"/MediaBox": Array([0, 0, 0, 0])}),
    "a_turn_of_a_third": page(BLUE, page_keys={"/Rotate": 30}),
    "cut_off": page(BLUE)[:300],
    "no_pdf": b"%PDF-1.7\n" + b"\0" * 500,
    "empty_page": page(""),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_what_cannot_be_planned_is_refused(tmp_path, name):
    with pytest.raises((Fault, Faults)):
        decal(tmp_path, HOSTILE[name], "a.pdf", contour="outline")


def test_a_stream_that_unfolds_without_end_is_refused(tmp_path):
    """Three hundred megabytes of blanks in a third of a megabyte."""
    with pikepdf.open(io.BytesIO(page(BLUE))) as pdf:
        packer = zlib.compressobj(9)
        bomb = b"".join(packer.compress(b" " * 10**6) for _ in range(300)) + packer.flush()
        pdf.pages[0].Contents = Stream(pdf, bomb, Filter=Name.FlateDecode)
        out = io.BytesIO()
        pdf.save(out)

    with pytest.raises(Fault):
        decal(tmp_path, out.getvalue(), "a.pdf", contour="page")


def test_a_form_that_draws_itself_is_refused(tmp_path):
    def loop(pdf):
        inner = pdf.make_indirect(Stream(pdf, b"/F Do /F Do"))
        inner.Type, inner.Subtype, inner.BBox = Name.XObject, Name.Form, Array([0, 0, 9, 9])
        inner.Resources = Dictionary(XObject=Dictionary(F=inner))
        return {"/XObject": Dictionary(F=inner)}

    with pytest.raises(Fault, match="draw themselves"):
        decal(tmp_path, page("/F Do", more=loop), "a.pdf", contour="page")


def test_a_picture_that_stands_in_another_file_is_refused(tmp_path):
    def outside(pdf):
        image = Stream(pdf, b"", Subtype=Name.Image, Width=9, Height=9, F=pikepdf.String("x.jpg"))
        return {"/XObject": Dictionary(F=pdf.make_indirect(image))}

    with pytest.raises(Fault, match="outside the file"):
        decal(tmp_path, page("/F Do", more=outside), "a.pdf", contour="page")


SOUND = page(BLUE + f"/OC /L0 BDC 1 0 0 RG {DISC} S EMC", layers=["cut line"])


@given(st.lists(st.tuples(st.integers(0, len(SOUND) - 1), st.binary(min_size=1, max_size=6))))
def test_damaged_bytes_give_a_fault_or_art(damage):
    data = bytearray(SOUND)
    for at, by in damage:
        data[at : at + len(by)] = by

    try:
        art = open_document(bytes(data), "a.pdf")
        art.contour(rule_of("layer:cut line"), art.own_mm_per_px)
        art.picture(rule_of("layer:cut line"), art.own_mm_per_px, (0, 0, 1, 1))
    except (Fault, Faults):
        pass


WORDS = (
    "q Q cm m l c re h S f B* W n BT ET Do BDC EMC rg K scn cs gs w sh Tj /L0 /OC /X 0 1 -7 "
    "(a) [1] << >> BI ID EI"
)


@given(st.lists(st.sampled_from(WORDS.split()), max_size=30))
def test_operators_in_any_order_give_a_fault_or_art(words):
    try:
        art = open_document(page(" ".join(words), layers=["cut line"]), "a.pdf")
        art.contour(rule_of("page"), art.own_mm_per_px)
        art.picture(rule_of("page"), art.own_mm_per_px, (0, 0, 1, 1))
    except (Fault, Faults):
        pass


@pytest.mark.parametrize("contour", ["trim", "page", "outline", "offset:1"])
def test_spot_colours_are_told_where_no_drawn_line_is_cut(tmp_path, contour):
    """One of them may be the cut line, and would be printed."""
    art = page(BLUE + f"/Cut CS 1 SCN 1 w {DISC} S")

    notes = loaded(tmp_path, art, "a.pdf", contour=contour).notes
    drawn = loaded(tmp_path, art, "a.pdf", contour="spot:Knife Line").notes

    (told,) = [note for note in notes if "spot colours" in note.text]
    assert "are printed: Knife Line." in told.text
    assert not any("spot colours" in note.text for note in drawn)
