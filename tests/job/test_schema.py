"""The JSON Schemas: up to date, complete, and of one mind with the reader."""

import copy
import json
import tomllib
from pathlib import Path

import jsonschema
import pytest

from nestplan.job import job_schema, shop_schema
from nestplan.job.schema import schema_files
from tests.job.sample import JOB, SHOP, changed, faults_in, write

ROOT = Path(__file__).parents[2]
SCHEMAS = {"job": job_schema(), "shop": shop_schema()}
SAMPLES = {"job": JOB, "shop": SHOP}


@pytest.mark.parametrize("name", ["job-file.schema.json", "shop-file.schema.json"])
def test_the_copies_in_the_docs_are_up_to_date(name):
    """After a change: python -m nestplan.job.export docs/reference."""
    assert schema_files()[name] == (ROOT / "docs/reference" / name).read_text(encoding="utf-8")


@pytest.mark.parametrize("file", SCHEMAS)
def test_it_is_json_schema_2020_12(file):
    """Source: JSON Schema draft 2020-12 and its meta-schema, as shipped by jsonschema."""
    jsonschema.Draft202012Validator.check_schema(SCHEMAS[file])
    assert SCHEMAS[file]["$schema"] == jsonschema.Draft202012Validator.META_SCHEMA["$id"]


@pytest.mark.parametrize("file", SCHEMAS)
def test_every_key_and_every_table_says_what_it_means(file):
    schema = SCHEMAS[file]
    for table in (schema, *schema["$defs"].values()):
        assert table["title"], table
        assert table["description"], table["title"]
        assert table["additionalProperties"] is False
        for key, node in table["properties"].items():
            assert node.get("description", "").strip(), f"{table['title']}: {key}"
            assert node["description"] == node["description"].strip()


@pytest.mark.parametrize("file", SCHEMAS)
def test_a_right_file_is_right_by_its_schema(file):
    jsonschema.validate(tomllib.loads(SAMPLES[file]), SCHEMAS[file])


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        ("job", "= 96", "= 0"),
        ("job", "= 96", "= 2.5"),
        ("job", "= 96", '= "96"'),
        ("job", "= 96", "= true"),
        ("job", "= 90", "= 0"),
        ("job", "= 90", "= 50001"),
        ("job", '"free"', '"quater"'),
        ("job", "offset:2.0", "offset:wide"),
        ("job", "offset:2.0", "colour:#f0c"),
        ("job", "gutter_mm", "guter_mm"),
        ("job", "quantity = 96\n", ""),
        ("job", '"berth plate"', '""'),
        ("shop", "price = 5.40", "price = -1"),
        ("shop", "price = 5.40", 'price = "5.40"'),
        ("shop", "[12.1, 12.4]", "[12.1]"),
        ("shop", '["cut"]', "[]"),
        ("shop", "tools = { kiss", "tools = { kis"),
        ("shop", '"EUR"', '"€"'),
        ("shop", "passes = 6", "passes = 65"),
        ("shop", "spacing_mm = 400\n", ""),
    ],
)
def test_editor_and_reader_refuse_the_same(tmp_path, file, old, new):
    """Two judges that share no code; what needs two keys at once only the reader sees."""
    text = changed(SAMPLES[file], old, new)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(tomllib.loads(text), SCHEMAS[file])

    assert faults_in(write(tmp_path, **(SAMPLES | {file: text})))


def test_a_schema_may_be_changed_by_who_asked_for_it():
    mine = job_schema()
    mine.clear()

    assert job_schema() == SCHEMAS["job"]


def test_the_schema_is_plain_json():
    for schema in SCHEMAS.values():
        assert json.loads(json.dumps(schema, allow_nan=False)) == copy.deepcopy(schema)
