"""Codes, contours, layers and format of the print, damaged one by one."""

import dataclasses
import hashlib
import json
import shutil
from pathlib import Path

import pikepdf
import pytest
from pikepdf import Array, ContentStreamInstruction, Name, Operator

from nestplan.check import Kind, check_folder
from tests.check.conftest import write
from tests.check.grid import grid_run


@pytest.fixture(scope="module")
def coded(tmp_path_factory) -> Path:
    run = grid_run(2, 2)
    (frame,) = run.marks.frames
    slug = dataclasses.replace(frame.slug, code_mm=(300.0, frame.y0_mm + 20.0, 18.5))
    frames = (dataclasses.replace(frame, slug=slug),)
    run = dataclasses.replace(run, marks=dataclasses.replace(run.marks, frames=frames))
    return write(run, tmp_path_factory.mktemp("coded"))


@pytest.fixture
def folder(coded, tmp_path) -> Path:
    return Path(shutil.copytree(coded, tmp_path / "plan"))


def damaged(folder, change):
    """Findings after a change of the print whose trace was hidden."""
    path = folder / "print.pdf"
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        change(pdf)
        pdf.save(path)
    said = json.loads((folder / "summary.json").read_text())
    said["files"]["print.pdf"] = hashlib.sha256(path.read_bytes()).hexdigest()
    (folder / "summary.json").write_text(json.dumps(said))
    return check_folder(folder).found


def contents(change):
    def on(pdf):
        page = pdf.pages[0]
        operators = change(list(pikepdf.parse_content_stream(page)))
        page.obj.Contents = pdf.make_stream(pikepdf.unparse_content_stream(operators))

    return on


def contour_at(operators):
    """Index of the matrix that lays down the first contour."""
    named = (k for k, op in enumerate(operators) if str(op.operator) == "Do")
    return next(k for k in named if str(operators[k].operands[0]).startswith("/Contour")) - 1


def moved(operators):
    k = contour_at(operators)
    numbers = [float(value) for value in operators[k].operands]
    numbers[4] += 0.5
    operators[k] = ContentStreamInstruction(numbers, Operator("cm"))
    return operators


def gone(operators):
    k = contour_at(operators)
    return operators[:k] + operators[k + 2 :]


def kinds(found):
    return {each.kind for each in found}


def test_an_undamaged_print_has_nothing_against_it(coded):
    assert check_folder(coded).found == ()


@pytest.mark.parametrize(("change", "words"), [(moved, "0.50 mm off"), (gone, "no contour")])
def test_a_contour_that_is_not_the_one_cut_is_found(folder, change, words):
    found = damaged(folder, contents(change))

    assert kinds(found) == {Kind.CONTOUR_DRAWN}
    assert words in found[0].found
    assert ", copy " in found[0].where


def switched_on(pdf):
    pdf.Root.OCProperties.D.OFF = Array([])


def other_step(pdf):
    for group in pdf.Root.OCProperties.OCGs:
        if "/GTS_Metadata" in group:
            group.GTS_Metadata.GTS_ProcStepsType = Name.Creasing


def knocking(pdf):
    for name, form in pdf.pages[0].Resources.XObject.items():
        if name.startswith("/Contour"):
            for state in form.Resources.ExtGState.values():
                state.OP = False


@pytest.mark.parametrize("change", [switched_on, other_step, knocking])
def test_a_layer_that_would_print_or_is_for_something_else_is_found(folder, change):
    assert Kind.LAYER_WRONG in kinds(damaged(folder, change))


def untrimmed(pdf):
    del pdf.pages[0].obj.TrimBox


def overgrown(pdf):
    pdf.pages[0].obj.BleedBox = Array([-50, -50, 5000, 5000])


def unprofiled(pdf):
    del pdf.Root.OutputIntents


def renamed(pdf):
    pdf.docinfo["/Title"] = "another job"


def dated(pdf):
    pdf.docinfo["/CreationDate"] = "D:20200101000000Z"


def acting(pdf):
    pdf.Root.OpenAction = pikepdf.Dictionary(S=Name.JavaScript, JS="app.beep()")


def unlisted(pdf):
    pdf.Root.OCProperties.OCGs = Array([])


@pytest.mark.parametrize(
    "change", [untrimmed, overgrown, unprofiled, renamed, dated, acting, unlisted]
)
def test_a_broken_rule_of_the_format_is_found(folder, change):
    assert Kind.FORMAT_WRONG in kinds(damaged(folder, change))


def code_path(operators):
    """Where the code's path begins and ends: the longest run of path operators."""
    spans, first = [], 0
    for k, op in enumerate(operators):
        if str(op.operator) not in ("m", "l", "h"):
            spans.append((k - first, first, k + 1))
            first = k + 1
    return max(spans)[1:]


def unreadable(operators):
    """Half of the code covered by a black patch."""
    first, end = code_path(operators)
    xs = [float(op.operands[0]) for op in operators[first:end] if op.operands]
    ys = [float(op.operands[1]) for op in operators[first:end] if op.operands]
    patch = [min(xs), (min(ys) + max(ys)) / 2, 14.0, 6.0]
    more = [
        ContentStreamInstruction(patch, Operator("re")),
        ContentStreamInstruction([], Operator("f")),
    ]
    return operators[:end] + more + operators[end:]


def uncoded(operators):
    first, end = code_path(operators)
    return operators[:first] + operators[end:]


@pytest.mark.parametrize("change", [unreadable, uncoded])
def test_a_code_that_cannot_be_read_is_found(folder, change):
    assert Kind.CODE_WRONG in kinds(damaged(folder, contents(change)))


def test_the_code_of_another_plan_is_found(folder):
    said = json.loads((folder / "summary.json").read_text())
    said["plan"] = "0" * 12
    (folder / "summary.json").write_text(json.dumps(said))

    (found,) = check_folder(folder).found

    assert found.kind is Kind.CODE_WRONG
    assert "000000000000" in found.meant
