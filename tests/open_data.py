"""Where open benchmark data lies when it is at hand; tests that need it skip without it."""

import os
from pathlib import Path

import pytest

BESIDE = Path(__file__).parents[1].parent / "shared" / "data"
OPEN_DATA = Path(os.environ.get("NESTPLAN_DATA", BESIDE))


def open_data(name: str) -> Path:
    """The file or folder of that name, or the test is skipped with the reason."""
    path = OPEN_DATA / name
    if not path.exists():
        pytest.skip(f"open data {name} is not at hand")
    return path
