"""The print PDF, read back with libraries that did not write it: pdfium draws, qpdf takes apart.

Facts of PDF used here: a unit is 1/72 inch, 1 mm = 2.834645669 units (ISO 32000-1 8.3.2.3);
a page is at most 14 400 units long, 5080 mm at UserUnit 1 (PDF Reference 1.7, Appendix C);
UserUnit is the size of a unit in 1/72 inch (ISO 32000-1, Table 30).
"""

import dataclasses
import io
from typing import NamedTuple

import numpy as np
import pikepdf
import pypdfium2
import pytest
import shapely
from PIL import Image, ImageDraw

from nestplan.artwork import Picture
from nestplan.files.print_pdf import print_pdf
from nestplan.files.run import Run
from tests.files.handmade import (
    FRAME_LENGTH_MM,
    FRAME_Y0_MM,
    MARKS,
    PAGE_WIDTH_MM,
    PAGE_X0_MM,
    PLACES,
    a_run,
    placed_run,
)

PT_PER_MM = 2.834645669
PIXELS_PER_MM = 6
CLOSE_PIXELS_PER_MM = 40  # pdfium lays turned rasters up to two pixels off
WORN_MM = 0.1  # what a tape measure with a magnifier can tell


@pytest.fixture(scope="module")
def run() -> Run:
    return a_run()


@pytest.fixture(scope="module")
def printed(run) -> bytes:
    return print_pdf(run)


@pytest.fixture(scope="module")
def pictures(printed) -> list[np.ndarray]:
    return [drawn(printed, index) for index in range(2)]


def drawn(pdf: bytes, index: int) -> np.ndarray:
    """A page as pdfium draws it, (rows, columns, 3), row 0 at the bottom."""
    scale = PIXELS_PER_MM * 25.4 / 72 * (1 - 1e-6)  # or rounding up adds a row of pixels
    with pypdfium2.PdfDocument(pdf) as document:
        image = document[index].render(scale=scale).to_pil().convert("RGB")
    return np.asarray(image).astype(int)[::-1]


def on_page(index: int, x: float, y: float) -> tuple[float, float]:
    """A place of the run in mm from the lower left corner of its page."""
    return x - PAGE_X0_MM, y - FRAME_Y0_MM[index]


def close_up(pdf: bytes, index: int, x: float, y: float, reach: float) -> "CloseUp":
    """The square of a page round a place of it, drawn large."""
    k = CLOSE_PIXELS_PER_MM
    left, bottom, side = round((x - reach) * k), round((y - reach) * k), round(2 * reach * k)
    right = round(PAGE_WIDTH_MM * k) - left - side
    top = round(FRAME_LENGTH_MM[index] * k) - bottom - side
    scale = k * 25.4 / 72 * (1 - 1e-6)
    crop = tuple(pixels / (k * 25.4 / 72) for pixels in (left, bottom, right, top))
    with pypdfium2.PdfDocument(pdf) as document:
        image = document[index].render(scale=scale, crop=crop).to_pil().convert("RGB")
    assert image.size == (side, side)
    return CloseUp(np.asarray(image).astype(int)[::-1], left / k, bottom / k)


class CloseUp(NamedTuple):
    pixels: np.ndarray  # (side, side, 3), row 0 at the bottom
    left: float  # mm on the page
    bottom: float

    def centre_of(self, weight: np.ndarray) -> tuple[float, float]:
        """Centre of gravity of a weight for each pixel, mm on the page."""
        rows, columns = np.indices(weight.shape)
        total = weight.sum()
        return (
            self.left + ((columns + 0.5) * weight).sum() / total / CLOSE_PIXELS_PER_MM,
            self.bottom + ((rows + 0.5) * weight).sum() / total / CLOSE_PIXELS_PER_MM,
        )


def distance(one, other) -> float:
    return float(np.hypot(one[0] - other[0], one[1] - other[1]))


def turned(point, angle_deg: float, centre) -> tuple[float, float]:
    """A point of a decal as its copy lies on the film."""
    z = complex(*point) * np.exp(1j * np.radians(angle_deg)) + complex(*centre)
    return z.real, z.imag


def test_a_page_is_the_printable_width_by_the_frames_length(printed):
    with pypdfium2.PdfDocument(printed) as document:
        sizes = [page.get_size() for page in document]

    assert len(sizes) == 2
    for (width, height), length in zip(sizes, FRAME_LENGTH_MM, strict=True):
        assert width == pytest.approx(PAGE_WIDTH_MM * PT_PER_MM, abs=0.001)
        assert height == pytest.approx(length * PT_PER_MM, abs=0.001)


def test_every_mark_is_printed_where_it_is_planned(printed):
    for index, places in enumerate(MARKS):
        for x, y in places:
            at = on_page(index, x, y)
            seen = close_up(printed, index, *at, reach=5.0)
            ink = (255 - seen.pixels.mean(axis=2)) / 255
            assert distance(seen.centre_of(ink), at) < 0.02
            area = ink.sum() / CLOSE_PIXELS_PER_MM**2
            assert area == pytest.approx(np.pi * 3**2, rel=0.005)  # a disc of 6 mm


def test_marks_are_full_black(printed):
    for index, places in enumerate(MARKS):
        for place in places:
            assert close_up(printed, index, *on_page(index, *place), reach=2.0).pixels.max() == 0


def test_every_burgee_is_printed_where_and_as_it_is_turned(printed):
    """Its picture has a dark ring round (-25, 0), 16 mm across."""
    for index, places in enumerate(PLACES):
        for decal, _, centre, angle in places:
            if decal == 1:
                at = on_page(index, *turned((-25.0, 0.0), angle, centre))
                seen = close_up(printed, index, *at, reach=9.0)
                dark = np.abs(seen.pixels - (40, 40, 60)).max(axis=2) < 30
                assert dark.sum() / CLOSE_PIXELS_PER_MM**2 == pytest.approx(
                    np.pi * (8**2 - 3**2), rel=0.02
                )
                assert distance(seen.centre_of(dark), at) < WORN_MM


def test_every_plate_is_printed_where_and_as_it_is_turned(printed):
    """Its hole, 20 mm square round (-25, 10), is printed in by the bleed of 2 mm all round."""
    for index, places in enumerate(PLACES):
        for decal, _, centre, angle in places:
            if decal == 0:
                at = on_page(index, *turned((-25.0, 10.0), angle, centre))
                seen = close_up(printed, index, *at, reach=9.0)
                bare = seen.pixels.min(axis=2) > 140
                assert distance(seen.centre_of(bare), at) < WORN_MM
                assert bare.sum() / CLOSE_PIXELS_PER_MM**2 == pytest.approx(16 * 16, rel=0.02)


@pytest.mark.parametrize("edge", [(63, 140), (157, 140), (110, 108), (110, 172)])
def test_art_reaches_its_bleed_and_no_farther(printed, edge):
    """The plate at (110, 140) is 90 by 60 mm and bleeds 2: its ink ends on these four places."""
    seen = close_up(printed, 0, *on_page(0, *edge), reach=4.0)
    blue = (255 - seen.pixels[:, :, 0]) / (255 - seen.pixels[:, :, 0].min())

    assert 8 * blue.mean() == pytest.approx(4.0, abs=0.02)  # mm of ink in 8 mm of picture


def test_no_ink_lies_outside_bleed_marks_and_slug(run, pictures):
    """Both pictures reach 4 mm past their contour; the bleeds are 2 and 1.5 mm."""
    for index, frame in enumerate(run.marks.frames):
        allowed = [
            placed_run(place).region.buffer(run.artwork.decals[place[0]].bleed_mm)
            for place in PLACES[index]
        ]
        allowed += [shapely.Point(place).buffer(3.0) for place in MARKS[index]]
        (ax, ay), (bx, by) = frame.slug.across_mm, frame.slug.along_mm
        allowed += [
            shapely.box(ax - 2, ay - 0.1, ax + 102, ay + 5),
            shapely.box(bx - 0.1, by - 2, bx + 5, by + 102),
            shapely.box(*frame.slug.text_mm),
        ]
        ink = pictures[index].min(axis=2) < 250

        assert not (ink & ~covered(shapely.union_all(allowed), index, ink.shape)).any()


def covered(region: shapely.Geometry, index: int, shape: tuple[int, int]) -> np.ndarray:
    """Pixels that a region of the run touches, one pixel more for its soft edge."""
    k = PIXELS_PER_MM
    mask = Image.new("1", (shape[1], shape[0]))
    draw = ImageDraw.Draw(mask)
    for part in region.buffer(1.5 / k).geoms:
        for ring, filled in ((part.exterior, 1), *((hole, 0) for hole in part.interiors)):
            points = [on_page(index, x, y) for x, y in ring.coords]
            draw.polygon([(x * k - 0.5, y * k - 0.5) for x, y in points], fill=filled)
    return np.asarray(mask)


def test_every_placement_is_written_to_a_thousandth_of_a_millimetre(printed):
    with pikepdf.open(io.BytesIO(printed)) as pdf:
        for index, places in enumerate(PLACES):
            placed = forms_placed(pdf.pages[index])
            found = [each for each in placed if each[0].startswith("/Decal")]
            lines = [each for each in placed if each[0].startswith("/Contour")]
            assert {(name[8:], *at.tolist()) for name, at in lines} == {
                (name[6:], *at.tolist()) for name, at in found
            }
            assert [name for name, _ in found] == [f"/Decal{place[0] + 1}" for place in places]
            for (_, matrix), (_, _, centre, angle) in zip(found, places, strict=True):
                c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
                wanted = np.array([c, s, -s, c, *on_page(index, *centre)])
                np.testing.assert_allclose(matrix / PT_PER_MM, wanted, atol=2e-6)


def forms_placed(page: pikepdf.Page) -> list[tuple[str, np.ndarray]]:
    """Every form on a page by name, with the matrix it is drawn under (ISO 32000-1 8.3.4)."""
    now, kept, found = np.eye(3), [], []
    for operands, operator in pikepdf.parse_content_stream(page):
        match str(operator):
            case "q":
                kept.append(now)
            case "Q":
                now = kept.pop()
            case "cm":
                a, b, c, d, e, f = (float(value) for value in operands)
                now = np.array([[a, b, 0], [c, d, 0], [e, f, 1]]) @ now
            case "Do":
                found.append((str(operands[0]), now[:, :2].ravel()))
    assert kept == [], "every q has its Q"
    return found


def test_each_art_and_each_image_is_in_the_file_once(printed):
    with pikepdf.open(io.BytesIO(printed)) as pdf:
        streams = [thing for thing in pdf.objects if isinstance(thing, pikepdf.Stream)]
        kinds = [str(stream.get("/Subtype", "")) for stream in streams]

    assert kinds.count("/Image") == 2  # the burgee's picture and its alpha
    assert kinds.count("/Form") == 6  # a decal, the art in it and its contour, for two decals


def test_vectors_stay_vectors(printed):
    with pikepdf.open(io.BytesIO(printed)) as pdf:
        art = pdf.pages[0].Resources.XObject.Decal1.Resources.XObject.Art
        said = {str(operator) for _, operator in pikepdf.parse_content_stream(art)}

    assert "/XObject" not in art.Resources
    assert {"re", "l", "f*", "Tj"} <= said


def test_decals_that_share_a_picture_share_its_bytes(run):
    plate = run.artwork.decals[0]
    twice = dataclasses.replace(run.artwork, decals=(plate, plate))

    with pikepdf.open(io.BytesIO(print_pdf(dataclasses.replace(run, artwork=twice)))) as pdf:
        forms = pdf.pages[0].Resources.XObject
        assert (
            forms.Decal1.Resources.XObject.Art.objgen == forms.Decal2.Resources.XObject.Art.objgen
        )


def test_art_that_is_stored_turned_is_printed_upright(run, pictures):
    """A page with /Rotate 90 is shown a quarter turn clockwise (ISO 32000-1, Table 30)."""
    plate = run.artwork.decals[0]
    with pikepdf.open(io.BytesIO(plate.picture.pdf)) as pdf:
        page = pdf.pages[0]
        width, height = (float(value) for value in page.mediabox[2:])
        page.contents_add(pikepdf.Stream(pdf, b"q 0 1 -1 0 %f 0 cm" % height), prepend=True)
        page.contents_add(pikepdf.Stream(pdf, b"Q"))
        page.mediabox = [0, 0, height, width]
        page.Rotate = 90
        held = io.BytesIO()
        pdf.save(held)
    picture = Picture(pdf=held.getvalue(), box_mm=plate.picture.box_mm)
    turned_art = dataclasses.replace(plate, picture=picture)
    decals = (turned_art, run.artwork.decals[1])
    other = dataclasses.replace(run, artwork=dataclasses.replace(run.artwork, decals=decals))

    again = drawn(print_pdf(other), 0)

    assert np.abs(again - pictures[0]).mean() < 0.01


def test_the_blending_of_art_is_kept(run):
    """A page's transparency group moves with it: colours would blend otherwise (8.10.3, 11.6.6)."""
    plate = run.artwork.decals[0]
    with pikepdf.open(io.BytesIO(plate.picture.pdf)) as pdf:
        pdf.pages[0].Group = pikepdf.Dictionary(
            S=pikepdf.Name.Transparency, CS=pikepdf.Name.DeviceRGB, I=True
        )
        held = io.BytesIO()
        pdf.save(held)
    grouped = dataclasses.replace(
        plate, picture=dataclasses.replace(plate.picture, pdf=held.getvalue())
    )
    decals = (grouped, run.artwork.decals[1])
    other = dataclasses.replace(run, artwork=dataclasses.replace(run.artwork, decals=decals))

    with pikepdf.open(io.BytesIO(print_pdf(other))) as pdf:
        art = pdf.pages[0].Resources.XObject.Decal1.Resources.XObject.Art
        assert art.Group.S == "/Transparency"
        assert art.Group.CS == "/DeviceRGB"


@pytest.mark.parametrize(("length_mm", "unit"), [(5080.0, 1), (5080.1, 2), (12_000.0, 3)])
def test_a_page_too_long_for_the_format_gets_a_larger_unit(run, length_mm, unit):
    """12 m are 34 015.748 units of 1/72 inch: at least 2.36 of them must make one."""
    first = dataclasses.replace(run.marks.frames[0], length_mm=length_mm)
    marks = dataclasses.replace(run.marks, frames=(first, run.marks.frames[1]))

    with pikepdf.open(io.BytesIO(print_pdf(dataclasses.replace(run, marks=marks)))) as pdf:
        page = pdf.pages[0]
        longest = float(page.MediaBox[3])
        (_, matrix), *_ = forms_placed(page)

        assert float(page.obj.get("/UserUnit", 1)) == unit
        assert longest <= 14_400
        assert longest * unit / PT_PER_MM == pytest.approx(length_mm, abs=1e-3)
        assert matrix[0] * unit == pytest.approx(PT_PER_MM, abs=1e-6)
        assert "/UserUnit" not in pdf.pages[1].obj
        assert pdf.pdf_version >= "1.6"


def test_the_scale_bars_are_a_hundred_millimetres(run, printed):
    with pypdfium2.PdfDocument(printed) as document:
        for index, frame in enumerate(run.marks.frames):
            bars = [ends for ends in stroked(document[index]) if len(ends) == 4]
            spans = [np.ptp(ends, axis=0) / PT_PER_MM for ends in bars]
            starts = [ends.min(axis=0) / PT_PER_MM for ends in bars]

            np.testing.assert_allclose(spans, [(100, 4), (4, 100)], atol=0.001)
            np.testing.assert_allclose(
                starts,
                [on_page(index, *frame.slug.across_mm), on_page(index, *frame.slug.along_mm)],
                atol=0.001,
            )


def stroked(page: pypdfium2.PdfPage) -> list[np.ndarray]:
    """Corners of every path that stands on the page itself, in page units, as pdfium reads them."""
    raw = pypdfium2.raw
    paths = []
    for thing in page.get_objects([raw.FPDF_PAGEOBJ_PATH], max_depth=1):
        matrix, points = thing.get_matrix(), []
        for n in range(raw.FPDFPath_CountSegments(thing)):
            x, y = raw.c_float(), raw.c_float()
            segment = raw.FPDFPath_GetPathSegment(thing, n)
            raw.FPDFPathSegment_GetPoint(segment, x, y)
            points.append(matrix.on_point(x.value, y.value))
        paths.append(np.array(points))
    return paths


def test_the_words_say_job_frame_roll_and_leading_edge(printed):
    with pypdfium2.PdfDocument(printed) as document:
        said = [page.get_textpage().get_text_range() for page in document]

    for number, words in enumerate(said, start=1):
        for part in ("harbour regatta", f"frame {number} of 2", "white gloss 600", "leading edge"):
            assert part in words
        assert words.count("100 mm") == 2


def test_a_long_name_stays_inside_the_line(run):
    """The longest job name with the widest letters in a box of 90 by 5 mm."""
    order = run.job.order.model_copy(update={"name": "W" * 120})
    left, bottom, right, top = box = (60.0, 484.0, 150.0, 489.0)
    frame = run.marks.frames[1]
    tight = dataclasses.replace(frame, slug=dataclasses.replace(frame.slug, text_mm=box))
    other = dataclasses.replace(
        run,
        job=dataclasses.replace(run.job, order=order),
        marks=dataclasses.replace(run.marks, frames=(run.marks.frames[0], tight)),
    )

    with pypdfium2.PdfDocument(print_pdf(other)) as document:
        lines = document[1].get_textpage()
        boxes = [lines.get_rect(n) for n in range(lines.count_rects())]
    (x0, y0), (x1, y1) = on_page(1, left, bottom), on_page(1, right, top)
    within = [
        (a, b, c, d)
        for a, b, c, d in np.array(boxes) / PT_PER_MM
        if a >= x0 - 0.5 and c <= x1 and b >= y0 and d <= y1
    ]

    assert len(boxes) == 4, "the line, two labels of bars, the plate's own word"
    assert len(within) == 1


def test_every_font_is_embedded_and_nothing_depends_on_the_day(printed):
    with pikepdf.open(io.BytesIO(printed)) as pdf:
        fonts = [f for f in pdf.objects if isinstance(f, pikepdf.Dictionary) and "/BaseFont" in f]

        assert fonts
        assert all("/FontFile2" in font.FontDescriptor for font in fonts)
        assert {str(key) for key in pdf.docinfo} == {"/Title", "/Producer", "/Trapped"}
        assert pdf.Root.ViewerPreferences.PrintScaling == "/None"
        for page in pdf.pages:
            assert "/Trans" not in page.obj
            assert page.trimbox == page.mediabox == page.obj.BleedBox


def test_nothing_of_the_contour_is_printed(printed):
    """A cut line in the print would show wherever the knife drifts."""
    with pikepdf.open(io.BytesIO(printed)) as pdf:
        for decal in ("Decal1", "Decal2"):
            form = pdf.pages[0].Resources.XObject[f"/{decal}"]
            said = [str(operator) for _, operator in pikepdf.parse_content_stream(form)]
            assert set(said) == {"m", "l", "h", "W*", "n", "q", "cm", "Do", "Q"}


def test_the_same_run_gives_the_same_bytes(printed):
    assert print_pdf(a_run()) == printed
