"""The table of stopwatch readings: which plan, which stage, how long.

CSV with a head line `plan,stage,time`; plan: the folder that `nestplan plan` wrote, from the
table's folder; stage: print, laminate, cut or run. Times as people write them, always with
their unit or with colons. Semicolons, as many spreadsheets write, are read too.
"""

import csv
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, get_args

from nestplan.faults import Fault, raise_all
from nestplan.job.nearest import nearest

Stage = Literal["print", "laminate", "cut", "run"]
STAGES: tuple[Stage, ...] = get_args(Stage)
COLUMNS = ("plan", "stage", "time")
BYTES_MOST = 2_000_000
FAULTS_MOST = 20
DAY_S = 86_400.0
COLONS = re.compile(r"^(?:(\d{1,3}):)?(\d{1,3}):(\d{2}(?:[.,]\d+)?)$")
PART = re.compile(
    r"(\d+(?:[.,]\d+)?)\s*(hours?|h|minutes?|mins?|min|m|seconds?|secs?|sec|s)(?![a-z])\.?"
)
UNIT_S = {"h": 3600.0, "m": 60.0, "s": 1.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """One reading. line: where it stands in the file."""

    plan: str
    stage: Stage
    seconds: float
    line: int


def read_timings(path: Path) -> list[Timing]:
    """The readings of a table. raises: Fault or Faults, each with its line."""
    rows = _rows(path)
    if not rows:
        raise Fault(what="the table is empty", where=str(path), do=_example())
    (head_line, head), *body = rows
    names = [name.strip().lower() for name in head]
    missing = [name for name in COLUMNS if name not in names]
    if missing:
        raise Fault(
            what=f"the head line lacks {', '.join(missing)}",
            where=f"{path}, line {head_line}",
            do=_example(),
        )
    at = {name: names.index(name) for name in COLUMNS}
    found: list[Timing] = []
    faults: list[Fault] = []
    for line, cells in body:
        try:
            found.append(_timing(path, line, cells, at))
        except Fault as fault:
            faults.append(fault)
    raise_all(faults[:FAULTS_MOST])
    if not found:
        raise Fault(what="the table has no readings", where=str(path), do=_example())
    return found


def seconds_of(text: str) -> float | None:
    """33:47, 1:02:10, 52 min 24 s, 1.5 h: in seconds; None for anything else.

    Two numbers with a colon are minutes and seconds. A bare number has no unit and is refused.
    """
    text = text.strip().lower()
    match = COLONS.match(text)
    if match:
        hours, minutes, seconds = match.groups()
        if float(seconds.replace(",", ".")) >= 60 or (hours and int(minutes) >= 60):
            return None
        return int(hours or 0) * 3600.0 + int(minutes) * 60.0 + float(seconds.replace(",", "."))
    parts = PART.findall(text)
    if not parts or PART.sub("", text).strip(" ,and"):
        return None
    units = [unit[0] for _, unit in parts]
    if units != sorted(set(units), key="hms".index):
        return None
    return sum(float(number.replace(",", ".")) * UNIT_S[unit[0]] for number, unit in parts)


def _timing(path: Path, line: int, cells: list[str], at: dict[str, int]) -> Timing:
    where = f"{path}, line {line}"
    if len(cells) <= max(at.values()):
        raise Fault(what=f"only {len(cells)} cells", where=where, do="fill in plan, stage and time")
    plan, stage, text = (cells[at[name]].strip() for name in COLUMNS)
    if not plan:
        raise Fault(what="no plan is named", where=where, do="write the folder of a plan")
    known = next((each for each in STAGES if each == stage.lower()), None)
    if known is None:
        near = nearest(stage, list(STAGES))
        more = f"; the nearest is {near}" if near else ""
        raise Fault(
            what=f"stage is {stage!r}, which is not known",
            where=where,
            do=f"write {', '.join(STAGES[:-1])} or {STAGES[-1]}{more}",
        )
    seconds = seconds_of(text)
    if seconds is None:
        bare = re.fullmatch(r"\d+(?:[.,]\d+)?", text) is not None
        raise Fault(
            what=f"time is {text!r}, " + ("which has no unit" if bare else "which is no time"),
            where=where,
            do="write 33:47 (minutes and seconds), 1:02:10, or 52 min 24 s",
        )
    if not 0 < seconds <= 10 * DAY_S:
        raise Fault(
            what=f"time is {text!r}", where=where, do="write a time above 0, up to ten days"
        )
    return Timing(plan=plan, stage=known, seconds=seconds, line=line)


def _rows(path: Path) -> list[tuple[int, list[str]]]:
    try:
        data = path.read_bytes()
        if len(data) > BYTES_MOST:
            raise Fault(
                what="the file is far too large for a table of readings",
                where=str(path),
                do="name the table",
            )
        text = data.decode("utf-8-sig")
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise Fault(what=f"cannot be read: {reason}", where=str(path), do=_example()) from None
    except UnicodeDecodeError:
        raise Fault(
            what="not text in UTF-8", where=str(path), do="save the table as CSV, UTF-8"
        ) from None
    if "\0" in text:
        raise Fault(what="not a table", where=str(path), do=_example())
    first = next((line for line in text.splitlines() if line.strip()), "")
    sign = ";" if first.count(";") > first.count(",") else ","
    try:
        read = csv.reader(text.splitlines(), delimiter=sign)
        rows = [(read.line_num, cells) for cells in read]
    except csv.Error as error:
        raise Fault(what=f"not a table: {error}", where=str(path), do=_example()) from None
    return [
        (line, cells)
        for line, cells in rows
        if any(cell.strip() for cell in cells) and not cells[0].lstrip().startswith("#")
    ]


def _example() -> str:
    return "write a head line plan,stage,time and below it lines such as out,cut,33:47"
