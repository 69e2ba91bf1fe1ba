"""A shop file as a text that is changed and written again: comments and order are kept.

The library that keeps comments gathers all tables of one name where the first one stands. So
tables that come back after others bear a name of their own while they are changed.
"""

import re
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from nestplan.faults import OUT_OF_REACH, Fault

NAMES = ("roll", "machine", "setup")
AGAIN = "--again-"  # no key of a shop has two hyphens
NUMBERS_MOST = 10_000
HEAD = re.compile(r"^(\s*\[\[?\s*)([A-Za-z]+)(?=\s*[.\]])", re.MULTILINE)
RENAMED = re.compile(rf"^(\s*\[\[?\s*)([a-z]+){AGAIN}\d+(?=\s*[.\]])", re.MULTILINE)


def read_shop_text(path: Path) -> Any:
    """The document of a shop file that was read before. raises: Fault where it is no more."""
    try:
        return parse_shop(path.read_bytes().decode("utf-8-sig"))
    except (OSError, UnicodeDecodeError, TOMLKitError) as error:
        raise Fault(
            what=f"the shop file changed while it was read: {error}",
            where=str(path),
            do="run the command again",
        ) from None


def free_name(path: Path, word: str) -> str:
    """The first name beside a shop file, with a word and a number, that is free."""
    for number in range(1, NUMBERS_MOST):
        name = f"{path.stem}-{word}-{number}{path.suffix}"
        if not (path.parent / name).exists():
            return name
    raise Fault(
        what=f"there are {NUMBERS_MOST - 1} {word} shop files already",
        where=str(path.parent),
        do="move the old ones away",
        code=OUT_OF_REACH,
    )


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
