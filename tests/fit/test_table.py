"""The table of measured marks: what is read, and what is refused by line."""

import numpy as np
import pytest

from nestplan.faults import Fault, Faults
from nestplan.fit.table import read_table

HEAD = "frame,mark,x_mm,y_mm\n"


def of(tmp_path, text: str | bytes):
    """The table read from a file."""
    path = tmp_path / "marks.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_table(path)


def test_rows_in_any_order_are_parted_by_frame(tmp_path):
    """Frames by their number, marks as they came."""
    read = of(tmp_path, HEAD + "2,1,5,6\n1,3,1.5,2\n\n1,1,3,4\n# a remark\n")

    assert [(s.frame, s.marks.tolist()) for s in read.sheets] == [(1, [3, 1]), (2, [1])]
    np.testing.assert_array_equal(read.sheets[0].points_mm, [(1.5, 2), (3, 4)])
    assert read.upward and not read.declared


def test_y_down_is_turned_over(tmp_path):
    """And inches become millimetres."""
    read = of(tmp_path, "y=down\nframe,mark,x_in,y_in\n1,1,1,2\n1,2,10,-4\n")

    np.testing.assert_allclose(read.sheets[0].points_mm, [(25.4, -50.8), (254, 101.6)])
    assert read.declared


@pytest.mark.parametrize(
    "text",
    [
        "frame;mark;x_mm;y_mm\n1;2;1,25;-3,5\n",
        "frame\tmark\tx_mm\ty_mm\n1\t2\t1,25\t-3,5\n",
        "\ufeffMark,Frame,Y_mm,X_mm\r\n2,1,-3.5,1.25\r\n",
        "y=up,,,\nframe,mark,x_mm,y_mm,\n1,2,1.25,-3.5,\n",
        '"frame","mark","x_mm","y_mm"\n"1","2","1.25","-3.5"\n',
    ],
)
def test_what_spreadsheets_write_is_read(tmp_path, text):
    """Semicolons and tabs with decimal commas, a byte order mark, columns in another order."""
    sheet = of(tmp_path, text).sheets[0]

    assert (sheet.frame, sheet.marks.tolist()) == (1, [2])
    np.testing.assert_array_equal(sheet.points_mm, [(1.25, -3.5)])


def test_how_well_marks_were_read_is_taken_from_header_and_digits(tmp_path):
    """A whole number stands for anything within half a millimetre: 1 / sqrt(12) by itself."""
    sheet = of(tmp_path, "sd_mm=0.3\n" + HEAD + "1,1,10,20\n1,2,30,40\n").sheets[0]

    assert sheet.sd_mm == 0.3
    assert sheet.rounding_mm == pytest.approx(0.2887, abs=1e-4)


def test_a_mark_measured_twice_counts_once(tmp_path):
    """Its mean is taken, as long as the two are near each other."""
    sheet = of(tmp_path, HEAD + "1,1,10.0,20.0\n1,1,10.2,20.0\n1,2,30,40\n").sheets[0]
    np.testing.assert_allclose(sheet.points_mm, [(10.1, 20), (30, 40)])

    with pytest.raises(Fault, match=r"mark 1 was measured twice, 5.0 mm apart"):
        of(tmp_path, HEAD + "1,1,10,20\n1,1,15,20\n")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "empty"),
        (HEAD, "holds no mark"),
        ("1,1,10,20\n1,2,30,40\n", "not known as a column: 1"),
        ("frame,mark,x_mm\n1,1,2\n", "names of the columns are not there"),
        ("frame,mark,x_mm,y_in\n1,1,2,3\n", "mix millimetres and inches"),
        ("frame,mark,x_mm,x_mm,y_mm\n1,1,2,3,4\n", "x_mm is there twice"),
        ("frame,mark,x_mm,y_mm,z\n1,1,2,3,4\n", "not known as a column: z"),
        ("y=left\n" + HEAD + "1,1,2,3\n", "y=left says no direction"),
        ("sd_mm=-1\n" + HEAD + "1,1,2,3\n", "no standard deviation"),
        (HEAD + "1,1,ten,3\n", "x_mm is 'ten', no number"),
        (HEAD + "1,1,nan,3\n", "x_mm is 'nan', no number"),
        (HEAD + "1,1,inf,3\n", "x_mm is 'inf', no number"),
        (HEAD + "1,1,2\n", "y_mm is nothing, no number"),
        (HEAD + "1,one,2,3\n", "mark 'one' is no number from 1"),
        (HEAD + "0,1,2,3\n", "frame '0' is no number from 1"),
        (HEAD + "1,1,1e9,3\n", "farther off than any film"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0", "bytes that are no text"),
    ],
)
def test_junk_is_named_with_its_line(tmp_path, text, says):
    """Never a traceback, always what, where and what to do."""
    with pytest.raises(Fault, match=says) as caught:
        of(tmp_path, text)

    assert "marks.csv" in caught.value.where
    assert caught.value.do


def test_all_bad_lines_are_told_at_once(tmp_path):
    """So that a person mends them in one go."""
    with pytest.raises(Faults) as caught:
        of(tmp_path, HEAD + "1,1,a,3\n1,2,3,4\n1,3,5,b\n")

    assert [fault.where[-6:] for fault in caught.value.each] == ["line 2", "line 4"]
