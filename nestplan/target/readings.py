"""The table of readings: written empty with the target, read back filled in.

Plain CSV: a line a station with x_mm and y_mm, then a line a distance with to_station and
tape_mm. Lines that begin with # say which target it is. Semicolons with decimal commas, as many
spreadsheets write, are read too.
"""

import csv
import math
import re
from dataclasses import dataclass
from pathlib import Path

from nestplan.faults import Fault, raise_all
from nestplan.figures import short
from nestplan.job.nearest import nearest
from nestplan.target.layout import Target

COLUMNS = ("station", "x_mm", "y_mm", "to_station", "tape_mm")
BYTES_MOST = 200_000
FAULTS_MOST = 20
FAR_MM = 20.0  # no cutter is so far off: the reading is
TAPE_PART = 0.05  # a length that is off by more was read in another unit or between other crosses


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """Both verniers of a station, mm; line: where it stands in the file."""

    number: int
    x_mm: float
    y_mm: float
    line: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TapeReading:
    """A measured distance between two crosses."""

    start: int
    end: int
    length_mm: float
    line: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """A filled-in table."""

    file: str
    stations: tuple[Reading, ...]
    tapes: tuple[TapeReading, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A table as it stands in its file. head: what the lines with # say; rows: (line, cells)."""

    path: Path
    head: dict[str, str]
    columns: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    comma: bool  # decimals are written with a comma

    @property
    def width(self) -> int:
        """Cells of a line."""
        return len(self.columns)


def empty_table(target: Target) -> bytes:
    """The table to fill in."""
    equipment = target.equipment
    lines = [
        "# x_mm: + where the cut lies to the right of the print; y_mm: + where it lies toward the "
        "trailing edge",
        "# tape_mm: between the printed crosses of the two stations; leave empty what was not read",
        f"# setup: {equipment.setup.name}",
        f"# roll: {equipment.roll.name}",
        f"# target: {target.code}",
        ",".join(COLUMNS),
        *(f"{station.number},,,," for station in target.stations),
        *(f"{tape.start},,,{tape.end}," for tape in target.tapes),
    ]
    return ("\n".join(lines) + "\n").encode()


def read_sheet(path: Path) -> Sheet:
    """The table's head and cells. raises: Fault where it is no such table."""
    text = _text(path)
    head: dict[str, str] = {}
    kept: list[tuple[int, str]] = []
    for number, line in enumerate(text.splitlines(), 1):
        plain = line.strip().strip('",;').strip()
        if plain.startswith("#"):
            key, _, value = plain.lstrip("# ").partition(": ")
            head[key.strip()] = value.strip()
        elif plain or re.search(r"\d", line):
            kept.append((number, line))
    if not kept:
        raise Fault(
            what="the table holds no readings",
            where=str(path),
            do="fill in the table that `nestplan target SHOP.toml --out DIR` writes",
        )
    first, title = kept[0]
    sign = next((sign for sign in (",", ";", "\t") if sign in title), ",")
    rows = [(number, _cells(line, sign)) for number, line in kept]
    columns = rows[0][1]
    while columns and not columns[-1] and all(not any(c[len(columns) - 1 :]) for _, c in rows):
        columns = columns[:-1]  # an empty column that a spreadsheet added
        rows = [(number, cells[: len(columns)]) for number, cells in rows]
    if set(columns) != set(COLUMNS):
        raise _other_columns(path, first, columns)
    return Sheet(path=path, head=head, columns=columns, rows=tuple(rows[1:]), comma=sign != ",")


def read_readings(sheet: Sheet, target: Target) -> Readings:
    """Every reading, or every fault of the table with its line and column."""
    _refuse_other_target(sheet, target)
    faults: list[Fault] = []
    stations: dict[int, Reading] = {}
    tapes: dict[tuple[int, int], TapeReading] = {}
    for line, cells in sheet.rows:
        row = _Row(sheet, line, cells, faults)
        if row.bad:
            continue
        number, other = row.whole("station"), row.whole("to_station")
        x, y, tape = row.number("x_mm"), row.number("y_mm"), row.number("tape_mm")
        if row.bad:
            continue
        if number is None:
            row.fault("station", "a line without a station", "write the station's number")
        elif (x is None) != (y is None):
            missing = "x_mm" if x is None else "y_mm"
            row.fault(missing, f"{missing} is empty", "read both verniers, or leave both empty")
        elif number not in {station.number for station in target.stations}:
            most = len(target.stations)
            row.fault("station", f"there is no station {number}", f"write 1 to {most}")
        else:
            if x is not None and y is not None:
                _station(row, number, x, y, stations)
            _tape(row, number, other, tape, target, tapes)
    if len(faults) > FAULTS_MOST:
        faults = faults[:FAULTS_MOST]
    raise_all(faults)
    return Readings(
        file=sheet.path.name,
        stations=tuple(sorted(stations.values(), key=lambda each: each.number)),
        tapes=tuple(tapes.values()),
    )


def _refuse_other_target(sheet: Sheet, target: Target) -> None:
    """raises: Fault where the table belongs to a target that stood elsewhere on the film."""
    code = sheet.head.get("target")
    if code is not None and code != target.code:
        raise Fault(
            what=f"the table belongs to target {code}, the shop file now makes {target.code}",
            where=str(sheet.path),
            do="name the --setup and --roll it was made for, or the shop file as it was then; "
            "else write, print and cut the target anew",
        )


class _Row:
    """One line of the table, being read."""

    def __init__(
        self, sheet: Sheet, line: int, cells: tuple[str, ...], faults: list[Fault]
    ) -> None:
        self.sheet, self.line, self.faults, self.bad = sheet, line, faults, False
        self.cells = dict(zip(sheet.columns, cells, strict=False))
        if len(cells) > sheet.width:
            hint = ", and decimals with a point" if not sheet.comma else ""
            self.fault(
                sheet.columns[-1],
                f"{len(cells)} cells where the table has {sheet.width} columns",
                f"write a cell a column{hint}",
            )

    def fault(self, column: str, what: str, do: str) -> None:
        """Note what is wrong with a cell."""
        at = self.sheet.columns.index(column) + 1
        where = f"{self.sheet.path}, line {self.line}, column {at} ({column})"
        self.faults.append(Fault(what=what, where=where, do=do))
        self.bad = True

    def number(self, column: str) -> float | None:
        """A number, None for an empty cell."""
        text = self.cells.get(column, "").strip().replace("\u2212", "-")
        if not text:
            return None
        plain = text.replace(",", ".") if self.sheet.comma else text
        try:
            value = float(plain) if re.fullmatch(r"[+-]?\d*\.?\d*", plain) else math.nan
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            shown = text if len(text) <= 20 else text[:20] + "…"
            self.fault(column, f"{shown!r} is no number", "write millimetres such as -0.35")
            return None
        return value

    def whole(self, column: str) -> int | None:
        """A whole number, None for an empty cell."""
        value = self.number(column)
        if value is not None and (value != int(value) or not 0 < value < 1000):
            self.fault(column, f"{short(value)} is no station", "write the station's number")
            return None
        return None if value is None else int(value)


def _station(row: _Row, number: int, x: float, y: float, stations: dict[int, Reading]) -> None:
    if number in stations:
        first = stations[number].line
        row.fault("station", f"station {number} is read twice", f"keep this line or line {first}")
        return
    for column, value in (("x_mm", x), ("y_mm", y)):
        if abs(value) > FAR_MM:
            row.fault(
                column,
                f"{column} is {short(value)}: more than {FAR_MM:g} mm off",
                "write millimetres, 0.1 for each line of the vernier",
            )
            return
    stations[number] = Reading(number=number, x_mm=x, y_mm=y, line=row.line)


def _tape(
    row: _Row,
    number: int,
    other: int | None,
    length: float | None,
    target: Target,
    tapes: dict[tuple[int, int], TapeReading],
) -> None:
    if length is None:
        return
    if other is None:
        row.fault("to_station", "a tape length to nowhere", "write the station it goes to")
        return
    planned = {frozenset((tape.start, tape.end)): tape for tape in target.tapes}
    tape = planned.get(frozenset((number, other)))
    if tape is None:
        pairs = ", ".join(f"{each.start} to {each.end}" for each in target.tapes)
        row.fault("to_station", f"no length is asked from {number} to {other}", f"measure {pairs}")
    elif (tape.start, tape.end) in tapes:
        first = tapes[tape.start, tape.end].line
        row.fault("tape_mm", "the length is there twice", f"keep this line or line {first}")
    elif abs(length / tape.length_mm - 1) > TAPE_PART:
        row.fault(
            "tape_mm",
            f"{short(length)} from {number} to {other}, where {tape.length_mm:.1f} mm are printed",
            "write millimetres, from cross to cross",
        )
    else:
        tapes[tape.start, tape.end] = TapeReading(
            start=tape.start, end=tape.end, length_mm=length, line=row.line
        )


def _cells(line: str, sign: str) -> tuple[str, ...]:
    """raises nothing: a quote that is never closed ends with the line."""
    try:
        return tuple(cell.strip() for cell in next(csv.reader([line], delimiter=sign)))
    except (csv.Error, StopIteration):
        return (line,)


def _other_columns(path: Path, line: int, columns: tuple[str, ...]) -> Fault:
    odd = [column for column in columns if column not in COLUMNS]
    missing = [column for column in COLUMNS if column not in columns]
    if odd:
        at = columns.index(odd[0]) + 1
        near = nearest(odd[0], list(COLUMNS))
        shown = odd[0] if len(odd[0]) <= 20 else odd[0][:20] + "…"
        return Fault(
            what=f"the table has no column {shown!r}",
            where=f"{path}, line {line}, column {at}",
            do=f"write {near}" if near else f"begin with the line {','.join(COLUMNS)}",
        )
    twice = "" if missing else "; each once"
    return Fault(
        what=f"the first line lacks {', '.join(missing)}" if missing else "a column stands twice",
        where=f"{path}, line {line}",
        do=f"begin with the line {','.join(COLUMNS)}{twice}",
    )


def _text(path: Path) -> str:
    try:
        with path.open("rb") as file:
            data = file.read(BYTES_MOST + 1)
        if len(data) > BYTES_MOST:
            raise Fault(
                what=f"the table is larger than {BYTES_MOST // 1000} kB",
                where=str(path),
                do="name the table that came with the target",
            )
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        start = data.rfind(b"\n", 0, error.start) + 1
        raise Fault(
            what=f"the table is not UTF-8 text: byte 0x{data[error.start]:02x}",
            where=f"{path}, line {line}, column {error.start - start + 1}",
            do="save it as CSV in UTF-8; a spreadsheet's own format cannot be read",
        ) from None
    except (OSError, ValueError) as error:
        raise Fault(
            what=f"{str(path)!r} cannot be read: {getattr(error, 'strerror', None) or error}",
            where=str(path),
            do="check the path and its permissions",
        ) from None
