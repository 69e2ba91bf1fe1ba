"""Plans made by hand, each written once."""

from pathlib import Path

import pytest

from tests.fit.handmade import write_plan


@pytest.fixture(scope="session")
def plan(tmp_path_factory) -> Path:
    """A cutter that takes up shift, turn and one scale."""
    return write_plan(tmp_path_factory.mktemp("plan"))
