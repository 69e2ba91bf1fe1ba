"""The rows of a numbered decal: a CSV file becomes columns and values, or faults with lines.

UTF-8, with or without a mark at its head; the first line names the columns. Spreadsheets
part columns by comma, semicolon or tab as their country has it: the head tells which.
"""

import csv
import io
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

from nestplan.faults import Fault, Note, raise_all
from nestplan.figures import count
from nestplan.job.job_file import QUANTITY_MOST
from nestplan.job.nearest import nearest

PARTED_BY = ",;\t"
VALUE_MOST = 200  # characters of one value
LISTED_MOST = 6  # lines named in a fault


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Values by line of the file. lines: (n,) the line each row ends on, from 1."""

    source: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...]
    notes: tuple[Note, ...] = ()

    def values(self, named: Sequence[tuple[str, str]]) -> list[tuple[tuple[str, str], ...]]:
        """What each row has in these columns. named: columns, each with where it is asked for.

        raises: Faults for columns that are missing, values that are empty.
        """
        faults = [self._no_column(*each) for each in named if each[0] not in self.columns]
        raise_all(faults)
        columns = list(dict.fromkeys(column for column, _ in named))
        at = [self.columns.index(column) for column in columns]
        for column, k in zip(columns, at, strict=True):
            empty = [n for n, row in zip(self.lines, self.rows, strict=True) if not row[k]]
            if empty:
                faults.append(
                    Fault(
                        what=f"the column {column!r} is empty in {listed(empty)}",
                        where=self.source,
                        do="fill it in, or delete those lines: a copy without its text is waste",
                    )
                )
        raise_all(faults)
        return [tuple((self.columns[k], row[k]) for k in at) for row in self.rows]

    def twice(self, values: Sequence[tuple[tuple[str, str], ...]]) -> list[Note]:
        """Rows that would print the same."""
        first: dict[tuple[tuple[str, str], ...], int] = {}
        again = []
        for line, each in zip(self.lines, values, strict=True):
            if each in first:
                words = ", ".join(value for _, value in each)
                again.append(f"{words} (lines {first[each]} and {line})")
            first.setdefault(each, line)
        if not again:
            return []
        more = f" and {len(again) - LISTED_MOST} more" if len(again) > LISTED_MOST else ""
        text = f"rows that say the same: {'; '.join(again[:LISTED_MOST])}{more}"
        return [Note(level="look", where=self.source, text=text)]

    def _no_column(self, column: str, where: str) -> Fault:
        near = nearest(column, self.columns)
        hint = f"; the nearest is {near}" if near else ""
        return Fault(
            what=f"{self.source} has no column {column!r}",
            where=where,
            do=f"name one of {', '.join(self.columns[:12])}{hint}",
        )


def listed(lines: Sequence[int]) -> str:
    """line 3; lines 3, 4 and 12 more."""
    words = ", ".join(str(line) for line in lines[:LISTED_MOST])
    more = f" and {len(lines) - LISTED_MOST} more" if len(lines) > LISTED_MOST else ""
    return f"line{'s' if len(lines) > 1 else ''} {words}{more}"


def read_table(data: bytes, source: str) -> Table:
    """The rows of a CSV file. raises: Fault, Faults."""
    text = _text(data, source)
    head, _, _ = text.partition("\n")
    parted_by = max(PARTED_BY, key=head.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=parted_by, strict=True)
    columns: tuple[str, ...] = ()
    rows, lines, blank, faults = [], [], [], []
    try:
        for cells in reader:
            row = tuple(cell.strip() for cell in cells)
            if not any(row):
                blank.append(reader.line_num)
            elif not columns:
                columns = row
            else:
                faults += _wrong_row(row, columns, source, reader.line_num)
                rows.append(row)
                lines.append(reader.line_num)
            if len(rows) > QUANTITY_MOST or len(faults) >= LISTED_MOST:
                break
    except csv.Error as error:
        raise Fault(
            what=f"the file is not CSV: {error}",
            where=f"{source}, line {reader.line_num}",
            do="save it again as CSV, UTF-8; a quotation mark in a value is written twice",
        ) from None
    raise_all([*_wrong_head(columns, source), *faults])
    if not rows or len(rows) > QUANTITY_MOST:
        raise Fault(
            what="the file has no row below its head"
            if not rows
            else f"the file has more than {QUANTITY_MOST} rows",
            where=source,
            do="write one line a copy below the line with the columns' names",
        )
    inner = [line for line in blank if line < lines[-1]]
    notes = [Note(level="look", where=source, text=f"{listed(inner)} blank: no copy is made of it")]
    return Table(
        source=source,
        columns=columns,
        rows=tuple(rows),
        lines=tuple(lines),
        notes=tuple(notes if inner else ()),
    )


def _text(data: bytes, source: str) -> str:
    """raises: Fault where it is not UTF-8, or no text at all."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise Fault(
            what="the file is not UTF-8",
            where=f"{source}, line {data.count(10, 0, error.start) + 1}",
            do="save it as CSV, UTF-8: in another coding accents and Greek come out wrong",
        ) from None
    if "\0" in text:
        raise Fault(what="the file is no text", where=source, do="save it as CSV, UTF-8")
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _wrong_head(columns: tuple[str, ...], source: str) -> list[Fault]:
    where, faults = f"{source}, its first line", []
    twice = sorted({name for name in columns if name and columns.count(name) > 1})
    if twice:
        what = f"two columns are called {twice[0]!r}"
        faults.append(Fault(what=what, where=where, do="give every column its own name"))
    if columns and not all(columns):
        what = f"column {columns.index('') + 1} has no name"
        faults.append(Fault(what=what, where=where, do="name it, or delete the column"))
    if not columns:
        what = "the file names no columns"
        faults.append(Fault(what=what, where=where, do="write the columns' names, then the rows"))
    return faults


def _wrong_row(
    row: tuple[str, ...], columns: tuple[str, ...], source: str, line: int
) -> list[Fault]:
    where = f"{source}, line {line}"
    if len(row) != len(columns):
        return [
            Fault(
                what=f"this row has {count(len(row), 'value')}, the head has "
                f"{count(len(columns), 'column')}",
                where=where,
                do="write a value a column; one that holds a comma or semicolon stands in quotes",
            )
        ]
    for name, value in zip(columns, row, strict=True):
        if len(value) > VALUE_MOST:
            what = f"{name} is {len(value)} characters long"
            return [Fault(what=what, where=where, do=f"write {VALUE_MOST} at most")]
        if any(
            unicodedata.category(sign) in ("Cc", "Cf", "Co", "Cs", "Zl", "Zp") for sign in value
        ):
            what = f"{name} has signs that do not print, such as the end of a line"
            return [Fault(what=what, where=where, do="write the value in one line of plain text")]
    return []
