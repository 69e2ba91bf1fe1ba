"""How a value, and what a value may be, is written in a fault: as one would type it in TOML."""

import json
from collections.abc import Sequence
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from nestplan.job.schema import Node

SHOWN_MOST = 60  # characters of a value


def shown(value: Any) -> str:
    """The value as TOML writes it, cut short when it is long."""
    text: str
    match value:
        case bool():
            return str(value).lower()
        case int() if value.bit_length() > 200:
            return "a number of more than 60 digits"
        case Decimal() | float():
            text = str(value).lower().replace("infinity", "inf")
        case str():
            text = json.dumps(value[: SHOWN_MOST + 1], ensure_ascii=not value.isprintable())
            return text if len(value) <= SHOWN_MOST else text[:SHOWN_MOST] + '…"'
        case list():
            few = len(value) <= 4 and all(isinstance(item, int | Decimal | str) for item in value)
            return f"[{', '.join(map(shown, value))}]" if few else f"a list of {len(value)}"
        case dict():
            return "a table"
        case date() | datetime() | time():
            text = value.isoformat()
        case _:
            text = str(value)
    return text if len(text) <= SHOWN_MOST else text[:SHOWN_MOST] + "…"


def key_shown(key: str) -> str:
    """A key as it stands in the file: bare, or in quotes when it must be."""
    bare = key and all(sign.isascii() and (sign.isalnum() or sign in "_-") for sign in key)
    return key[:SHOWN_MOST] if bare else shown(key)


def either(choices: Sequence[Any], last: str = "or") -> str:
    """ "none", "half" or "free"."""
    words = [shown(choice) for choice in choices]
    return f"{', '.join(words[:-1])} {last} {words[-1]}" if len(words) > 1 else words[0]


def meaning(node: Node) -> str:
    """What a key means, without the word for whom."""
    return str(node.get("description", "")).removeprefix("cut: ").removeprefix("print: ")


def allowed(node: Node) -> str:
    """What a schema lets a value be: a whole number from 1 to 100000."""
    if "enum" in node:
        return either(node["enum"])
    if "examples" in node:
        return f"text such as {either(node['examples'])}"
    kind = node.get("type")
    if kind in ("number", "integer"):
        return f"a {'whole ' if kind == 'integer' else ''}number{_range(node)}"
    if kind == "boolean":
        return "true or false"
    if kind == "string":
        most = node.get("maxLength")
        return "text in quotes" + (f", at most {most} characters" if most else "")
    if kind == "array":
        return _allowed_list(node)
    if "properties" in node:
        return f"a table with {', '.join(node.get('required') or node['properties'])}"
    names = node.get("propertyNames", {}).get("enum")
    return f"a table with {either(names)}" if names else "a table"


def _range(node: Node) -> str:
    low, high = node.get("minimum"), node.get("maximum")
    if low is not None and high is not None:
        return f" from {low} to {high}"
    return f", {low} or more" if low is not None else ""


def _allowed_list(node: Node) -> str:
    item = node.get("items", {})
    if node.get("minItems") == node.get("maxItems") == 2:
        return f"[from, to], each {allowed(item)}"
    if "enum" in item:
        return f"a list in brackets of {either(item['enum'], 'and')}"
    if item.get("type") == "array":
        return f"a list in brackets of {allowed(item)}"
    return "a list"
