"""The reference pages of both files for people, made from the same schemas as the editors' help."""

from typing import Any

from nestplan.job.schema import job_schema, shop_schema

Node = dict[str, Any]

INTRODUCTIONS = {
    "job": "One run: which decals, how many, on what roll, by which setup. TOML; lengths end in "
    "`_mm`. Unknown keys are refused with the nearest known one.",
    "shop": "Rolls, machines, setups and rates. TOML; lengths end in `_mm` or `_m`, times in `_s` "
    "or `_h`. Prices are decimal and stay so.",
}


def reference_pages() -> dict[str, str]:
    """Markdown by file name."""
    return {
        "job-file.md": _page("job", job_schema()),
        "shop-file.md": _page("shop", shop_schema()),
    }


def _page(kind: str, schema: Node) -> str:
    lines = [
        f"# {kind.capitalize()} file",
        "",
        INTRODUCTIONS[kind],
        "",
        f"Made from [{kind}-file.schema.json]({kind}-file.schema.json), which editors can use.",
        "",
        "## At the top",
        "",
        *_table(schema),
    ]
    for node in schema.get("$defs", {}).values():
        lines += [
            "",
            f"## {node['title'].capitalize()}",
            "",
            node["description"],
            "",
            *_table(node),
        ]
    return "\n".join(lines) + "\n"


def _table(node: Node) -> list[str]:
    rows = ["| key | what | values | when left out |", "|---|---|---|---|"]
    needed = set(node.get("required", ()))
    for key, value in node["properties"].items():
        absent = "needed" if key in needed else _default(value)
        rows.append(
            f"| `{key}` | {_cell(value.get('description', ''))} | {_values(value)} | {absent} |"
        )
    return rows


def _default(value: Node) -> str:
    default = value.get("default")
    if default is None or default in ([], {}, ""):
        return "nothing"
    return f"`{str(default).lower() if isinstance(default, bool) else default}`"


def _values(value: Node) -> str:
    """What a key may hold, in a few words."""
    value = next((each for each in value.get("anyOf", ()) if each.get("type") != "null"), value)
    if "$ref" in value:
        return "a table"
    if "enum" in value:
        return ", ".join(f"`{each}`" for each in value["enum"])
    if "const" in value:
        return f"`{value['const']}`"
    match value.get("type"):
        case "array":
            inner = value.get("items", {})
            return "tables" if "$ref" in inner else f"list of {_values(inner)}"
        case "number" | "integer" as number:
            words = "whole number" if number == "integer" else "number"
            low, high = value.get("minimum", value.get("exclusiveMinimum")), value.get("maximum")
            if low is not None and high is not None:
                return f"{words}, {_short(low)} to {_short(high)}"
            return words
        case "boolean":
            return "`true`, `false`"
        case "object":
            return "a table"
    return "text"


def _short(value: float) -> str:
    return f"{value:,.10g}".replace(",", " ")


def _cell(text: str) -> str:
    return text.replace("|", "\\|")
