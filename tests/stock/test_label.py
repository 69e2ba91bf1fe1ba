"""The label, read by other libraries: the code by a scanner's, the words by a reader of PDF."""

import pypdfium2
import pytest
import zxingcpp

from nestplan.stock import enter
from nestplan.stock.label import label_pdf
from tests.stock.shop import AT, on_shelf, roll


@pytest.fixture
def label(tmp_path):
    path = tmp_path / "stock.sqlite"
    roll(path, 20, ("defect", 4.2, 4.5), ("splice", 12.1, 12.1), id_="W-0412")
    enter.cut_off(path, "W-0412", 6, at=AT, new_id="W-0412a")
    pieces = [on_shelf(path, name) for name in ("W-0412", "W-0412a")]
    return pieces, label_pdf(pieces, "1.0")


def test_the_code_names_the_piece_and_its_film(label):
    for page in pypdfium2.PdfDocument(label[1]):
        image = page.render(scale=3).to_pil()
        (code,) = zxingcpp.read_barcodes(image)
        assert code.text in (
            "nestplan stock W-0412 white gloss 1370",
            "nestplan stock W-0412a white gloss 1370",
        )


def test_the_words_say_what_is_left_and_what_is_spoiled(label):
    roll_page, remnant_page = (
        page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(label[1])
    )

    for words in ("W-0412", "white gloss 1370", "1370 mm wide", "14.00 m left", "splice 6.10 m"):
        assert words in roll_page
    for words in ("6.00 m left", "cut off W-0412", "defect 4.20 m to 4.50 m"):
        assert words in remnant_page


def test_the_same_pieces_give_the_same_bytes(label):
    assert label_pdf(label[0], "1.0") == label[1]


def test_names_too_long_for_the_label_are_cut_and_the_code_still_reads(tmp_path):
    path = tmp_path / "stock.sqlite"
    film = "Möwenweiß " * 8
    enter.add(path, film=film.strip(), width_mm=1370, length_m=9, at=AT)
    (page,) = pypdfium2.PdfDocument(label_pdf([on_shelf(path)], "1.0"))

    (code,) = zxingcpp.read_barcodes(page.render(scale=3).to_pil())

    assert code.text.startswith("nestplan stock P1 Möwenweiß")
