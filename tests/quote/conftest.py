"""One quote for all tests of the room."""

import pytest

from tests.quote.a_quote import a_quote, write_job


@pytest.fixture(scope="session")
def job(tmp_path_factory):
    return write_job(tmp_path_factory.mktemp("quote") / "job")


@pytest.fixture(scope="session")
def quote(job):
    return a_quote(job)
