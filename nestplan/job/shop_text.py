"""A shop file as a text that is changed and written again: comments and order are kept.

The library that keeps comments gathers all tables of one name where the first one stands. So
tables that come back after others bear a name of their own while they are changed.
"""

import re
from typing import Any

import tomlkit

NAMES = ("roll", "machine", "setup")
AGAIN = "--again-"  # no key of a shop has two hyphens
HEAD = re.compile(r"^(\s*\[\[?\s*)([A-Za-z]+)(?=\s*[.\]])", re.MULTILINE)
RENAMED = re.compile(rf"^(\s*\[\[?\s*)([a-z]+){AGAIN}\d+(?=\s*[.\]])", re.MULTILINE)


def parse_shop(text: str) -> Any:
    """A document to be changed. raises: TOMLKitError."""
    known: dict[str, int] = {}
    last = ""

    def named(head: re.Match[str]) -> str:
        nonlocal last
        name = head[2]
        if name != last:
            known[name] = known.get(name, 0) + 1
        last = name
        again = f"{AGAIN}{known[name]}" if name in NAMES and known[name] > 1 else ""
        return f"{head[1]}{name}{again}"

    return tomlkit.parse(HEAD.sub(named, text))


def shop_tables(document: Any, name: str) -> list[Any]:
    """All tables of a name, in the order in which they stand."""
    groups = (key for key in document if key == name or str(key).startswith(f"{name}{AGAIN}"))
    return [table for key in groups for table in document[key]]


def shop_text(document: Any) -> str:
    """The document as it is written."""
    return RENAMED.sub(r"\1\2", tomlkit.dumps(document))
