"""The proof as a stranger reads it: words, places and pictures taken back out of the PDF."""

import io
import os
import re
import subprocess
import sys
from dataclasses import replace
from functools import cache
from math import dist

import numpy as np
import pikepdf
import pypdfium2 as pdfium
import pypdfium2.raw as pdfium_c
import pytest

from nestplan.faults import Note
from nestplan.files.proof_pdf import proof_pdf
from nestplan.marks import Mark
from tests.files.handmade import a_run
from tests.files.proof_samples import SAMPLES, any_run, huge, sample

RUNS = {"handmade": a_run, **SAMPLES}
MM_PER_PT = 25.4 / 72
A4_MM = (210.0, 297.0)  # ISO 216:2007
INK = (0x1B, 0x25, 0x30)
BLUE, WHITE = (26, 77, 153), (255, 255, 255)
TOUCH_PT = 0.05  # two boxes may share an edge


@cache
def proof_of(name):
    """The proof of a named run, made once."""
    return proof_pdf(RUNS[name]())


def pages_of(pdf_bytes):
    """Pages of a PDF; the document lives as long as they do."""
    return list(pdfium.PdfDocument(pdf_bytes))


def words_of(page):
    """All words of a page in reading order as pdfium has it, blanks and line ends as one blank."""
    return " ".join(page.get_textpage().get_text_bounded().split())


def own_texts(page):
    """Boxes (left, bottom, right, top) in points of the words the proof sets; not the art's."""
    return [
        item.get_bounds()
        for item in page.get_objects(filter=[pdfium_c.FPDF_PAGEOBJ_TEXT], max_depth=1)
    ]


def frame_pages(pdf_bytes):
    """Page and scale of each frame's drawing, in order."""
    found = []
    for page in pages_of(pdf_bytes):
        said = re.search(r"The frame, 1:([\d.]+)", words_of(page))
        if said:
            found.append((page, float(said.group(1))))
    return found


def discs_mm(page, size_mm, colour):
    """Centres, on paper, of filled areas of a colour that are as large as a mark at this scale."""
    centres = []
    for item in page.get_objects(filter=[pdfium_c.FPDF_PAGEOBJ_PATH], max_depth=1):
        left, bottom, right, top = (side * MM_PER_PT for side in item.get_bounds())
        is_mark = abs(right - left - size_mm) < 0.02 and abs(top - bottom - size_mm) < 0.02
        if is_mark and fill_of(item) == colour:
            centres.append(((left + right) / 2, (bottom + top) / 2))
    return centres


def fill_of(item):
    """Red, green, blue of a path's fill."""
    red, green, blue, alpha = (pdfium_c.c_uint() for _ in range(4))
    assert pdfium_c.FPDFPageObj_GetFillColor(item.raw, red, green, blue, alpha)
    return red.value, green.value, blue.value


@pytest.mark.parametrize("name", RUNS)
def test_no_two_words_overlap_and_none_leaves_the_page(name):
    assert_words_stand_apart(proof_of(name))


@pytest.mark.parametrize("seed", range(3))
def test_no_two_words_overlap_on_runs_drawn_by_lot(seed):
    assert_words_stand_apart(proof_pdf(any_run(seed)))


def assert_words_stand_apart(pdf_bytes):
    """No two words of the proof overlap, and all keep a margin that any printer can print."""
    for number, page in enumerate(pages_of(pdf_bytes), start=1):
        wide, tall = page.get_size()
        boxes = own_texts(page)
        assert len(boxes) > 8
        for left, bottom, right, top in boxes:
            assert left >= 20 and bottom >= 20, f"page {number}"
            assert right <= wide - 20 and top <= tall - 20, f"page {number}"
        low, high = np.array(boxes)[:, None, :2], np.array(boxes)[:, None, 2:]
        shared = np.minimum(high, high.swapaxes(0, 1)) - np.maximum(low, low.swapaxes(0, 1))
        over = np.argwhere(np.triu(shared.min(axis=2) > TOUCH_PT, k=1))
        assert not len(over), f"page {number}: {[(boxes[a], boxes[b]) for a, b in over[:3]]}"


@pytest.mark.parametrize("name", RUNS)
def test_every_shop_can_print_every_page(name):
    """A4, upright or lying."""
    for page in pages_of(proof_of(name)):
        size_mm = sorted(side * MM_PER_PT for side in page.get_size())

        np.testing.assert_allclose(size_mm, A4_MM, atol=0.01)


@pytest.mark.parametrize("name", RUNS)
def test_marks_stand_at_the_scale_the_page_states(name):
    """Each drawn mark has the planned place, up to one shift for the whole drawing."""
    run = RUNS[name]()
    pages = frame_pages(proof_of(name))
    assert len(pages) == len(run.marks.frames)
    for frame, (page, denominator) in zip(run.marks.frames, pages, strict=True):
        drawn = discs_mm(page, run.marks.size_mm / denominator, INK)
        assert len(drawn) == len(frame.marks)
        planned = np.array([(mark.x_mm, mark.y_mm) for mark in frame.marks]) / denominator
        shift = np.mean(drawn, axis=0) - planned.mean(axis=0)

        for place in planned + shift:
            assert min(dist(place, other) for other in drawn) < 0.01


def test_a_tape_measure_finds_three_four_five():
    """Marks 300 mm apart across and 400 mm along have diagonals of 500 mm, by hand."""
    run = three_four_five()
    (page, _), *_ = frame_pages(proof_pdf(run))
    words = words_of(page)

    for row in (
        "1 2 across 300.0",
        "3 4 across 300.0",
        "1 3 along 400.0",
        "2 4 along 400.0",
        "1 4 diagonal 500.0",
        "2 3 diagonal 500.0",
    ):
        assert row in words


def three_four_five():
    """One frame whose marks are the corners of a rectangle of 300 by 400 mm."""
    run = sample(frames_mm=(460.0,))
    corners = ((150.0, 70.0), (450.0, 70.0), (150.0, 470.0), (450.0, 470.0))
    marks = tuple(Mark(number=n, x_mm=x, y_mm=y) for n, (x, y) in enumerate(corners, start=1))
    frame = replace(run.marks.frames[0], marks=marks)
    return replace(run, marks=replace(run.marks, frames=(frame,)))


def test_the_mark_table_has_run_and_page_coordinates():
    """Mark 4 of the handmade frame 1 stands at (576, 438); its page begins at (10, 50)."""
    (page, _), *_ = frame_pages(proof_of("handmade"))

    assert "4 576.0 438.0 566.0 388.0" in words_of(page)


def test_the_first_page_says_what_the_run_takes():
    """By hand: 600 x 880 mm; contours 4 (5400 - 400) + 4 (4000 - 1200 - 150) = 30 600 mm²;
    the page is 578 mm wide; frames of 400 and 300 mm hold 299.2 mm of nest (measured)."""
    words = words_of(pages_of(proof_of("handmade"))[0])
    film = 600 * 880

    for said in (
        "film used 0.88 m",
        f"film area {film / 1e6:.2f} m²",
        "left on the roll 39.12 m",
        f"decals {100 * 30_600 / film:.1f}",
        f"margins {100 * 22 * 880 / film:.1f}",
        f"lead, tail, gaps {100 * 578 * 180 / film:.1f}",
        f"waste in all {100 - 100 * 30_600 / film:.1f}",
        "No layout is shorter than 62.5 mm",
        "berth plate 90.0 60.0 kiss 2 trailing quarter 4 4",
        "club burgee 80.0 50.0 through 1.5 trailing any 4 4",
        "cut 42 s",
        "door to door 1:07 h",
        "total 20.00",
        "approved by",
        "100 mm bar across, measured, mm",
        "look club burgee: a hairline",
        "feed, leading edge first",
        "printable 578.0",
        "film 600.0",
    ):
        assert said in words, said


def test_the_art_lies_where_the_copies_lie():
    """Colours at points of the handmade frame 1: the plate is blue, its arrow and hole white.

    Copy 1 (angle 0, centre 110, 140), copy 2 (90 degrees, centre 110, 250) and copy 3
    (180 degrees, centre 400, 150); the arrow's shaft has decal point (20, 0), the blue
    field (0, 24), the hole's middle (-25, 10).
    """
    run = a_run()
    (page, denominator), *_ = frame_pages(proof_of("handmade"))
    origin = _origin_mm(page, run, denominator)
    scale = 8.0
    picture = page.render(scale=scale).to_pil().convert("RGB")
    for point, colour in (
        ((130.0, 140.0), WHITE),
        ((110.0, 164.0), BLUE),
        ((85.0, 150.0), WHITE),
        ((110.0, 270.0), WHITE),
        ((86.0, 250.0), BLUE),
        ((100.0, 225.0), WHITE),
        ((380.0, 150.0), WHITE),
        ((400.0, 126.0), BLUE),
        ((425.0, 140.0), WHITE),
    ):
        x = (origin[0] + point[0] / denominator) / MM_PER_PT * scale
        y = picture.height - (origin[1] + point[1] / denominator) / MM_PER_PT * scale
        seen = picture.getpixel((round(x), round(y)))
        assert max(abs(a - b) for a, b in zip(seen, colour, strict=True)) < 12, point


def _origin_mm(page, run, denominator):
    """Where the run's (0, 0) lies on the page, from the marks that are drawn."""
    drawn = np.mean(discs_mm(page, run.marks.size_mm / denominator, INK), axis=0)
    marks = run.marks.frames[0].marks
    return drawn - np.mean([(mark.x_mm, mark.y_mm) for mark in marks], axis=0) / denominator


@pytest.mark.parametrize("name", RUNS)
def test_each_frame_has_its_page_with_cautions_that_defer(name):
    run = RUNS[name]()
    pages = frame_pages(proof_of(name))

    for frame, (page, _) in zip(run.marks.frames, pages, strict=True):
        words = words_of(page)
        assert f"Frame {frame.index} of {len(run.marks.frames)}" in words
        assert "Off blade, carriage and rollers" in words
        assert "Local codes, the machine's manual and licensed practice come first." in words


def test_the_lifting_caution_weighs_the_film_where_the_shop_knows_how():
    """By hand: 1.37 m x 50 m x 0.25 kg/m² = 17.1 kg."""
    known = sample(width_mm=1370.0, weight_g_m2=250.0)
    unknown = sample(width_mm=1370.0)

    assert "The 50 m of film left weigh 17.1 kg without the core" in run_card(known)
    assert "Weigh the roll before lifting it" in run_card(unknown)


def run_card(run):
    """The words of the run card."""
    return next(w for w in map(words_of, pages_of(proof_pdf(run))) if "Step by step" in w)


@pytest.mark.parametrize("enters", ["leading", "trailing"])
def test_the_page_names_the_edge_that_enters_first_and_draws_it_there(enters):
    """The words stand below the drawing for the leading edge, above it for the trailing one."""
    run = sample(enters=enters)
    (page, denominator), *_ = frame_pages(proof_pdf(run))
    text = page.get_textpage()
    found = text.search(f"{enters} edge, enters the cutter first").get_next()
    assert found is not None
    _, bottom, _, _ = text.get_charbox(found[0])
    marks = [y / MM_PER_PT for _, y in discs_mm(page, run.marks.size_mm / denominator, INK)]

    assert bottom < min(marks) if enters == "leading" else bottom > max(marks)


def test_stop_comes_before_look_before_know():
    told = tuple(Note(level=level, where="place", text=level) for level in ("know", "stop", "look"))
    words = " ".join(words_of(page) for page in pages_of(proof_pdf(sample(notes=told))))

    assert words.index("stop place") < words.index("look place") < words.index("know place")


def test_every_copy_and_every_decal_is_in_the_tables_even_on_more_pages():
    """Twelve decals do not fit the first page; none is lost."""
    run = SAMPLES["twelve_decals"]()
    words = " ".join(words_of(page) for page in pages_of(proof_of("twelve_decals")))

    for index, decal in enumerate(run.artwork.decals, start=1):
        assert f"{index} {decal.name} {decal.contour.width_mm:.1f}" in words


def test_all_marks_are_in_the_tables_of_a_frame_with_more_than_a_page_of_them():
    run = SAMPLES["many_marks"]()
    words = " ".join(words_of(page) for page in pages_of(proof_of("many_marks")))

    for mark in run.marks.frames[0].marks:
        assert f"{mark.number} {mark.x_mm:.1f} {mark.y_mm:.1f}" in words


def test_the_same_run_gives_the_same_bytes_in_another_process():
    code = (
        "import hashlib; from nestplan.files.proof_pdf import proof_pdf; "
        "from tests.files.handmade import a_run; "
        "print(hashlib.sha256(proof_pdf(a_run())).hexdigest())"
    )
    digests = {
        subprocess.run(
            [sys.executable, "-c", code],
            capture_output=True,
            check=True,
            env={**os.environ, "PYTHONHASHSEED": seed},
        ).stdout
        for seed in ("1", "2")
    }

    assert len(digests) == 1
    assert proof_pdf(a_run()) == proof_of("handmade")


def test_every_font_is_embedded_and_nothing_is_dated():
    with pikepdf.open(io.BytesIO(proof_of("handmade"))) as pdf:
        for page in pdf.pages:
            for font in page.Resources.Font.values():
                assert "DejaVu" in str(font.BaseFont)
                assert "/FontFile2" in font.FontDescriptor
        assert dict(pdf.docinfo) == {
            "/Title": "harbour regatta: proof",
            "/Producer": "nestplan 0.1.0",
        }


def test_ten_thousand_copies_make_a_small_file_with_each_picture_once():
    run = huge()
    made = proof_pdf(run)
    assert sum(len(strip.placements) for strip in run.nest.strips) > 10_000

    assert len(made) < 3_000_000
    with pikepdf.open(io.BytesIO(made)) as pdf:
        forms = {
            str(name): form.objgen
            for page in pdf.pages
            for name, form in page.Resources.get("/XObject", {}).items()
            if str(name).startswith("/Art")
        }
        everywhere = [
            form.objgen
            for page in pdf.pages
            for name, form in page.Resources.get("/XObject", {}).items()
            if str(name) == "/Art1"
        ]
    assert len(forms) == len(run.artwork.decals)
    assert len(set(everywhere)) == 1
