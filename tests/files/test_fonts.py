"""The words of every PDF are set in fonts that travel with it."""

import io

import pikepdf
from reportlab.pdfgen.canvas import Canvas

from nestplan.files.fonts import BODY, BODY_BOLD, register_fonts


def a_page_of_words() -> bytes:
    register_fonts()
    held = io.BytesIO()
    page = Canvas(held, initialFontName=BODY, invariant=1)
    page.setFont(BODY, 10)
    page.drawString(50, 50, "100 mm → Łódź, Ωμέγα, −1, ✓")
    page.setFont(BODY_BOLD, 10)
    page.drawString(50, 80, "frame 1 of 2")
    page.save()
    return held.getvalue()


def test_every_font_of_a_page_is_embedded_and_cut_down():
    with pikepdf.open(io.BytesIO(a_page_of_words())) as pdf:
        fonts = [font for font in pdf.objects if is_font(font)]

        assert len(fonts) == 2
        for font in fonts:
            assert "/FontFile2" in font.FontDescriptor
            assert len(font.FontDescriptor.FontFile2.read_bytes()) < 60_000


def is_font(thing) -> bool:
    return isinstance(thing, pikepdf.Dictionary) and thing.get("/Type") == "/Font"


def test_asking_twice_for_the_fonts_gives_the_same_page():
    assert a_page_of_words() == a_page_of_words()
