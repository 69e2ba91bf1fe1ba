"""The JSON Schemas of both files, so that an editor completes keys and shows what they mean.

They are made from the models and are also where faults look up what would be right.
"""

import json
from functools import cache
from typing import Any

from nestplan.job.job_file import JobFile
from nestplan.job.shop_file import ShopFile
from nestplan.job.values import Strict

DIALECT = "https://json-schema.org/draft/2020-12/schema"
PLAIN = {"ge": "minimum", "le": "maximum", "min_length": "minLength", "max_length": "maxLength"}
ORDER = ("title", "description", "type", "default", "examples", "minimum", "maximum")

Node = dict[str, Any]


def job_schema() -> Node:
    """What a job file may hold, JSON Schema draft 2020-12; a fresh dictionary each time."""
    return _schema(JobFile)


def shop_schema() -> Node:
    """What a shop file may hold, JSON Schema draft 2020-12; a fresh dictionary each time."""
    return _schema(ShopFile)


def schema_files() -> dict[str, str]:
    """Both schemas as the text of the files in docs/reference, by file name."""
    return {
        "job-file.schema.json": _text(job_schema()),
        "shop-file.schema.json": _text(shop_schema()),
    }


@cache
def schema_of(model: type[Strict]) -> Node:
    """The same, shared: read it, do not change it."""
    return _schema(model)


def other_file(schema: Node) -> Node:
    """The shop file's schema for a job file's, and the other way round; read it only."""
    models = {"job file": ShopFile, "shop file": JobFile}
    return schema_of(models[schema["title"]])


def node_at(schema: Node, keys: tuple[str | int, ...]) -> Node:
    """The part of a schema that speaks of the value under these keys; {} where none does."""
    node = _followed(schema, schema)
    for key in keys:
        found = node.get("items") if isinstance(key, int) else node.get("properties", {}).get(key)
        if found is None and isinstance(key, str):
            found = node.get("additionalProperties")
        if not isinstance(found, dict):
            return {}
        node = _followed(schema, found)
    return node


def _followed(schema: Node, node: Node) -> Node:
    """The node, with what its reference names merged in."""
    link = node.get("$ref")
    if link is None:
        return node
    return {**schema["$defs"][link.rpartition("/")[2]], **node}


def _schema(model: type[Strict]) -> Node:
    made = _tidy(model.model_json_schema())
    assert isinstance(made, dict)
    return {"$schema": DIALECT, **made}


def _tidy(node: Any) -> Any:
    """Plain words of JSON Schema in reading order; no null, which TOML lacks."""
    if isinstance(node, list):
        return [_tidy(item) for item in node]
    if not isinstance(node, dict):
        return node
    tidied = _renamed(node)
    choices = [choice for choice in tidied.pop("anyOf", []) if choice != {"type": "null"}]
    if choices:  # a number or null; a decimal as number or text: the first is what TOML writes
        tidied = {**_renamed(choices[0]), **tidied}
    if tidied.get("type") in ("number", "integer"):
        for key in set(tidied) & {"default", "minimum", "maximum"}:
            number = float(tidied[key])
            tidied[key] = int(number) if number.is_integer() else number
    if "properties" not in tidied:
        tidied.pop("title", None)  # only tables have one
    return {key: _tidy_part(key, tidied[key]) for key in sorted(tidied, key=_place)}


def _renamed(node: Node) -> Node:
    """Bounds by their name in JSON Schema; what it has no word for is left out."""
    kept = {PLAIN.get(key, key): value for key, value in node.items() if key != "decimal_places"}
    if "default" in kept and kept["default"] is None:
        del kept["default"]
    return kept


def _tidy_part(key: str, part: Any) -> Any:
    """Under `properties` and `$defs` stand names, whatever they are."""
    if key in ("properties", "$defs"):
        return {name: _tidy(inner) for name, inner in part.items()}
    return _tidy(part)


def _place(key: str) -> tuple[int, str]:
    return (ORDER.index(key) if key in ORDER else len(ORDER), key)


def _text(schema: Node) -> str:
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"
