"""What the proof is put together from: distances, scales, columns, labels, material, pixels."""

import io
from dataclasses import replace
from itertools import pairwise
from math import dist

import numpy as np
import pikepdf
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from nestplan.artwork import Picture
from nestplan.artwork.pixel_file import read_pixels
from nestplan.artwork.pixel_pdf import pixels_pdf
from nestplan.files.fonts import register_fonts
from nestplan.files.material import material
from nestplan.files.proof_dimension import spread, thinned
from nestplan.files.proof_distances import tape_distances
from nestplan.files.proof_flow import balanced_mm, pour, stack_mm
from nestplan.files.proof_pieces import pieces_of
from nestplan.files.proof_raster import lighter
from nestplan.files.proof_scale import round_scale
from nestplan.files.proof_style import BLOCK_GAP_MM
from nestplan.files.proof_table import Column, Table
from nestplan.files.proof_text import fitted, width_mm, wrapped
from nestplan.marks import Mark
from tests.files.handmade import AREAS_MM2, a_run
from tests.files.proof_samples import huge, narrow, sample, twenty_frames

register_fonts()


def marks_at(*places):
    """Marks numbered in the order given."""
    return tuple(Mark(number=n, x_mm=x, y_mm=y) for n, (x, y) in enumerate(places, start=1))


# distances


def test_a_rectangle_of_marks_has_three_four_five_distances():
    """300 across, 400 along, 500 from corner to corner: by hand."""
    found = tape_distances(marks_at((0, 0), (300, 0), (0, 400), (300, 400)))

    assert [(d.start, d.end, d.way, d.length_mm) for d in found] == [
        (1, 2, "across", 300.0),
        (3, 4, "across", 300.0),
        (1, 3, "along", 400.0),
        (2, 4, "along", 400.0),
        (1, 4, "diagonal", 500.0),
        (2, 3, "diagonal", 500.0),
    ]


def test_marks_between_get_their_steps_and_the_whole_length():
    found = tape_distances(marks_at((0, 0), (300, 0), (0, 200), (300, 200), (0, 400), (300, 400)))
    along = {(d.start, d.end): d.length_mm for d in found if d.way == "along"}

    assert along == {
        (1, 3): 200.0,
        (3, 5): 200.0,
        (1, 5): 400.0,
        (2, 4): 200.0,
        (4, 6): 200.0,
        (2, 6): 400.0,
    }


def test_a_mark_of_no_edge_is_fixed_by_its_two_nearer_corners():
    """(150, 400) from (0, 0) and (300, 0): by hand the root of 150² + 400², 427.2."""
    found = tape_distances(marks_at((0, 0), (300, 0), (0, 400), (300, 400), (150, 400)))
    extra = {(d.start, d.end): d.length_mm for d in found if d.way == "corner"}

    assert extra == {(1, 5): pytest.approx(427.2, abs=0.01), (2, 5): pytest.approx(427.2, abs=0.01)}


def test_two_marks_have_one_distance():
    assert [d.length_mm for d in tape_distances(marks_at((0, 0), (300, 400)))] == [500.0]


places = st.tuples(st.integers(0, 40), st.integers(0, 60)).map(lambda p: (p[0] * 10.0, p[1] * 10.0))


@given(st.lists(places, min_size=2, max_size=14, unique=True))
def test_the_distances_hold_every_mark(points):
    """Each distance is true and said once, and each mark is in at least one of them."""
    marks = marks_at(*points)
    found = tape_distances(marks)
    pairs = [(d.start, d.end) for d in found]

    for d in found:
        assert d.start < d.end
        assert d.length_mm == dist(points[d.start - 1], points[d.end - 1])
    assert len(set(pairs)) == len(pairs)
    assert {number for pair in pairs for number in pair} == {mark.number for mark in marks}


# scale, pieces


@given(st.floats(0.01, 1000))
def test_a_round_scale_fits_and_is_not_much_smaller_than_needed(least):
    """Never enlarged, never too large for the page, never a third smaller than it could be."""
    denominator = round_scale(least)

    assert denominator >= max(1.0, least) - 1e-9
    assert denominator <= max(1.0, least) * 1.5 + 1e-9


@pytest.mark.parametrize(("least", "scale"), [(0.3, 1.0), (7.5, 7.5), (7.6, 8.0), (41.0, 50.0)])
def test_scales_are_those_of_a_scale_ruler(least, scale):
    assert round_scale(least) == scale


@pytest.mark.parametrize("make", [twenty_frames, narrow, huge, a_run])
@pytest.mark.parametrize("most", [1, 2, 3, 7])
def test_pieces_hold_every_frame_once_and_the_film_without_gap(make, most):
    marks = make().marks
    pieces = pieces_of(marks, most)

    assert len(pieces) <= most
    assert [f.index for piece in pieces for f in piece.frames] == [f.index for f in marks.frames]
    ends = [0.0, *(piece.y_to_mm for piece in pieces)]
    assert [piece.y_from_mm for piece in pieces] == ends[:-1]
    assert ends[-1] == marks.length_used_mm
    for piece in pieces:
        for frame in piece.frames:
            assert piece.y_from_mm <= frame.y0_mm
            assert frame.y0_mm + frame.length_mm <= piece.y_to_mm


def test_two_pieces_of_twenty_equal_frames_are_ten_and_ten():
    assert [len(p.frames) for p in pieces_of(twenty_frames().marks, 2)] == [10, 10]


# labels


heights = st.lists(st.floats(0, 100), min_size=1, max_size=20).map(sorted)


@given(heights)
def test_spread_labels_keep_their_gap_and_order_inside_the_room(wanted):
    found = spread(wanted, 4.0, 0.0, 100.0)

    assert len(found) == len(wanted)
    assert all(b - a >= 4.0 - 1e-9 for a, b in pairwise(found))
    assert found[0] >= -1e-9
    assert found[-1] <= 100.0 + 1e-9


@given(st.floats(10, 40), st.floats(50, 90))
def test_labels_that_have_room_stay_where_they_are(a, b):
    assert spread([a, b], 4.0, 0.0, 100.0) == pytest.approx([a, b])


def test_two_labels_at_one_height_move_apart_by_the_same():
    assert spread([50.0, 50.0], 4.0, 0.0, 100.0) == [48.0, 52.0]


@given(st.integers(1, 200), st.floats(1, 300))
def test_thinned_labels_fit_and_keep_both_ends(count, room):
    labels = list(range(count))
    kept = thinned(labels, room_mm=room, gap_mm=2.5)

    assert len(kept) <= max(2, int(room / 2.5) + 1)
    assert kept[0] == labels[0]
    assert kept[-1] == labels[-1]
    assert kept == sorted(set(kept))


# words


@given(st.text(max_size=60), st.floats(5, 60))
def test_cut_words_fit_their_room(words, room):
    assert width_mm(fitted(words, 7.2, room), 7.2) <= max(room, width_mm("…", 7.2)) + 1e-6


@given(st.text(max_size=120), st.floats(12, 60))
def test_wrapped_lines_fit_and_lose_no_letter(words, room):
    lines = wrapped(words, 7.2, room)

    assert all(width_mm(line, 7.2) <= room + 1e-6 for line in lines)
    printable = "".join(letter if letter.isprintable() else " " for letter in words)
    assert "".join("".join(lines).split()) == "".join(printable.split())


# columns


def table(rows, title="t"):
    """A table of so many rows."""
    return Table(
        title=title,
        columns=(Column(stretch=True), Column(align="right")),
        rows=tuple((f"{title} {k}", str(k)) for k in range(rows)),
    )


tables = st.lists(st.integers(1, 30).map(table), min_size=1, max_size=8)


@given(tables, st.integers(1, 4))
def test_poured_blocks_keep_their_order_and_fit_the_balanced_height(blocks, columns):
    room = balanced_mm(blocks, 50.0, columns)
    poured = pour(blocks, 50.0, columns, room, part=False)

    assert [b for column in poured.columns for b in column] == blocks
    assert not poured.rest
    assert all(stack_mm(column, 50.0) <= room + 1e-6 for column in poured.columns)


@given(st.integers(6, 200), st.floats(60, 250))
def test_a_parted_table_loses_no_row(rows, room):
    whole = table(rows)
    parts, rest = [], [whole]
    while rest:
        poured = pour(rest, 50.0, 1, room, part=True)
        parts.extend(poured.columns[0])
        rest = list(poured.rest)

    assert [row for part in parts for row in part.rows] == list(whole.rows)
    assert all(part.height_mm(50.0) <= room + BLOCK_GAP_MM for part in parts)


@given(st.lists(st.text(min_size=1, max_size=30), min_size=1, max_size=5), st.floats(40, 120))
def test_columns_fill_the_table_and_do_not_overlap(names, width):
    made = Table(
        title="t",
        columns=(Column(stretch=True), *(Column(align="right") for _ in range(3))),
        rows=tuple((name, "1.0", "1370.0", "24.5") for name in names),
    )
    spans = made._spans(0.0, width)

    assert spans[0][0] == 0.0
    assert spans[-1][1] == pytest.approx(width)
    assert all(a[1] < b[0] for a, b in pairwise(spans))


# material


def test_the_film_of_the_handmade_run_goes_where_pencil_and_paper_say():
    """600 mm film, 880 mm used, printable 578 mm, frames of 400 and 300 mm; four of each decal."""
    run = a_run()
    used = material(run)
    contours = 4 * sum(AREAS_MM2)

    assert used.film_mm2 == 600 * 880
    assert used.decals_mm2 == pytest.approx(contours)
    assert used.margins_mm2 == 22 * 880
    assert used.unprinted_mm2 == 578 * (880 - 700)
    assert used.frame_ends_mm2 == pytest.approx(578 * (700 - run.nest.length_mm))
    assert used.used_percent == pytest.approx(100 * contours / (600 * 880))


@pytest.mark.parametrize("make", [a_run, narrow, twenty_frames])
def test_decals_and_the_five_wastes_add_up_to_the_film(make):
    used = material(make())
    parts = (
        used.decals_mm2,
        used.margins_mm2,
        used.unprinted_mm2,
        used.frame_ends_mm2,
        used.between_mm2,
    )

    assert min(parts) > 0
    assert sum(parts) == pytest.approx(used.film_mm2)
    assert used.used_percent + used.waste_percent == pytest.approx(100)


# pixels


def raster_decal(pixels, box=(-50.0, -25.0, 50.0, 25.0)):
    """A decal whose art is one image that fills its box."""
    held = io.BytesIO()
    size = (box[2] - box[0], box[3] - box[1])
    pdf = Canvas(held, pagesize=size, invariant=1)
    pdf.drawImage(ImageReader(Image.fromarray(pixels)), 0, 0, *size, mask="auto")
    pdf.save()
    decal = sample().artwork.decals[0]
    return replace(decal, picture=Picture(pdf=held.getvalue(), box_mm=box))


def image_of(decal):
    """The image of a decal's art and its mask, as arrays."""
    with pikepdf.open(io.BytesIO(decal.picture.pdf)) as pdf:
        (image,) = pdf.pages[0].Resources.XObject.values()
        mask = np.asarray(pikepdf.PdfImage(image.SMask).as_pil_image())
        return np.asarray(pikepdf.PdfImage(image).as_pil_image().convert("RGB")), mask


def test_a_raster_keeps_what_the_drawing_shows_and_no_more():
    """100 x 50 mm at 1:10 are 10 x 5 mm of paper: 236 x 118 pixels at 600 an inch, by hand.

    4000 / 236 is 16 whole times, so 250 x 125 are kept.
    """
    pixels = np.full((2000, 4000, 4), 255, dtype=np.uint8)
    pixels[:, :2000] = (200, 40, 40, 255)
    pixels[:, 2000:] = (255, 0, 255, 0)  # a colour that nobody may see

    colour, cover = image_of(lighter(raster_decal(pixels), 10.0))

    assert colour.shape == (125, 250, 3)
    assert cover.shape == (125, 250)
    np.testing.assert_array_equal(cover[:, :125], 255)
    np.testing.assert_array_equal(cover[:, 125:], 0)
    assert np.abs(colour[:, :125].astype(int) - (200, 40, 40)).max() <= 2


def test_a_half_covered_pixel_takes_its_colour_from_what_covers():
    """Stripes of red and of clear magenta, one pixel each: the mean must not turn purple."""
    pixels = np.zeros((1200, 2400, 4), dtype=np.uint8)
    pixels[:, 0::2] = (200, 40, 40, 255)
    pixels[:, 1::2] = (255, 0, 255, 0)

    colour, cover = image_of(lighter(raster_decal(pixels), 10.0))

    assert np.abs(cover.astype(int) - 127).max() <= 1
    assert np.abs(colour.astype(int) - (200, 40, 40)).max() <= 3


def test_grey_art_stays_grey():
    """A grey photograph without alpha keeps its one channel."""
    decal = raster_decal(np.full((1200, 2400), 90, dtype=np.uint8))
    with pikepdf.open(io.BytesIO(lighter(decal, 10.0).picture.pdf)) as pdf:
        (image,) = pdf.pages[0].Resources.XObject.values()
        shade = np.asarray(pikepdf.PdfImage(image).as_pil_image().convert("L"))

    assert shade.shape == (120, 240)
    np.testing.assert_array_equal(shade, 90)


def test_a_large_jpeg_keeps_its_colours_where_it_is_made_lighter():
    """3200 px on 236 are 13 whole times: JPEG unfolds to an eighth by itself."""
    down, across = np.mgrid[0:1600, 0:3200]
    soft = np.stack([across // 16, down // 8, (across + down) // 32], axis=-1).astype(np.uint8)
    held = io.BytesIO()
    Image.fromarray(soft).save(held, "JPEG", quality=92)
    read = read_pixels(held.getvalue(), "a.jpg")
    pdf, _ = pixels_pdf(read.colour, None, None, 100, 50, jpeg=read.jpeg)
    decal = replace(
        sample().artwork.decals[0], picture=Picture(pdf=pdf, box_mm=(-50.0, -25.0, 50.0, 25.0))
    )

    with pikepdf.open(io.BytesIO(lighter(decal, 10.0).picture.pdf)) as opened:
        (image,) = opened.pages[0].Resources.XObject.values()
        found = np.asarray(pikepdf.PdfImage(image).as_pil_image().convert("RGB"))

    assert 236 <= found.shape[1] <= 2 * 236 * 8 / 7
    wanted = np.asarray(Image.fromarray(soft).resize(found.shape[1::-1], Image.Resampling.BOX))
    assert np.abs(found.astype(int) - wanted).mean() < 2


@pytest.mark.parametrize(
    "harm",
    [
        lambda image: image.__delitem__("/Height"),
        lambda image: setattr(image, "Height", 0),
        lambda image: setattr(image, "Width", -4000),
        lambda image: image.write(b"too short"),
        lambda image: image.SMask.write(b"too short"),
    ],
)
def test_an_image_that_cannot_be_unfolded_is_left_as_it_is(harm):
    decal = raster_decal(np.full((2000, 4000, 4), 200, dtype=np.uint8))
    held = io.BytesIO()
    with pikepdf.open(io.BytesIO(decal.picture.pdf)) as pdf:
        harm(next(iter(pdf.pages[0].Resources.XObject.values())))
        pdf.save(held)
    hurt = replace(decal, picture=replace(decal.picture, pdf=held.getvalue()))

    assert lighter(hurt, 10.0) is hurt


def test_art_that_is_fine_as_it_is_stays_the_same_object():
    vector = sample().artwork.decals[0]
    few = raster_decal(np.full((100, 200, 4), 255, dtype=np.uint8))

    assert lighter(vector, 10.0) is vector
    assert lighter(few, 10.0) is few
