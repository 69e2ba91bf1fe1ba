"""The page of a check, read by another library than the one that wrote it."""

import json
import shutil

import pypdfium2
import pytest
from click.testing import CliRunner

from nestplan.check.folder import cut_name
from nestplan.cli import main
from nestplan.show.findings_pdf import Evidence, found_words
from tests.check.conftest import write
from tests.check.damage import damage
from tests.check.harms import HARMS
from tests.files.handmade import a_run


@pytest.fixture(scope="module")
def good(tmp_path_factory):
    """The small run made by hand."""
    return write(a_run(), tmp_path_factory.mktemp("plan"))


def checked(folder, out):
    """Exit code and the text of the pages."""
    result = CliRunner().invoke(main, ["check", str(folder), "--out", str(out)])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    document = pypdfium2.PdfDocument(out / "check.pdf")
    return result.exit_code, [page.get_textpage().get_text_bounded() for page in document]


def test_a_moved_cut_is_shown_with_the_plan_beside_it(good, tmp_path):
    """Pixels tell: the plan's picture has no orange print, the other one has."""
    folder = shutil.copytree(good, tmp_path / "plan")
    damage(folder, "moved", "svg", bend=False, seed=3)

    code, pages = checked(folder, tmp_path / "out")

    assert code == 1
    assert "207" in pages[0] and "moved by 1.00 mm" in pages[0]
    assert "as planned" in pages[0] and "print as rendered, cut layer in blue" in pages[0]
    told = json.loads((tmp_path / "out" / "check.json").read_text())
    assert told["found"][0]["number"] == 207
    page = pypdfium2.PdfDocument(tmp_path / "out" / "check.pdf")[0]
    images = list(page.get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_IMAGE]))
    assert images


def test_nothing_found_lists_the_claims_and_the_same_check_gives_the_same_bytes(good, tmp_path):
    code, pages = checked(good, tmp_path / "a")
    checked(good, tmp_path / "b")

    assert code == 0
    assert "Nothing found against the plan" in pages[0]
    assert "every file is the one that was written" in pages[0]
    assert (tmp_path / "a/check.pdf").read_bytes() == (tmp_path / "b/check.pdf").read_bytes()


@pytest.mark.parametrize("name", ["print: cut short", "folder: a cut layer gone"])
def test_files_that_cannot_be_read_leave_a_page_all_the_same(good, tmp_path, name):
    folder = shutil.copytree(good, tmp_path / "plan")
    next(each for each in HARMS if each.name == name).do(folder, 1)

    code, pages = checked(folder, tmp_path / "out")

    assert code == 1
    assert "where" in pages[0]


def test_the_pages_are_not_written_among_the_files_that_were_checked(good):
    result = CliRunner().invoke(main, ["check", str(good), "--out", str(good)])

    assert result.exit_code == 2
    assert "do not belong among the files" in result.stderr


def test_a_whole_sheet_that_is_transformed_is_found(good, tmp_path):
    folder = shutil.copytree(good, tmp_path / "plan")
    layer = folder / cut_name(1)
    layer.write_text(layer.read_text().replace("<svg ", '<svg transform="scale(2)" ', 1))

    _, pages = checked(folder, tmp_path / "out")

    assert "202" in pages[0] and "transform scale(2)" in pages[0]


def test_what_cannot_be_read_is_not_said_to_be_drawn(good, tmp_path):
    folder = shutil.copytree(good, tmp_path / "plan")
    assert found_words(1, Evidence(folder)) == "print as rendered, cut layer in blue"
    (folder / cut_name(1)).write_text("<svg>")
    assert found_words(1, Evidence(folder)) == "print as rendered, no cut layer to show"
    (folder / "print.pdf").unlink()
    assert found_words(1, Evidence(folder)) == "no print to show, no cut layer to show"
