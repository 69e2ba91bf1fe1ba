"""What is wrong with single keys and values of a file, in the shop's words.

pydantic finds the faults; the words, and what would be right, come from the file's schema.
"""

from collections.abc import Iterator
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from nestplan.faults import Fault
from nestplan.figures import count
from nestplan.job.nearest import nearest
from nestplan.job.place import Keys, place, value_at
from nestplan.job.schema import Node, node_at, other_file, schema_of
from nestplan.job.shown import allowed, either, key_shown, meaning, shown
from nestplan.job.values import Strict

FAULTS_MOST = 50  # of one file; who has more wants to begin anew

NOT_OF_KIND = {
    "number_type": "not a number",
    "int_type": "not a whole number",
    "bool_type": "not true or false",
    "string_type": "not text",
    "list_type": "not a list",
    "model_type": "not a table",
    "dict_type": "not a table",
    "finite_number": "not a finite number",
    "decimal_max_places": "finer than 6 decimals",
    "date_form": "no date",
    "string_too_short": "empty",
    "text_blank": "blank",
    "text_trim": "with a space at its begin or end",
    "text_signs": "with signs that do not print",
    "string_pattern_mismatch": "not of the right form",
}


def shape_faults(file: str, tables: dict[str, Any], model: type[Strict]) -> list[Fault]:
    """Every key that is unknown or missing, every value that cannot be. file: its name."""
    try:
        model.model_validate(tables)
    except ValidationError as error:
        errors = error.errors(include_url=False, include_context=True)
    else:
        return []
    schema = schema_of(model)
    taken = {_meant(schema, tables, e) for e in errors if e["type"] == "extra_forbidden"}
    errors = [e for e in errors if not (e["type"] == "missing" and e["loc"] in taken)]
    faults = [_fault(file, tables, schema, error) for error in errors[:FAULTS_MOST]]
    if len(errors) > FAULTS_MOST:
        faults.append(
            Fault(
                what=f"{len(errors) - FAULTS_MOST} more keys or values are wrong",
                where=file,
                do="mend those above first",
            )
        )
    return faults


def _fault(file: str, tables: dict[str, Any], schema: Node, error: ErrorDetails) -> Fault:
    keys = error["loc"]
    if error["type"] == "extra_forbidden":
        return _unknown_key(file, tables, schema, keys)
    if keys[-1] == "[key]":  # pydantic's word for the key itself, in tables of free keys
        return _unknown_key(file, tables, schema, keys[:-1])
    if error["type"] == "missing":
        return _missing(file, tables, schema, keys)
    return _wrong_value(file, tables, schema, error)


def _wrong_value(file: str, tables: dict[str, Any], schema: Node, error: ErrorDetails) -> Fault:
    keys, value = error["loc"], value_at(tables, error["loc"])
    node = node_at(schema, keys)
    where = place(file, tables, keys)
    brackets = _brackets(keys, value, node)
    if brackets:
        return Fault(what=f"{keys[0]} {brackets[0]}", where=where, do=brackets[1])
    do = f"write {_right(schema, keys)}"
    if "enum" in node and isinstance(value, str):
        near = nearest(value, [str(choice) for choice in node["enum"]])
        do += f"; the nearest is {shown(near)}" if near else ""
    if error["type"] == "contour_form":
        near = nearest(value.partition(":")[0], [e.partition(":")[0] for e in node["examples"]])
        do += f"; the nearest is {near}" if near else ""
    if isinstance(value, str) and node.get("type") in ("number", "integer", "boolean"):
        do += ", without quotes"
    what = f"{_said(keys)} is {shown(value)}, {_why(error, value, node)}"
    return Fault(what=what, where=where, do=do)


def _right(schema: Node, keys: Keys) -> str:
    """What a value may be; of a list of tables, what one of them needs."""
    row = node_at(schema, (*keys, 0))
    if "properties" not in row:
        return allowed(node_at(schema, keys))
    head = ".".join(str(key) for key in keys if isinstance(key, str))
    return f"one or more [[{head}]], each {allowed(row)}"


def _why(error: ErrorDetails, value: Any, node: Node) -> str:
    kind = error["type"]
    if "enum" in node:
        return "which is not known"
    if kind == "finite_number" and (isinstance(value, int) or value.is_finite()):
        # beyond all floats
        kind = "greater_than_equal" if value < 0 else "less_than_equal"
    match kind:
        case "greater_than_equal":
            return f"below {node['minimum']}"
        case "less_than_equal":
            return f"above {node['maximum']}"
        case "too_short" if not value:
            return "which is empty"
        case "too_short":
            return f"which has {count(len(value), 'entry', 'entries')}, not {node['minItems']}"
        case "too_long":
            return f"which has {len(value)} entries, {node['maxItems']} at most"
        case "string_too_long":
            return f"{len(value)} characters long"
        case "contour_form":
            return str(error["msg"])
    return NOT_OF_KIND.get(kind, error["msg"])


def _brackets(keys: Keys, value: Any, node: Node) -> tuple[str, str] | None:
    """The two kinds of brackets are mixed up more than anything else in TOML."""
    if len(keys) != 1:
        return None
    if node.get("type") == "array" and isinstance(value, dict):
        return "stands in single brackets", f"write [[{keys[0]}]]: there can be several"
    if node.get("type") == "object" and isinstance(value, list):
        return "stands in double brackets", f"write [{keys[0]}]: there is only one"
    return None


def _said(keys: Keys) -> str:
    """The key, or the entry of a list under it."""
    words = [key_shown(str(key)) if isinstance(key, str) else str(key + 1) for key in keys]
    names = [at for at, key in enumerate(keys) if isinstance(key, str)]
    return " ".join(words[names[-1] :])


def _missing(file: str, tables: dict[str, Any], schema: Node, keys: Keys) -> Fault:
    key, node = str(keys[-1]), node_at(schema, keys)
    kind = node.get("type")
    as_written = f"[[{key}]]" if kind == "array" else f"[{key}]" if kind == "object" else key
    if len(keys) > 1 and kind in ("array", "object"):
        as_written = key
    what = f"{as_written} is missing"
    where = place(file, tables, keys[:-1])
    do = f"add {as_written} ({meaning(node)}): {_right(schema, keys)}"
    return Fault(what=what, where=where, do=do)


def _meant(schema: Node, tables: dict[str, Any], error: ErrorDetails) -> Keys | None:
    """The missing key that an unknown one was meant to be."""
    keys = error["loc"]
    if any(_home(file, str(keys[-1])) for file in (schema, other_file(schema))):
        return None
    key = _nearest_absent(schema, tables, keys)
    return (*keys[:-1], key) if key is not None else None


def _nearest_absent(schema: Node, tables: dict[str, Any], keys: Keys) -> str | None:
    """The key that was meant; None where that one stands there already."""
    table = value_at(tables, keys[:-1])
    known = node_at(schema, keys[:-1]).get("properties", {})
    near = nearest(str(keys[-1]), known)
    return None if near in table else near


def _unknown_key(file: str, tables: dict[str, Any], schema: Node, keys: Keys) -> Fault:
    """Answer with the nearest key that is not there yet, or with the table it belongs in."""
    key = str(keys[-1])
    inside = node_at(schema, keys[:-1])
    home = _home(schema, key)
    other = other_file(schema)
    elsewhere = _home(other, key)
    if home is not None:
        do = f"move it {home}"
    elif elsewhere is not None:
        do = f"move it {elsewhere} of the {other['title']}"
    elif near := _nearest_absent(schema, tables, keys):
        do = f"write {near} ({meaning(node_at(schema, (*keys[:-1], near)))})"
    elif names := inside.get("propertyNames", {}).get("enum"):
        near = nearest(key, names)
        do = f"write {either(names)}" + (f"; the nearest is {shown(near)}" if near else "")
    else:
        do = f"delete it; known here: {', '.join(inside.get('properties', {}))}"
    what = f"{_table(schema, keys)} has no key {key_shown(key)}"
    return Fault(what=what.rstrip(), where=place(file, tables, keys), do=do)


def _table(schema: Node, keys: Keys) -> str:
    named = [str(key) for key in keys[:-1] if isinstance(key, str)]
    if not named:
        return f"a {schema['title']}"
    if len(named) > 1:
        return named[-1]
    return f"[[{named[0]}]]" if isinstance(keys[1], int) else f"[{named[0]}]"


def _home(schema: Node, key: str) -> str | None:
    """Where a key belongs that stands in the wrong table of the file."""
    top = schema["properties"].get(key, {})
    if top.get("type") in ("string", "number"):
        return "to the top of the file, above the first table"
    homes = [words for words, table in _tables(schema, "", ()) if key in table["properties"]]
    return f"into {' or '.join(homes[:3])}" if homes else None


def _tables(schema: Node, prefix: str, keys: Keys) -> Iterator[tuple[str, Node]]:
    """The tables of a file below its top, as their heads are written."""
    for key in node_at(schema, keys)["properties"]:
        node, inside, head = node_at(schema, (*keys, key)), (*keys, key), f"{prefix}{key}"
        words = f"[{head}]"
        if node.get("type") == "array":
            node, inside, words = node_at(schema, (*keys, key, 0)), (*keys, key, 0), f"[[{head}]]"
        if "properties" in node:
            yield words, node
            yield from _tables(schema, f"{head}.", inside)
