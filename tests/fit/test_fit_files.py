"""The command: its files, its words, its exit codes."""

import json
import shutil

import numpy as np
import pypdfium2
import pytest
import shapely
from click.testing import CliRunner

from nestplan.check.dxf_file import read_dxf
from nestplan.cli import main
from tests.fit.printer import digest, read_cut, rows_of, table
from tests.fit.test_bad_sheets import sheet


@pytest.fixture
def csv(tmp_path):
    """A good sheet of frame 1, stretched so that the cutter's similarity is not enough."""
    path = tmp_path / "marks.csv"
    marks = {n: place * (1, 1) for n, place in sheet().items()}
    turned = {n: np.array([p[0], p[1]]) for n, p in marks.items()}
    path.write_text(table(rows_of(1, turned)))
    return path


def run(*words) -> tuple[int, str, str]:
    """Exit code, stdout, stderr."""
    result = CliRunner().invoke(main, [str(word) for word in words])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, result.stdout, result.stderr


def test_files_appear_together_and_name_the_plan(plan, csv, tmp_path):
    """fit.json lists the digest of the others and of the plan's summary."""
    out = tmp_path / "out"
    code, words, _ = run("fit", plan, csv, "--out", out)

    assert code == 0
    assert "frame 1: cut it" in words and "not measured: frame 2" in words
    names = ["cut-01.dxf", "cut-01.svg", "fit.json", "fit.pdf"]
    assert sorted(path.name for path in out.iterdir()) == names
    said = json.loads((out / "fit.json").read_text())
    assert said["plan"]["summary_sha256"] == digest(plan / "summary.json")
    others = ("cut-01.dxf", "cut-01.svg", "fit.pdf")
    assert said["files"] == {name: digest(out / name) for name in others}
    assert said["measured"]["sha256"] == digest(csv)
    frame = said["frames"][0]
    assert frame["cut"]["mark_reading"] == "on"
    assert len(frame["marks"]) == 8
    assert frame["model"]["kind"] in ("turn", "similarity", "affine")


def test_the_same_fit_gives_the_same_bytes(plan, csv, tmp_path):
    """Whatever the folder is called."""
    for name in ("a", "b"):
        run("fit", plan, csv, "--out", tmp_path / name)

    for file in ("cut-01.dxf", "cut-01.svg", "fit.json", "fit.pdf"):
        assert (tmp_path / "a" / file).read_bytes() == (tmp_path / "b" / file).read_bytes()


def test_the_page_says_verdict_magnification_worst_mark_and_cautions(plan, csv, tmp_path):
    """Read by another library than the one that wrote it."""
    run("fit", plan, csv, "--out", tmp_path / "out")
    document = pypdfium2.PdfDocument(tmp_path / "out" / "fit.pdf")

    assert len(document) == 1
    text = document[0].get_textpage().get_text_bounded()
    for words in (
        "Frame 1: cut it",
        "times life size",
        "Run card",
        "mark reading on",
        "Cautions",
        "Local codes",
    ):
        assert words in text
    worst = max(
        json.loads((tmp_path / "out" / "fit.json").read_text())["frames"][0]["marks"],
        key=lambda mark: np.hypot(*mark["left_mm"]),
    )
    assert f"mark {worst['mark']}: {np.hypot(*worst['left_mm']):.2f} mm" in text


def test_a_corrected_file_has_the_structure_of_the_plans(plan, tmp_path):
    """Same groups, rings, labels and order; every ring keeps its points; marks are as printed."""
    stretched = {n: place * (1.0, 1.004) for n, place in sheet().items()}
    csv = tmp_path / "marks.csv"
    csv.write_text(table(rows_of(1, stretched)))
    code, words, _ = run("fit", plan, csv, "--out", tmp_path / "out")

    assert code == 0 and "cut it corrected" in words
    old, new = (read_cut((f / "cut-01.svg").read_bytes()) for f in (plan, tmp_path / "out"))
    assert [key for key, _ in new.rings] == [key for key, _ in old.rings]
    assert [len(ring) for _, ring in new.rings] == [len(ring) for _, ring in old.rings]
    assert set(new.marks) == set(old.marks)
    drawing = read_dxf((tmp_path / "out" / "cut-01.dxf").read_bytes())
    lines = [line for line in drawing.lines if line.layer != "marks"]
    assert [line.numbers for line in lines] == [key for key, _ in new.rings]
    for line, (_, ring) in zip(lines, new.rings, strict=True):
        apart = shapely.hausdorff_distance(*map(shapely.LinearRing, (line.points, ring)))
        assert apart < 0.03
    off = max(np.hypot(*(new.marks[n] - old.marks[n])) for n in old.marks)
    assert 0.1 < off < 2.0  # what a similarity leaves of 0.4 % one way


def test_a_verdict_against_cutting_leaves_no_cut_file(plan, csv, tmp_path):
    """Not even that of an earlier fit in the same folder."""
    out = tmp_path / "out"
    assert run("fit", plan, csv, "--out", out)[0] == 0
    marks = sheet()
    marks[2], marks[5] = marks[5], marks[2]
    csv.write_text(table(rows_of(1, marks)))
    code, words, _ = run("fit", plan, csv, "--out", out)

    assert code == 1 and "swapped" in words
    assert sorted(path.name for path in out.iterdir()) == ["fit.json", "fit.pdf"]
    csv.write_text(table(rows_of(1, marks)[:2]))
    code, words, _ = run("fit", plan, csv, "--out", out, "--json")
    assert code == 3
    assert json.loads(words)["verdict"] == "cannot be judged"


def test_a_changed_plan_is_refused(plan, csv, tmp_path):
    """A byte of a cut layer is enough; and nothing is written."""
    changed = tmp_path / "changed"
    shutil.copytree(plan, changed)
    with (changed / "cut-02.svg").open("a") as file:
        file.write(" ")
    code, _, words = run("fit", changed, csv, "--out", tmp_path / "out")

    assert code == 2
    assert "cut-02.svg is not the file that was planned" in words
    assert not (tmp_path / "out").exists()
    (changed / "cut-02.svg").unlink()
    assert "lacks its cut layer cut-02.svg" in run("fit", changed, csv, "--out", "x")[2]


def test_a_fit_is_not_written_into_a_plan_nor_checked_as_one(plan, csv, tmp_path):
    """Their cut files have the same names."""
    code, _, words = run("fit", plan, csv, "--out", plan)
    assert code == 2 and "a plan lies in this folder" in words
    run("fit", plan, csv, "--out", tmp_path / "out")
    code, _, words = run("check", tmp_path / "out")
    assert code == 2 and "a fit of measured marks, not a plan" in words


def test_what_is_no_input_is_told_in_three_parts(plan, tmp_path):
    """No folder, no file, junk."""
    junk = tmp_path / "junk.csv"
    junk.write_text("frame,mark,x_mm,y_mm\n1,1,a,b\n")
    for words in (
        ("fit", tmp_path / "none", junk, "--out", tmp_path / "out"),
        ("fit", plan, tmp_path / "none.csv", "--out", tmp_path / "out"),
        ("fit", plan, junk, "--out", tmp_path / "out"),
    ):
        code, _, said = run(*words)
        assert code == 2
        assert "where" in said and "do  " in said
    assert not (tmp_path / "out").exists()
