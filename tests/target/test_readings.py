"""Tables as people and spreadsheets leave them."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.faults import Fault, Faults
from nestplan.target import read_readings, read_sheet
from tests.target.simulate import target_of

HEAD = "station,x_mm,y_mm,to_station,tape_mm\n"
TARGET = target_of("affine")


def read(tmp_path, data):
    path = tmp_path / "read.csv"
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return read_readings(read_sheet(path), TARGET)


def faults(tmp_path, data):
    with pytest.raises((Fault, Faults)) as found:
        read(tmp_path, data)
    return list(getattr(found.value, "each", [found.value]))


@pytest.mark.parametrize(
    "data",
    [
        HEAD + "1,0.35,-0.1,,\n3,,,12,1231.5\n",
        HEAD + "1,+.35,\u22120.10,,\n12,,,3,1231.5\n",  # a printed minus; the tape from its end
        "\ufeff" + HEAD.replace(",", ";") + "1;0,35;-0,1;;\r\n3;;;12;1231,5\r\n",
        "x_mm\tstation\ty_mm\ttape_mm\tto_station\n0.35\t1\t-0.1\t\t\n\t3\t\t1231.5\t12\n",
        "# setup: pair,,,,\n\n" + HEAD + ",,,,\n1, 0.35 , -0.1,,\n\n3,,,12,1231.5\n",
        HEAD.strip() + ",,\n1,0.35,-0.1,,,,\n3,,,12,1231.5,,\n",
        HEAD + "1,0.35,-0.1\n3,,,12,1231.5\n",
    ],
)
def test_what_a_person_or_a_spreadsheet_writes_is_read(tmp_path, data):
    readings = read(tmp_path, data)

    (station,), (tape,) = readings.stations, readings.tapes
    assert (station.number, station.x_mm, station.y_mm) == (1, 0.35, -0.1)
    assert (tape.start, tape.end, tape.length_mm) == (3, 12, 1231.5)


@pytest.mark.parametrize(
    ("rows", "what", "where"),
    [
        ("1,0.3o,0,,", "'0.3o' is no number", "line 2, column 2 (x_mm)"),
        ("1,nan,0,,", "'nan' is no number", "line 2, column 2 (x_mm)"),
        ("1,1e3,0,,", "'1e3' is no number", "line 2, column 2 (x_mm)"),
        ("1,0.3,,,", "y_mm is empty", "line 2, column 3 (y_mm)"),
        ("1,0.3,35,,", "y_mm is 35: more than 20 mm off", "line 2, column 3 (y_mm)"),
        ("1,0,0,,\n2,0,0,,\n1,0,0,,", "station 1 is read twice", "line 4, column 1 (station)"),
        ("13,0,0,,", "there is no station 13", "line 2, column 1 (station)"),
        ("1.5,0,0,,", "1.5 is no station", "line 2, column 1 (station)"),
        (",0.3,0.2,,", "a line without a station", "line 2, column 1 (station)"),
        ("1,,,,1232", "a tape length to nowhere", "line 2, column 4 (to_station)"),
        ("1,,,5,1232", "no length is asked from 1 to 5", "line 2, column 4 (to_station)"),
        ("1,,,10,123.2", "123.2 from 1 to 10, where", "line 2, column 5 (tape_mm)"),
        ("1,,,10,1232\n10,,,1,1232", "the length is there twice", "line 3, column 5 (tape_mm)"),
        ("1,0,3,0,2,,", "7 cells where the table has 5 columns", "line 2, column 5 (tape_mm)"),
    ],
)
def test_a_wrong_cell_is_named_by_line_and_column(tmp_path, rows, what, where):
    (fault,) = faults(tmp_path, HEAD + rows + "\n")

    assert what in fault.what
    assert fault.where.endswith(f"read.csv, {where}")
    assert fault.code == 2


def test_all_wrong_cells_are_told_at_once(tmp_path):
    found = faults(tmp_path, HEAD + "1,a,b,,\n2,0,c,,\n")

    assert [fault.what for fault in found] == [f"'{sign}' is no number" for sign in "abc"]


@pytest.mark.parametrize(
    ("data", "what"),
    [
        ("", "the table holds no readings"),
        ("station,x,y_mm,to_station,tape_mm\n1,0,0,,\n", "the table has no column 'x'"),
        ("station,x_mm,y_mm\n1,0,0\n", "the first line lacks to_station, tape_mm"),
        (b"PK\x03\x04\xff\xfe" + bytes(range(256)), "the table is not UTF-8 text"),
        ("1,0,0,,\n" * 50_000, "the table is larger than 200 kB"),
        ("# target: 00000000\n" + HEAD + "1,0,0,,\n", "the table belongs to target 00000000"),
    ],
)
def test_what_is_no_table_of_this_target_is_refused(tmp_path, data, what):
    (fault,) = faults(tmp_path, data)

    assert what in fault.what


def test_no_file_and_a_folder_are_told(tmp_path):
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(Fault, match="cannot be read"):
            read_sheet(path)


@given(st.one_of(st.binary(max_size=300), st.text(max_size=300).map(str.encode)))
@settings(max_examples=150)
def test_junk_is_never_more_than_a_fault(tmp_path_factory, data):
    path = tmp_path_factory.getbasetemp() / "junk.csv"
    for head in (b"", HEAD.encode()):
        path.write_bytes(head + data)
        try:
            read_readings(read_sheet(path), TARGET)
        except (Fault, Faults):
            continue
