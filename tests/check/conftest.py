"""Good folders to be checked and damaged: written once, copied for each test."""

import shutil
from pathlib import Path

import pytest

from nestplan.files.run import Run
from nestplan.files.writer import run_files
from tests.check.grid import grid_run
from tests.files.handmade import a_run


def write(run: Run, folder: Path) -> Path:
    """All files of a run in a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, data in run_files(run).items():
        (folder / name).write_bytes(data)
    return folder


@pytest.fixture(scope="session")
def two_frames(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small hand-made run: two frames, eight copies at five angles. Read only."""
    return write(a_run(), tmp_path_factory.mktemp("two_frames"))


@pytest.fixture(scope="session")
def four_copies(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One frame of two plates and two burgees. Read only."""
    return write(grid_run(2, 2), tmp_path_factory.mktemp("four_copies"))


@pytest.fixture
def folder(four_copies: Path, tmp_path: Path) -> Path:
    """A fresh copy of the run of four copies."""
    return Path(shutil.copytree(four_copies, tmp_path / "plan"))
