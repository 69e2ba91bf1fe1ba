"""The reference pages say what the schemas say, and are up to date."""

from pathlib import Path

import pytest

from nestplan.job.pages import reference_pages
from nestplan.job.schema import job_schema, shop_schema

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("name", ["job-file.md", "shop-file.md"])
def test_the_pages_in_the_docs_are_up_to_date(name):
    """After a change: python -m nestplan.job.export docs/reference."""
    assert reference_pages()[name] == (ROOT / "docs/reference" / name).read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("name", "schema"), [("job-file.md", job_schema()), ("shop-file.md", shop_schema())]
)
def test_every_key_has_a_row(name, schema):
    page = reference_pages()[name]
    for table in (schema, *schema["$defs"].values()):
        for key in table["properties"]:
            assert f"| `{key}` |" in page
