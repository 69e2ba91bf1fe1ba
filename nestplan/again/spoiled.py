"""The table of spoiled copies: decal, copy, reason, a line a copy.

CSV in UTF-8 with a head line; parted by comma, semicolon or tab. Copies are numbered as in the
plan: the run card, cut files and slips say the number.
"""

from dataclasses import dataclass
from pathlib import Path

from nestplan.again.printed import Copy, Key, Printed
from nestplan.artwork.row_table import Table, read_table
from nestplan.faults import Fault, raise_all
from nestplan.job.nearest import nearest

COLUMNS = ("decal", "copy", "reason")
BYTES_MOST = 5_000_000
FAULTS_MOST = 20
DO = "write a head line decal,copy,reason and below it lines such as gull,7,edge lifted"


@dataclass(frozen=True, slots=True, kw_only=True)
class Spoiled:
    """A copy that came to nothing, and why. line: where it stands in the table; 0: in none."""

    copy: Copy
    reason: str
    line: int = 0


def read_spoiled(path: Path, printed: Printed) -> tuple[Spoiled, ...]:
    """The spoiled copies that a table names. raises: Fault, or Faults with each line."""
    table = read_table(_bytes(path), path.name)
    head = [name.lower() for name in table.columns]
    missing = [name for name in COLUMNS if name not in head]
    if missing:
        raise Fault(
            what=f"the head line lacks {', '.join(missing)}",
            where=f"{path}, its first line",
            do=DO,
        )
    known = {copy.key: copy for copy in printed.copies}
    found: dict[Key, Spoiled] = {}
    faults: list[Fault] = []
    for line, decal, number, reason in _lines(table, head):
        try:
            copy = _copy(f"{path}, line {line}", decal, number, reason, printed, known)
            if copy.key in found:
                raise Fault(
                    what=f"{decal}, copy {number}, is spoiled twice: line {found[copy.key].line} "
                    "has it already",
                    where=f"{path}, line {line}",
                    do="delete one of the lines, or write the number of the other copy",
                )
        except Fault as fault:
            faults.append(fault)
            continue
        found[copy.key] = Spoiled(copy=copy, reason=reason, line=line)
    raise_all(faults[:FAULTS_MOST])
    return tuple(found.values())


def _lines(table: Table, head: list[str]) -> list[tuple[int, str, str, str]]:
    at = [head.index(name) for name in COLUMNS]
    return [
        (line, row[at[0]], row[at[1]], row[at[2]])
        for line, row in zip(table.lines, table.rows, strict=True)
    ]


def _copy(
    where: str, decal: str, number: str, reason: str, printed: Printed, known: dict[Key, Copy]
) -> Copy:
    names = [each.name for each in printed.decals]
    if decal not in names:
        near = nearest(decal, names)
        raise Fault(
            what=f"the plan has no decal {decal!r}",
            where=where,
            do=f"write {near!r}, the nearest" if near else f"write one of {', '.join(names[:12])}",
        )
    copies = sorted(copy for name, copy in known if name == decal)
    if not number.isdecimal() or len(number) > 9 or (decal, int(number)) not in known:
        span = f"from {copies[0]} to {copies[-1]}"
        if len(copies) < copies[-1] - copies[0] + 1:
            span = ", ".join(map(str, copies[:12])) + (" and more" if len(copies) > 12 else "")
        raise Fault(
            what=f"the plan has no copy {number!r} of {decal}",
            where=where,
            do=f"write the number of a copy that was printed: {span}",
        )
    if not reason:
        raise Fault(
            what=f"{decal}, copy {number}, has no reason",
            where=where,
            do="say in a few words what happened: the film is booked as lost for it",
        )
    return known[decal, int(number)]


def _bytes(path: Path) -> bytes:
    try:
        if path.stat().st_size > BYTES_MOST:
            raise Fault(
                what="the file is far too large for a table of spoiled copies",
                where=str(path),
                do=DO,
            )
        return path.read_bytes()
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise Fault(what=f"cannot be read: {reason}", where=str(path), do=DO) from None
