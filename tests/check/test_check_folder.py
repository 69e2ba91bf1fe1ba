"""What stands in a folder, before anything in it is compared."""

import json

import pytest

from nestplan.check import Kind, check_folder
from nestplan.faults import Fault
from nestplan.job.job_file import JobFile
from tests.check.conftest import write
from tests.check.edit import bend, edit, kinds
from tests.check.grid import grid_run


def test_nothing_is_found_against_a_good_plan(two_frames):
    findings = check_folder(two_frames)

    assert findings.found == ()
    assert len(findings.holds) == len(set(findings.holds)) >= 36


def test_nothing_is_found_where_many_copies_make_sheets(tmp_path):
    """Five copies and more: whether a sheet moved as a whole is asked."""
    assert check_folder(write(grid_run(3, 2, frames=2), tmp_path)).found == ()


def test_the_check_leaves_the_folder_as_it_is(folder):
    before = {path.name: path.read_bytes() for path in folder.iterdir()}

    check_folder(folder)

    assert before == {path.name: path.read_bytes() for path in folder.iterdir()}


def test_every_kind_of_finding_has_its_own_number_and_sentence():
    numbers = [kind.number for kind in Kind]

    assert numbers == sorted(set(numbers))
    assert len({kind.sentence for kind in Kind}) == len(numbers)


def test_findings_can_be_written_as_json(folder):
    (folder / "proof.pdf").unlink()
    finding = check_folder(folder).found[0]

    assert json.dumps(finding.kind) == '"101 a listed file is not there"'


def test_a_folder_that_is_not_there_is_a_fault(tmp_path):
    with pytest.raises(Fault, match="there is no such folder"):
        check_folder(tmp_path / "nowhere")


def test_a_folder_without_a_summary_is_a_fault(tmp_path):
    with pytest.raises(Fault, match="there is no plan in this folder"):
        check_folder(tmp_path)


@pytest.mark.parametrize("data", [b"", b"{", b"\xff\xfe", b"[" * 100_000])
def test_a_summary_that_is_no_json_is_a_fault(folder, data):
    (folder / "summary.json").write_bytes(data)

    with pytest.raises(Fault, match="the summary cannot be read"):
        check_folder(folder)


def test_a_later_schema_is_a_fault_that_says_what_to_do(folder):
    bend(folder, lambda said: said.update(schema=2))

    with pytest.raises(Fault, match="has schema 2, this check knows 1") as fault:
        check_folder(folder)
    assert "the version of nestplan that planned it" in fault.value.do


def test_the_check_knows_the_gutter_of_a_job_that_names_none(folder):
    """The summary leaves defaults out; the check shares no code with the job room."""
    bend(folder, lambda said: said["inputs"]["job"].pop("gutter_mm"))
    default = JobFile.model_fields["gutter_mm"].default

    holds = check_folder(folder).holds

    assert f"contours stand {default:g} mm apart, and as far as both bleeds need" in holds


@pytest.mark.parametrize("name", ["print.pdf", "proof.pdf", "cut-01.svg"])
def test_a_missing_file_is_named(folder, name):
    (folder / name).unlink()
    findings = check_folder(folder)

    assert (Kind.FILE_MISSING, name) in [(each.kind, each.where) for each in findings.found]


def test_a_file_that_was_changed_is_named(folder):
    path = folder / "proof.pdf"
    path.write_bytes(path.read_bytes() + b"\n")
    findings = check_folder(folder)

    assert [(each.kind, each.where) for each in findings.found] == [
        (Kind.FILE_CHANGED, "proof.pdf")
    ]


def test_a_stray_cut_layer_is_named(folder):
    (folder / "cut-02.svg").write_bytes((folder / "cut-01.svg").read_bytes())
    findings = check_folder(folder)

    assert [(each.kind, each.where) for each in findings.found] == [(Kind.FILE_STRAY, "cut-02.svg")]


def test_a_file_name_that_leads_out_of_the_folder_is_not_followed(folder):
    (folder.parent / "secret").write_bytes(b"not ours")
    bend(folder, lambda said: said["files"].update({"../secret": "0" * 64}))

    assert (Kind.FILE_MISSING, "../secret") in [
        (each.kind, each.where) for each in check_folder(folder).found
    ]


def test_a_page_too_many_is_found(two_frames, folder):
    """The print of a run of two frames in the folder of a run of one."""
    edit(folder, "print.pdf", lambda _: (two_frames / "print.pdf").read_bytes())

    assert Kind.FRAME_COUNT.number in kinds(check_folder(folder))


@pytest.mark.parametrize(
    ("change", "where"),
    [
        (lambda said: said["frames"][0].pop("length_mm"), "frames 1, length_mm"),
        (
            lambda said: said["decals"][1].update(contour=[[[0, 0], [1, 1]]]),
            "decals 2 (club burgee), contour 1",
        ),
        (lambda said: said["roll"].update(width_mm="wide"), "roll, width_mm"),
        (
            lambda said: said["frames"][0]["placements"][2].update(x_mm="left"),
            "frames 1, placements 3 (berth plate, copy 2), x_mm",
        ),
        (lambda said: said["frames"][0].update(index=2), "frames"),
        (lambda said: said["frames"][0]["placements"][0].update(decal=9), "frames, frame 1"),
        (lambda said: said["frames"][0]["placements"][1].update(decal=1), "frames, frame 1"),
        (lambda said: said["frames"][0]["marks"][1].update(mark=1), "frames, frame 1"),
        (lambda said: said["frames"][0].update(length_mm=1e12), "frames 1, length_mm"),
    ],
)
def test_a_summary_that_cannot_be_is_answered_key_by_key(folder, change, where):
    bend(folder, change)
    findings = check_folder(folder)

    assert findings.holds == ()
    assert {each.kind for each in findings.found} == {Kind.SUMMARY_WRONG}
    assert f"summary.json: {where}" in [each.where for each in findings.found]
