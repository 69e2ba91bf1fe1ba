"""Numbered copies: files of rows as shops send them, and text set in the art row by row."""

import io

import pypdfium2
import pytest

from nestplan.artwork import load_artwork
from nestplan.artwork.row_table import read_table
from nestplan.faults import Fault, Faults
from tests.artwork.handmade import job, svg

PLATE = '<rect x="10" y="10" width="80" height="40" fill="#bde"/>'
NUMBER = '<text data-row="number" x="50" y="38" text-anchor="middle" font-size="20">H 7</text>'
OUTLINE = "layer:cut"
CUT = '<rect id="cut" x="10" y="10" width="80" height="40" fill="none" stroke="red"/>'


def numbered(folder, rows, body=PLATE + CUT + NUMBER, **order):
    """The artwork of one decal with rows; rows: text or bytes of its file."""
    (folder / "plate.svg").write_text(svg(body), encoding="utf-8")
    (folder / "boats.csv").write_bytes(rows if isinstance(rows, bytes) else rows.encode())
    asked = {"name": "plate", "artwork": "plate.svg", "rows": "boats.csv", "contour": OUTLINE}
    return load_artwork(job(folder, {**asked, "quantity": None, **order}))


def words_of(picture):
    """What a reader of PDF that did not write it copies out of a picture."""
    document = pypdfium2.PdfDocument(picture.pdf)
    return document[0].get_textpage().get_text_range()


def faults_of(folder, rows, body=PLATE + CUT + NUMBER, **order):
    with pytest.raises((Fault, Faults)) as raised:
        numbered(folder, rows, body, **order)
    faults = raised.value.each if isinstance(raised.value, Faults) else [raised.value]
    return [(fault.what, fault.where, fault.do) for fault in faults]


def test_each_row_is_a_copy_whose_text_can_be_read(tmp_path):
    (decal,) = numbered(tmp_path, "number,owner\n11,A\nΩ 12,B\nЖ-É,C\n").decals

    assert decal.quantity == 3
    assert [row.values for row in decal.rows] == [
        (("number", "11"),),
        (("number", "Ω 12"),),
        (("number", "Ж-É"),),
    ]
    assert [words_of(row.picture) for row in decal.rows] == ["11", "Ω 12", "Ж-É"]
    assert words_of(decal.picture) == ""


@pytest.mark.parametrize(
    "rows",
    [
        "number,owner\n11,A\n12,B\n",
        "number;owner\r\n11;A\r\n12;B\r\n",
        "owner\tnumber\rA\t11\rB\t12",
        "\ufeffnumber, owner\n 11 , A\n12,B\n\n\n",
        'owner,number\n"A, B and ""C""","11"\nD,12\n',
    ],
    ids=["plain", "semicolons", "tabs", "a mark at the head, spaces, blank ends", "quotes"],
)
def test_rows_are_read_as_spreadsheets_write_them(tmp_path, rows):
    (decal,) = numbered(tmp_path, rows).decals

    assert [row.words for row in decal.rows] == ["11", "12"]


@pytest.mark.parametrize(
    ("rows", "what", "where"),
    [
        ("nummer,owner\n1,A\n", "boats.csv has no column 'number'", "plate.svg, <text>"),
        ("number\n1\n\n", None, None),
        ("number,owner\n1,A\n,B\n,C\n", "the column 'number' is empty in lines 3, 4", "boats.csv"),
        ("number,number\n1,2\n", "two columns are called 'number'", "first line"),
        ("number,\n1,2\n", "column 2 has no name", "first line"),
        ("number,owner\n1\n", "this row has 1 value, the head has 2 columns", "line 2"),
        ("number\n", "the file has no row below its head", "boats.csv"),
        ("\n\n", "the file names no columns", "first line"),
        (b"number\n\xe4\n", "the file is not UTF-8", "line 2"),
        (b"n\0\n1\n", "the file is no text", "boats.csv"),
        ('number\n"1\n', "the file is not CSV", "line"),
        ('number\n"1\n2"\n', "number has signs that do not print", "line 3"),
        ("number\n" + "9" * 201 + "\n", "number is 201 characters long", "line 2"),
        ("number\n\u6f22\n", "DejaVu Sans has no glyph for '\u6f22' (U+6F22)", "line 2"),
    ],
)
def test_a_file_of_rows_that_cannot_be_printed_says_where(tmp_path, rows, what, where):
    if what is None:
        assert numbered(tmp_path, rows).decals[0].quantity == 1
        return
    found = faults_of(tmp_path, rows)

    assert any(what in said and where in at for said, at, _ in found), found


@pytest.mark.parametrize(
    ("body", "what"),
    [
        (PLATE + CUT, "no text of the art takes them"),
        (PLATE + CUT + '<rect data-row="number" width="1" height="1"/>', "only text can say"),
        (PLATE + CUT + NUMBER.replace("H 7", "H <tspan>7</tspan>"), "more than the words"),
        (PLATE + CUT + f'<g opacity=".5">{NUMBER}</g>', "a group with an opacity"),
        (PLATE + CUT + f"<defs>{NUMBER}</defs>", "only drawn where it is referred to"),
        (CUT + NUMBER + PLATE, "the art draws this over the text of the rows"),
        (PLATE + CUT + NUMBER.replace('"number"', '""'), "data-row is empty"),
        (PLATE + CUT + NUMBER.replace("<text", '<text data-row-font="a.ttf"'), "no file 'a.ttf'"),
    ],
)
def test_art_that_cannot_take_rows_says_why(tmp_path, body, what):
    assert what in faults_of(tmp_path, "number\n1\n", body)[0][0]


def test_a_quantity_must_be_the_number_of_rows(tmp_path):
    assert numbered(tmp_path, "number\n1\n2\n", quantity=2).decals[0].quantity == 2
    ((what, where, _),) = faults_of(tmp_path, "number\n1\n2\n", quantity=3)

    assert what == "quantity is 3, and boats.csv has 2 rows"
    assert where.endswith("quantity")


@pytest.mark.parametrize(
    ("rows", "level", "text"),
    [
        ("number\n1\n2\n1\n", "look", "rows that say the same: 1 (lines 2 and 4)"),
        ("number\nH 7\nH 123\n", "look", "line 3 wider than the sample in the art"),
        ("number\n1\nH 123456\n", "stop", "the text crosses the cut line: line 3"),
        ("number\n1\n\n2\n", "look", "line 3 blank"),
    ],
)
def test_rows_that_need_an_eye_are_noted(tmp_path, rows, level, text):
    notes = numbered(tmp_path, rows).notes

    assert any(note.level == level and text in note.text for note in notes), notes


def test_a_face_that_is_not_shipped_is_said(tmp_path):
    body = PLATE + CUT + NUMBER.replace("<text", '<text font-family="Quay Grotesk"')
    (note,) = numbered(tmp_path, "number\n1\n", body).notes

    assert "set in DejaVu Sans, not in Quay Grotesk" in note.text


def test_a_face_of_the_jobs_folder_is_taken(tmp_path):
    """Its name need not be the one the art asks for; the job's file decides."""
    from nestplan.artwork.row_font import BOLD

    (tmp_path / "quay.ttf").write_bytes(BOLD.read_bytes())
    named = NUMBER.replace("<text", '<text data-row-font="quay.ttf" font-family="Quay"')
    artwork = numbered(tmp_path, "number\n11\n", PLATE + CUT + named)
    pdf = pypdfium2.PdfDocument(artwork.decals[0].rows[0].picture.pdf)

    assert artwork.notes == ()
    fonts = {
        each.get_font().get_base_name() for each in pdf[0].get_objects(filter=[1], max_depth=5)
    }
    assert any("DejaVuSans-Bold" in name for name in fonts)


def test_rows_are_set_the_same_each_time(tmp_path):
    once, again = (numbered(tmp_path, "number\n1\n2\n").decals[0] for _ in range(2))

    assert [row.picture.pdf for row in once.rows] == [row.picture.pdf for row in again.rows]


def test_a_table_is_read_from_bytes():
    table = read_table(io.BytesIO(b"a;b\n1;2\n").getvalue(), "t.csv")

    assert table.columns == ("a", "b") and table.rows == (("1", "2"),) and table.lines == (2,)
