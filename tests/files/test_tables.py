"""The tables that go into a spreadsheet."""

import csv
import io
from collections.abc import Iterator
from decimal import Decimal

from nestplan.files.summary import contents
from nestplan.files.tables import tables
from nestplan.fit.table import read_table
from tests.files.handmade import MARKS, a_run

SAID = contents(a_run(), {})
MADE = tables(SAID)


def rows(name: str, skip: int = 0) -> Iterator[dict[str, str]]:
    """Lines of a table by the names of its columns."""
    text = MADE[name].decode("utf-8-sig")
    return csv.DictReader(io.StringIO(text.split("\r\n", skip)[skip], newline=""))


def test_measured_marks_can_be_written_over_the_table_of_marks(tmp_path):
    """What `fit` reads is what stands in it, frame by frame."""
    (tmp_path / "marks.csv").write_bytes(MADE["marks.csv"])
    read = read_table(tmp_path / "marks.csv")

    assert read.declared and read.upward
    for sheet, meant in zip(read.sheets, MARKS, strict=True):
        assert sheet.marks.tolist() == list(range(1, len(meant) + 1))
        assert sheet.points_mm.tolist() == [list(place) for place in meant]


def test_a_line_for_each_copy_and_the_prices_of_the_decals_make_the_total():
    assert len(list(rows("placements.csv"))) == 8
    priced = sum(Decimal(row["price"]) * int(row["ordered"]) for row in rows("decals.csv"))
    figures = {row["figure"]: row["value"] for row in rows("figures.csv")}

    assert priced == Decimal(figures["cost.total"]) == Decimal("20.00")
    assert figures["nest.copies"] == "8"


def test_lines_end_as_the_standard_says_and_cells_with_commas_are_quoted():
    """RFC 4180, section 2, rules 1 and 6."""
    said = {**SAID, "setups": {'the "pair", upstairs': next(iter(SAID["setups"].values()))}}
    data = tables(said)["setups.csv"]

    assert data.endswith(b"\r\n")
    assert data.splitlines()[1].startswith(b'"the ""pair"", upstairs",')


def test_a_name_beyond_ascii_brings_a_byte_order_mark_and_a_formula_an_apostrophe():
    decals = [{**SAID["decals"][0], "name": "Πρύμνη"}, {**SAID["decals"][1], "name": "=1+1"}]
    made = tables({**SAID, "decals": decals})

    assert made["decals.csv"].startswith(b"\xef\xbb\xbf")
    assert "Πρύμνη".encode() in made["placements.csv"]
    assert b",'=1+1," in made["decals.csv"]
    assert not MADE["decals.csv"].startswith(b"\xef\xbb\xbf")
