"""Where in a file a fault is, as a person would search for it."""

from typing import Any

from nestplan.job.shown import key_shown, shown

Keys = tuple[str | int, ...]


def value_at(tables: Any, keys: Keys) -> Any:
    """What stands under these keys; None where nothing does."""
    for key in keys:
        try:
            tables = tables[key]
        except (KeyError, IndexError, TypeError):
            return None
    return tables


def place(file: str, tables: dict[str, Any], keys: Keys) -> str:
    """regatta.toml, [[decal]] 2 "club burgee", rotate."""
    words, at = [file], 0
    while at < len(keys):
        key = keys[at]
        inside = keys[at + 1] if at + 1 < len(keys) else None
        value = value_at(tables, keys[: at + 1])
        word = key_shown(str(key)) if isinstance(key, str) else str(key + 1)
        if isinstance(inside, int):
            table = value_at(tables, keys[: at + 2])
            word = f"[[{word}]]" if at == 0 else word
            words.append(f"{word} {inside + 1}{_called(table)}")
            at += 1
        else:
            words.append(f"[{word}]" if at == 0 and isinstance(value, dict) else word)
        at += 1
    return ", ".join(words)


def _called(table: Any) -> str:
    name = table.get("name") if isinstance(table, dict) else None
    return f" {shown(name)}" if isinstance(name, str) and name else ""
