"""What is wrong with a sheet or its table is named, and nothing is cut by it."""

import numpy as np
import pytest

from nestplan.faults import Fault
from nestplan.fit import fit_sheets
from tests.fit.handmade import MARKS
from tests.fit.printer import measured, rows_of, table


def sheet(frame: int = 1, seed: int = 0) -> dict[int, np.ndarray]:
    """A good print of a frame, measured with 0.08 mm of noise on a sheet that lies turned."""
    planned = {n: np.array(place, float) for n, place in enumerate(MARKS[frame - 1], start=1)}
    printed = {n: place * (1.001, 0.999) for n, place in planned.items()}
    return measured(printed, np.random.default_rng(seed), noise_mm=0.08, angle_deg=200.0)


def judged(plan, tmp_path, rows, head: str = "", frame: int | None = None):
    """The first frame's fit of a table."""
    path = tmp_path / "marks.csv"
    path.write_text(table(rows, head))
    return fit_sheets(plan, path, frame=frame, version="test").frames[0]


def refused(each, verdict: str, says: str) -> None:
    """Named in words, with nothing to cut."""
    assert each.verdict == verdict
    assert says in each.judged.why
    assert each.judged.do
    assert each.cut is None


def test_a_good_sheet_is_cut_however_it_is_written(plan, tmp_path):
    """In any order, some marks missing, numbers left out, frame left out, seen from a screen."""
    marks = sheet()
    rows = rows_of(1, marks)
    few = {n: marks[n] for n in (8, 1, 3, 6, 2, 7)}
    for said, head in (
        (rows[::-1], ""),
        (rows_of(1, few), ""),
        ([(1, "", x, y) for _, _, x, y in rows], ""),
        ([("", "", x, y) for _, _, x, y in rows], ""),
        ([(1, n, x, -y) for _, n, x, y in rows], "y=down\n"),
    ):
        each = judged(plan, tmp_path, said, head)
        assert each.verdict in ("cut it", "cut it corrected"), each.judged
        assert each.frame.index == 1
    assert any("not measured" in n for n in judged(plan, tmp_path, rows_of(1, few)).notes)


def test_two_frames_in_one_table_are_judged_one_by_one(plan, tmp_path):
    """Each with its own verdict; the gravest decides over the exit code."""
    second = sheet(2)
    second[3], second[4] = second[4], second[3]
    path = tmp_path / "marks.csv"
    path.write_text(table(rows_of(1, sheet()) + rows_of(2, second)))

    fit = fit_sheets(plan, path, frame=None, version="test")

    assert [each.verdict for each in fit.frames][1] == "measure again"
    assert fit.frames[0].cut is not None and fit.frames[1].cut is None
    assert (fit.exit_code, fit.unmeasured) == (1, ())
    assert fit_sheets(plan, path, frame=1, version="test").exit_code == 0


def test_too_few_marks(plan, tmp_path):
    """Two say nothing of stretch; three do not check each other; nor do four on two edges of
    which three lie in a line."""
    rows = rows_of(1, sheet())
    refused(judged(plan, tmp_path, rows[:2]), "cannot be judged", "2 marks are too few")
    three = [rows[0], rows[1], rows[6]]
    refused(judged(plan, tmp_path, three), "cannot be judged", "3 marks are too few")
    bent = [row for row in rows if row[1] in (1, 3, 5, 4)]
    refused(judged(plan, tmp_path, bent), "cannot be judged", "too few marks")


def test_marks_in_a_line(plan, tmp_path):
    """All along one edge."""
    rows = [row for row in rows_of(1, sheet()) if row[1] % 2]
    refused(judged(plan, tmp_path, rows), "cannot be judged", "in a line")


def test_two_swapped_marks(plan, tmp_path):
    """Any two of them."""
    for a, b in ((1, 2), (3, 4), (2, 7), (5, 8)):
        marks = sheet()
        marks[a], marks[b] = marks[b], marks[a]
        each = judged(plan, tmp_path, rows_of(1, marks))
        refused(each, "measure again", f"marks {a} and {b} are swapped")


@pytest.mark.parametrize("mark", range(1, 9))
def test_a_mark_misread_by_five_millimetres(plan, tmp_path, mark):
    """Named, with how far it is off."""
    marks = sheet()
    marks[mark] = marks[mark] + (-4.0, 3.0)
    each = judged(plan, tmp_path, rows_of(1, marks))
    refused(each, "measure again", f"mark {mark} is ")
    off = float(each.judged.why.split(" is ")[1].split(" mm")[0])
    assert off == pytest.approx(5.0, abs=0.6)


def test_a_digit_wrong(plan, tmp_path):
    """A hundred millimetres off: the same."""
    marks = sheet()
    marks[5] = marks[5] + (100.0, 0.0)
    refused(judged(plan, tmp_path, rows_of(1, marks)), "measure again", "mark 5 is 100")


def test_the_wrong_frame(plan, tmp_path):
    """Numbered as frame 1, or said to be with --frame."""
    rows = rows_of(1, sheet(2))
    refused(judged(plan, tmp_path, rows), "cannot be judged", "frame 2, not of frame 1")
    bare = [("", "", x, y) for _, _, x, y in rows]
    refused(judged(plan, tmp_path, bare, frame=1), "cannot be judged", "frame 2, not of frame 1")


def test_a_sheet_of_another_plan(plan, tmp_path):
    """Marks where no frame has them."""
    marks = {n: place * (0.8, 1.3) for n, place in sheet().items()}
    refused(judged(plan, tmp_path, rows_of(1, marks)), "cannot be judged", "")
    rng = np.random.default_rng(1)
    marks = {n: rng.uniform(0, 500, 2) for n in range(1, 9)}
    refused(judged(plan, tmp_path, rows_of(1, marks)), "cannot be judged", "no way of laying")


def test_a_sheet_turned_by_half_against_its_numbers(plan, tmp_path):
    """The last mark taken for the first."""
    marks = dict(zip(range(8, 0, -1), sheet().values(), strict=True))
    refused(judged(plan, tmp_path, rows_of(1, marks)), "cannot be judged", "turned by half")


def test_a_mirror_image_needs_its_header(plan, tmp_path):
    """y=down explains it; a wrong header is told too; without numbers it is the same."""
    rows = [(1, n, x, -y) for _, n, x, y in rows_of(1, sheet())]
    refused(judged(plan, tmp_path, rows), "cannot be judged", "in a mirror")
    assert "y=down" in judged(plan, tmp_path, rows).judged.do
    bare = [(1, "", x, y) for _, _, x, y in rows]
    refused(judged(plan, tmp_path, bare), "cannot be judged", "in a mirror")
    right = rows_of(1, sheet())
    refused(judged(plan, tmp_path, right, "y=down\n"), "cannot be judged", "in a mirror")


def test_units(plan, tmp_path):
    """Inches, centimetres, and a sheet that was not printed at actual size."""
    for factor, says in (
        (1 / 25.4, "inches"),
        (25.4, "millimetres under a heading of inches"),
        (0.1, "centimetres"),
        (0.97, "3.0 % smaller"),
    ):
        marks = {n: place * factor for n, place in sheet().items()}
        refused(judged(plan, tmp_path, rows_of(1, marks)), "cannot be judged", says)


def test_some_marks_in_inches(plan, tmp_path):
    """Two lines of the table in another unit."""
    marks = {n: place / (25.4 if n in (2, 3) else 1) for n, place in sheet().items()}
    refused(
        judged(plan, tmp_path, rows_of(1, marks)), "measure again", "marks 2 and 3 seem to be in"
    )


def test_a_plan_that_looks_the_same_both_ways_round_is_not_guessed(tmp_path):
    """Four corners: nothing tells which way the sheet lay, whatever the numbers say."""
    from nestplan.files import run_files, write_together
    from tests.files.handmade import a_run

    plan = tmp_path / "plan"
    write_together(plan, run_files(a_run(), proof=lambda run: b"%PDF-1.4 none"))
    corners = {1: (24, 62), 2: (576, 62), 3: (24, 438), 4: (576, 438)}
    marks = {n: np.array(place, float) for n, place in corners.items()}
    refused(judged(plan, tmp_path, rows_of(1, marks)), "cannot be judged", "turned by half")


def test_frames_and_marks_that_the_plan_does_not_have(plan, tmp_path):
    """The input is wrong by itself."""
    rows = rows_of(1, sheet())
    with pytest.raises(Fault, match="no frame 7"):
        judged(plan, tmp_path, [(7, *row[1:]) for row in rows])
    with pytest.raises(Fault, match="no mark 12"):
        judged(plan, tmp_path, [*rows, (1, 12, 3.0, 4.0)])
    with pytest.raises(Fault, match="no frame 3"):
        judged(plan, tmp_path, rows, frame=3)
    with pytest.raises(Fault, match="no mark of frame 2"):
        judged(plan, tmp_path, rows, frame=2)


def test_a_print_beyond_its_bleed_is_to_be_printed_again(plan, tmp_path):
    """Uneven by more than the bleed holds, and no single mark to blame."""
    rng = np.random.default_rng(3)
    marks = {n: place + rng.normal(0, 0.2, 2) for n, place in sheet().items()}
    each = judged(plan, tmp_path, rows_of(1, marks))

    assert each.verdict in ("cut it", "cut it corrected", "reprint")
    assert any("times as uneven" in note for note in each.notes)


def test_a_rough_reading_asks_for_a_finer_one(plan, tmp_path):
    """A tape that is good to a millimetre cannot tell where the cut lands."""
    marks = {n: np.round(place) for n, place in sheet().items()}
    each = judged(plan, tmp_path, rows_of(1, marks), "sd_mm=0.9\n")
    refused(each, "measure again", "read too roughly")
