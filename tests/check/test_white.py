"""White below marks, as a stranger finds it in the print's own operators."""

import hashlib
import io
import json
import shutil
from dataclasses import replace
from pathlib import Path

import pikepdf
import pytest
from pikepdf import ContentStreamInstruction, Operator

from nestplan.check import Kind, check_folder
from nestplan.files.print_pdf import print_pdf
from tests.check.conftest import write
from tests.check.grid import grid_run
from tests.files.handmade import a_run


def on_film(run, base):
    """The same run on film of another base, with a printer that has white."""
    job = run.job
    roll = job.roll.model_copy(update={"base": base})
    shop = job.shop.model_copy(update={"roll": [roll]})
    return replace(run, job=replace(job, roll=roll, shop=shop))


@pytest.fixture(scope="module")
def clear(tmp_path_factory) -> Path:
    return write(on_film(grid_run(2, 2), "clear"), tmp_path_factory.mktemp("clear"))


@pytest.fixture
def folder(clear, tmp_path) -> Path:
    return Path(shutil.copytree(clear, tmp_path / "plan"))


def page(folder, change):
    """Change the operators of the only page, and hide the trace."""
    path = folder / "print.pdf"
    with pikepdf.open(path, allow_overwriting_input=True) as pdf:
        operators = change(list(pikepdf.parse_content_stream(pdf.pages[0])))
        pdf.pages[0].obj.Contents = pdf.make_stream(pikepdf.unparse_content_stream(operators))
        pdf.save(path)
    said = json.loads((folder / "summary.json").read_text())
    said["files"]["print.pdf"] = hashlib.sha256(path.read_bytes()).hexdigest()
    (folder / "summary.json").write_text(json.dumps(said))
    return check_folder(folder).found


def fields(operators):
    """(first, end) of every filled path of the white layer."""
    start = next(k for k, op in enumerate(operators) if str(op.operator) == "BDC")
    spans, first = [], None
    for k in range(start, len(operators)):
        name = str(operators[k].operator)
        if name == "EMC":
            return spans
        if name == "m" and first is None:
            first = k
        if name == "f":
            spans.append((first, k + 1))
            first = None
    raise LookupError("no white")


def missing(operators):
    (first, end), *_ = fields(operators)
    return operators[:first] + operators[end:]


def scaled(factor, shift=(0.0, 0.0)):
    """Make the first field smaller or larger about its middle, or move it."""

    def change(operators):
        (first, end), *_ = fields(operators)
        points = [[float(v) for v in op.operands] for op in operators[first:end] if op.operands]
        middle = [sum(each) / len(points) for each in zip(*points, strict=True)]
        for k in range(first, end):
            if operators[k].operands:
                at = [float(v) for v in operators[k].operands]
                moved = [
                    m + s + factor * (v - m) for v, m, s in zip(at, middle, shift, strict=True)
                ]
                operators[k] = ContentStreamInstruction(moved, operators[k].operator)
        return operators

    return change


def pale(operators):
    return [
        ContentStreamInstruction([0.5], Operator("scn")) if str(op.operator) == "scn" else op
        for op in operators
    ]


def grey(operators):
    """The colour's name is what makes it white ink."""
    start = next(k for k, op in enumerate(operators) if str(op.operator) == "cs")
    gone = ContentStreamInstruction([0, 0, 0, 0], Operator("k"))
    return [*operators[:start], gone, *operators[start + 2 :]]


def late(operators):
    """The white layer after marks and bars, which then lie under it."""
    start = next(k for k, op in enumerate(operators) if str(op.operator) == "BDC")
    end = next(k for k, op in enumerate(operators) if str(op.operator) == "EMC") + 1
    last = next(k for k, op in enumerate(operators) if str(op.operator) == "BT")
    return operators[:start] + operators[end:last] + operators[start:end] + operators[last:]


def knocking(operators):
    """Black that does not overprint."""
    at = [k for k, op in enumerate(operators) if str(op.operator) == "gs"]
    return operators[: at[-1]] + operators[at[-1] + 1 :]


def test_a_plan_on_clear_film_holds_and_says_so(clear):
    findings = check_folder(clear)

    assert findings.found == ()
    assert "every mark and its clear zone lie on white, which this clear film needs" in (
        findings.holds
    )


def test_on_white_film_nothing_is_said_of_white(four_copies):
    assert not any("white" in claim for claim in check_folder(four_copies).holds)


@pytest.mark.parametrize(
    ("change", "kind", "words"),
    [
        (missing, Kind.WHITE_LACKING, "no white on "),
        (scaled(0.95), Kind.WHITE_LACKING, "no white on "),
        (scaled(1.0, (0.5, 0.0)), Kind.WHITE_LACKING, "no white on "),
        (pale, Kind.WHITE_LACKING, "no white on "),
        (grey, Kind.WHITE_LACKING, "no white on "),
        (knocking, Kind.WHITE_LACKING, "black that knocks the white out"),
        (late, Kind.WHITE_WRONG, "white over what is printed before it"),
        (scaled(2.0), Kind.WHITE_WRONG, "white beyond the page"),
        (scaled(6.0), Kind.WHITE_WRONG, "white on a decal's print"),
    ],
)
def test_white_that_is_hurt_is_found(folder, change, kind, words):
    found = [each for each in page(folder, change) if each.kind is kind]

    assert any(each.found.startswith(words) for each in found)
    one = change not in (pale, grey, late, knocking)
    assert not one or len({each.where for each in found}) == 1
    if kind is Kind.WHITE_LACKING and one:
        assert found[0].where == "print.pdf, page 1, mark 1"


def test_white_on_white_film_is_found(folder):
    path = folder / "summary.json"
    said = json.loads(path.read_text())
    del said["inputs"]["shop"]["roll"][0]["base"]
    path.write_text(json.dumps(said))

    found = check_folder(folder).found

    assert {each.kind for each in found} == {Kind.WHITE_WRONG}
    assert {each.found for each in found} == {"white on white film"}


def test_a_film_that_is_called_clear_without_any_white_is_found(four_copies, tmp_path):
    folder = shutil.copytree(four_copies, tmp_path / "plan")
    path = folder / "summary.json"
    said = json.loads(path.read_text())
    for roll in said["inputs"]["shop"]["roll"]:
        roll["base"] = "mirror"
    path.write_text(json.dumps(said))

    found = check_folder(folder).found

    assert {each.kind for each in found} == {Kind.WHITE_LACKING}
    assert len(found) == 4


def test_the_layer_carries_the_step_and_the_colour_is_its_own(clear):
    """ISO 19593-1:2018, group White, which has no type; ISO 32000-1 8.6.6.4 for the separation."""
    with pikepdf.open(clear / "print.pdf") as pdf:
        (layer,) = (each for each in pdf.Root.OCProperties.OCGs if each.Name == "White")
        resources = pdf.pages[0].Resources

        assert str(layer.GTS_Metadata.GTS_ProcStepsGroup) == "/White"
        assert "/GTS_ProcStepsType" not in layer.GTS_Metadata
        space = resources.ColorSpace.White
        assert [str(space[0]), str(space[1])] == ["/Separation", "/White"]
        assert resources.ExtGState.Over.op
        operators = [str(op.operator) for op in pikepdf.parse_content_stream(pdf.pages[0])]
        assert operators.index("EMC") < operators.index("Do")


def test_the_same_run_on_white_film_has_no_trace_of_white():
    with pikepdf.open(io.BytesIO(print_pdf(a_run()))) as pdf:
        assert "/ColorSpace" not in pdf.pages[0].Resources
        assert all(each.Name != "White" for each in pdf.Root.OCProperties.OCGs)
