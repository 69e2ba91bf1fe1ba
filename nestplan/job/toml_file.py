"""A TOML file from the disk to plain tables, or the one fault why it cannot be read."""

import re
import tomllib
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any

from nestplan.faults import Fault
from nestplan.job.nearest import nearest

BYTES_MOST = 2_000_000
LINE_SHOWN = 60  # characters

Tables = dict[str, Any]


def read_tables(path: Path, *, kind: str, named_in: str | None = None) -> Tables:
    """The file's tables; numbers with a point as Decimal, exactly as written.

    kind: "job" or "shop", for the words. named_in: the key that names the file, if one does.
    raises: Fault.
    """
    text = _text(_bytes(path, kind, named_in or str(path)), path)
    try:
        return tomllib.loads(text, parse_float=_decimal)
    except tomllib.TOMLDecodeError as error:
        raise _not_toml(str(error), text, path) from None
    except RecursionError:
        raise Fault(
            what="brackets are nested too deep to be read",
            where=str(path),
            do="write it anew; `nestplan init` makes a file to start from",
        ) from None
    except ValueError as error:  # a number beyond what Python reads
        raise Fault(
            what=f"a number cannot be read: {error}",
            where=str(path),
            do="write it with fewer digits",
        ) from None


def _bytes(path: Path, kind: str, where: str) -> bytes:
    try:
        if path.is_dir():
            raise Fault(
                what=f"{str(path)!r} is a folder, not a {kind} file",
                where=where,
                do=_there(path, "name the file in it") or f"write a {kind} file",
            )
        if not path.exists():
            raise Fault(
                what=f"there is no {kind} file {str(path)!r}",
                where=where,
                do=_there(path.parent, "correct the path", like=path.name)
                or "correct the path; `nestplan init DIR` makes a file to start from",
            )
        if not path.is_file():
            raise Fault(
                what=f"{str(path)!r} is no regular file", where=where, do="name a .toml file"
            )
        with path.open("rb") as file:
            data = file.read(BYTES_MOST + 1)
    except (OSError, ValueError) as error:  # ValueError: a path with a zero byte
        raise Fault(
            what=f"{str(path)!r} cannot be read: {getattr(error, 'strerror', None) or error}",
            where=where,
            do="check the path, its permissions and the disk",
        ) from None
    if len(data) > BYTES_MOST:
        raise Fault(
            what=f"the file is larger than {BYTES_MOST // 1_000_000} MB",
            where=str(path),
            do=f"name a {kind} file; a thousand decals take a tenth of that",
        )
    return data


def _there(folder: Path, do: str, like: str | None = None) -> str | None:
    """What to do, with the TOML files that the folder holds, the nearest first."""
    try:
        names = sorted(entry.name for entry in folder.glob("*.toml"))[:100]
    except (OSError, ValueError):
        return None
    if not names:
        return None
    near = nearest(like, names) if like else None
    if near:
        return f"{do}; the nearest there is {near}"
    more = ", …" if len(names) > 5 else ""
    return f"{do}: {', '.join(names[:5])}{more}"


def _text(data: bytes, path: Path) -> str:
    try:
        return data.decode("utf-8-sig")  # some editors put a byte order mark in front
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise Fault(
            what=f"the file is not UTF-8 text: byte 0x{data[error.start]:02x} in line {line}",
            where=f"{path}, line {line}",
            do="save it as UTF-8 in the editor",
        ) from None


def _decimal(text: str) -> Decimal:
    try:
        return Decimal(text)
    except InvalidOperation:
        raise ValueError(f"{text[:LINE_SHOWN]!r}") from None


def _not_toml(reason: str, text: str, path: Path) -> Fault:
    """Say where, show the line, and name the usual slips."""
    found = re.search(r" \(at (?:line (\d+), column (\d+)|end of document)\)$", reason)
    lines = re.split(r"\r?\n", text)
    what = reason[: found.start()] if found else reason
    if found is None or found[1] is None:
        number, where = len(lines), "end of the file"
    else:
        number, where = int(found[1]), f"line {found[1]}, column {found[2]}"
    line = lines[number - 1].strip() if number <= len(lines) else ""
    shown = f" in {line[:LINE_SHOWN]!r}" if line else ""
    return Fault(
        what=f"this is not TOML: {what[:1].lower()}{what[1:]}{shown}",
        where=f"{path}, {where}",
        do=_slip(line, what),
    )


def _slip(line: str, reason: str) -> str:
    value = line.partition("=")[2].strip()
    if re.match(r"[+-]?\d+,\d", value):
        return "write a point, not a comma, before decimals"
    if "twice" in reason or "overwrite" in reason:
        return "a key stands once in a table: delete one, or begin a new table with [[…]]"
    text = value.partition("#")[0].strip()[:LINE_SHOWN]
    if text[:1].isalpha() and reason.startswith("Invalid value"):
        shown = f': "{text}"' if text.isprintable() and '"' not in text else ""
        return f"text stands in quotes{shown}"
    if re.match(r"[+-]?(\d+\.(\D|$)|\.\d)", value):
        return "a number has digits on both sides of its point: 12.0, 0.5"
    return 'a line is: key = value, text in "quotes", tables in [single] or [[double]] brackets'
