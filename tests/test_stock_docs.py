"""The page about the stock: its commands run as they stand there, one after the other."""

import re
import shlex
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from nestplan.check import check_folder
from nestplan.cli import main

ROOT = Path(__file__).parents[1]
PAGE = (ROOT / "docs/stock.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def said(tmp_path_factory) -> tuple[Path, dict[str, str]]:
    """What each command says, in a folder with the demo jobs; searches are cut short."""
    folder = tmp_path_factory.mktemp("docs")
    shutil.copytree(ROOT / "demo_jobs", folder / "demo_jobs", ignore=lambda _, n: {"sponsors"})
    lines = [
        line
        for block in re.findall(r"```sh\n(.*?)```", PAGE, flags=re.S)
        for line in block.splitlines()
    ]
    outputs = {}
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        for line in lines:
            program, *words = shlex.split(line)
            assert program == "nestplan"
            more = ["--steps", "40"] if words[0] in ("plan", "again") else []
            result = CliRunner().invoke(main, [*words, *more])
            assert result.exit_code == 0, f"{line}\n{result.output}"
            outputs[line] = result.stdout
    return folder, outputs


def test_the_run_lies_on_the_remnant_that_holds_it_and_is_booked(said):
    _, outputs = said
    booked = next(text for line, text in outputs.items() if line.endswith("numbers --commit"))

    assert booked.startswith("M-0117: ")
    assert "booked for plan" in booked


def test_the_spoiled_copies_are_just_those_of_the_table_and_check(said):
    folder, outputs = said
    (text,) = (text for line, text in outputs.items() if line.endswith("numbers.toml"
               ) and line.startswith("nestplan again"))  # fmt: skip

    assert "bow number 7, 16; harbour pass 3" in text
    assert "3 copies and" in text
    assert check_folder(folder / "again").found == ()


def test_the_labels_are_there(said):
    assert (said[0] / "labels.pdf").read_bytes().startswith(b"%PDF-")


def test_what_the_page_quotes_is_what_is_said():
    """Words of faults in the page's last table, against the code's."""
    code = "\n".join(
        path.read_text(encoding="utf-8") for path in (ROOT / "nestplan/stock").glob("*.py")
    )
    for words in (
        "another desk holds the stock file",
        "the stock file is damaged",
        "book does not add up",
        "cannot be taken: ",
        "this nestplan knows ",
    ):
        assert words in code
        assert words.strip() in PAGE
