"""Numbered copies through the whole run, on the first rows of the demo job of bow numbers."""

import csv
import io
import json
import shutil
from pathlib import Path

import pikepdf
import pypdfium2
import pytest

from nestplan.check import Kind, check_folder
from nestplan.check.paper_claims import names
from nestplan.files.writer import run_files
from nestplan.plan import plan_job
from nestplan.plan_price import Search, price_job
from nestplan.price_words import price_words
from tests.check.edit import bend, edit

DEMO = Path(__file__).parents[1] / "demo_jobs"
ROWS = 8


def small_job(folder):
    """The demo job with its first eight rows."""
    job = folder / "numbers"
    shutil.copytree(DEMO / "numbers", job)
    shutil.copy(DEMO / "shop.toml", job.parent)
    rows = (job / "boats.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    (job / "boats.csv").write_text("".join(rows[: ROWS + 1]), encoding="utf-8")
    toml = (job / "numbers.toml").read_text(encoding="utf-8")
    (job / "numbers.toml").write_text(toml.replace("quantity = 30", "quantity = 4"))
    return job


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    """Eight rows, planned once with a small budget."""
    job = small_job(tmp_path_factory.mktemp("job"))
    folder = tmp_path_factory.mktemp("numbers")
    for name, data in run_files(plan_job(job / "numbers.toml", steps=60)).items():
        (folder / name).write_bytes(data)
    return folder


@pytest.fixture
def folder(planned, tmp_path):
    return Path(shutil.copytree(planned, tmp_path / "plan"))


def rows_of_the_file():
    text = (DEMO / "numbers" / "boats.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(io.StringIO(text)))[:ROWS]


def test_the_check_reads_every_row_and_finds_nothing(planned):
    findings = check_folder(planned)

    assert findings.found == ()
    assert f"{ROWS} copies can be read: each says what its row says" in findings.holds


def test_rows_run_along_the_film_from_left_to_right(planned):
    """Row n is copy n; those at one height, within a millimetre, read from left to right."""
    said = json.loads((planned / "summary.json").read_text())
    places = [p for frame in said["frames"] for p in frame["placements"] if p["decal"] == 1]
    places.sort(key=lambda p: p["row"])

    assert [p["row"] for p in places] == [p["copy"] for p in places] == list(range(1, ROWS + 1))
    assert places == sorted(places, key=lambda p: (round(p["y_mm"]), p["x_mm"]))


def test_the_summary_has_the_values_of_the_columns_in_the_art_and_no_others(planned):
    said = json.loads((planned / "summary.json").read_text())
    wanted = [{key: row[key] for key in ("number", "boat")} for row in rows_of_the_file()]

    assert said["decals"][0]["rows"] == wanted
    assert said["decals"][0]["ordered"] == said["decals"][0]["planned"] == ROWS
    assert "rows" not in said["decals"][1]
    assert list(said["inputs"]["rows"]) == ["boats.csv"]


def test_a_person_who_copies_text_out_of_the_print_gets_the_rows(planned):
    text = pypdfium2.PdfDocument(planned / "print.pdf")[0].get_textpage().get_text_range()

    for row in rows_of_the_file():
        assert row["boat"] in text, row


def test_the_art_that_all_share_is_in_the_print_once(planned):
    with pikepdf.open(planned / "print.pdf") as pdf:
        forms = pdf.pages[0].Resources.XObject
        rows = [form for name, form in forms.items() if "Row" in name]
        shared = {form.Resources.XObject.Art.objgen for form in rows}

        assert len(rows) == ROWS
        assert len(shared) == 1


def test_two_rows_exchanged_in_the_print_are_found(folder):
    def exchanged(data):
        with pikepdf.open(io.BytesIO(data)) as pdf:
            forms = pdf.pages[0].Resources.XObject
            forms["/Decal1Row3"], forms["/Decal1Row8"] = forms["/Decal1Row8"], forms["/Decal1Row3"]
            held = io.BytesIO()
            pdf.save(held)
        return held.getvalue()

    edit(folder, "print.pdf", exchanged)
    found = {(f.kind, f.where.split(", ", 2)[-1]) for f in check_folder(folder).found}

    assert {(Kind.PRINT_ROW, f"bow number, copy {copy}") for copy in (3, 8)} <= found


def test_a_row_that_two_copies_claim_is_found(folder):
    def claimed(said):
        place = next(p for p in said["frames"][0]["placements"] if p.get("row") == 5)
        place["row"] = 6

    bend(folder, claimed)
    found = {f.kind for f in check_folder(folder).found}

    assert found == {Kind.ROW_WRONG, Kind.PRINT_ROW}


def test_a_recipient_whose_slip_is_gone_is_found(folder):
    """The last page is the harbour master's slip; the decal panels name both too."""

    def without_slips(data):
        with pikepdf.open(io.BytesIO(data)) as pdf:
            for k in reversed(range(len(pdf.pages))):
                words = pypdfium2.PdfDocument(data)[k].get_textpage().get_text_range()
                if "harbour master" in words:
                    del pdf.pages[k]
            held = io.BytesIO()
            pdf.save(held)
        return held.getvalue()

    edit(folder, "proof.pdf", without_slips)
    found = {(f.kind, f.meant) for f in check_folder(folder).found}

    assert (Kind.PROOF_PAPERS, "for harbour master") in found


def test_a_decal_sent_to_another_than_the_job_says_is_found(folder):
    bend(folder, lambda said: said["decals"][1].update({"for": "race office"}))

    assert {f.kind for f in check_folder(folder).found} == {Kind.SUMMARY_WRONG}


def test_mirrored_rows_are_read_as_in_a_mirror(tmp_path):
    """One decal of the job is mirrored, the other is left as it is."""
    job = small_job(tmp_path) / "numbers.toml"
    toml = job.read_text(encoding="utf-8")
    job.write_text(toml.replace('rows = "boats.csv"', 'rows = "boats.csv"\nmirrored = true'))
    (tmp_path / "plan").mkdir()
    for name, data in run_files(plan_job(job, steps=20)).items():
        (tmp_path / "plan" / name).write_bytes(data)

    findings = check_folder(tmp_path / "plan")

    assert findings.found == ()
    assert f"{ROWS} copies can be read: each says what its row says" in findings.holds


def test_prices_say_what_needs_an_eye(tmp_path):
    job = small_job(tmp_path)
    with (job / "boats.csv").open("a", encoding="utf-8") as rows:
        rows.write(f"15,{'The longest name of the harbour ' * 3},B. Tide\n")

    words = price_words(price_job(job / "numbers.toml", [], Search(steps=5)))

    assert "stop   boats.csv" in words
    assert "know" not in words


def test_a_row_too_wide_for_its_decal_is_said_of_its_own_copy_alone(tmp_path):
    """Its text runs on over the neighbour, where it is not printed."""
    job = small_job(tmp_path / "job")
    rows = (job / "boats.csv").read_text(encoding="utf-8").splitlines()
    number = rows[3].split(",")[0]
    rows[3] = rows[3].replace(number, f"{number} far too long a number", 1)
    (job / "boats.csv").write_text("\n".join(rows), encoding="utf-8")
    folder = tmp_path / "plan"
    folder.mkdir()
    run = plan_job(job / "numbers.toml", steps=60)
    for name, data in run_files(run).items():
        (folder / name).write_bytes(data)

    found = [(each.kind, each.where) for each in check_folder(folder).found]

    assert any(note.level == "stop" and "line 4" in note.text for note in run.notes)
    assert found == [(Kind.PRINT_ROW, "print.pdf, page 1, bow number, copy 3")]


def test_a_recipient_s_name_is_compared_to_its_end_or_to_where_it_is_cut():
    north, south = (f"harbour master of the {each} basin" for each in ("northern", "southern"))

    assert names(f"for {north}", north)
    assert not names(f"for {north}", south)
    assert names("for harbour master of the nor…", north)
    assert not names("for harbour master of the nor…", south)
    assert not names("for harb…", north)
