"""Measured marks from a table: `frame,mark,x_mm,y_mm`, a line a mark, in any order.

Before the names a line `y=up` or `y=down` may say which way y counts (up where nothing is
said), and `sd_mm=0.05` how well a mark was read. `x_in`, `y_in` are inches. Spreadsheets that
write decimal commas part their columns by semicolons or tabs: both are read.
"""

import csv
import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite, sqrt
from pathlib import Path

import numpy as np

from nestplan.faults import Fault, raise_all
from nestplan.figures import fixed
from nestplan.fit.seen import Measured, Seen

INCH_MM = 25.4
FARTHEST_MM = 1e6  # a kilometre: no sheet is as long
ROWS_MOST = 20_000
SAME_MM = 1.0  # two readings of one mark may differ by so much; their mean is taken
FAULTS_MOST = 8
DO = "write a line `frame,mark,x_mm,y_mm` and below it a line for each mark"
SAYS = re.compile(r"#?\s*(y|sd_mm)\s*=\s*([^,;\t]*)[,;\t\s]*")
NAMES = {"frame", "mark", "x_mm", "y_mm", "x_in", "y_in"}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    line: int
    frame: int | None
    mark: int
    x_mm: float
    y_mm: float
    step_mm: float  # of the last digit written


def read_table(path: Path) -> Measured:
    """The marks of a CSV file, frame by frame. raises: Fault, Faults with the line."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise Fault(
            what="the measured marks cannot be read",
            where=f"{path}: {error.strerror or error}",
            do="name a CSV file, or a scan as PNG, JPEG or TIFF",
        ) from error
    lines = _text(data, path).splitlines()
    if len(lines) > ROWS_MOST:
        raise Fault(
            what=f"the table has {len(lines)} lines, at most {ROWS_MOST} are read",
            where=str(path),
            do="hand in the marks of one run only",
        )
    said, start = _said(lines, path)
    upward = said.get("y", "up") == "up"
    rows = _rows(lines, start, path)
    return Measured(
        name=path.name,
        kind="table",
        digest=hashlib.sha256(data).hexdigest(),
        upward=upward,
        declared="y" in said,
        sheets=tuple(
            _sheet([row for row in rows if row.frame == frame], frame, upward, said, path)
            for frame in sorted({row.frame for row in rows}, key=lambda f: (f is None, f))
        ),
    )


def _text(data: bytes, path: Path) -> str:
    for code in (
        ("utf-8-sig", "utf-16")
        if data[:2] in (b"\xff\xfe", b"\xfe\xff")
        else (
            "utf-8-sig",
            "cp1252",
        )
    ):
        try:
            text = data.decode(code)
        except UnicodeError:
            continue
        if "\0" not in text:
            return text
    raise Fault(
        what="this is no table: it holds bytes that are no text",
        where=str(path),
        do="save the marks as CSV; a scan must end in .png, .jpg or .tif",
    )


def _said(lines: Sequence[str], path: Path) -> tuple[dict[str, str], int]:
    """What the lines before the names say, and where the names stand."""
    said: dict[str, str] = {}
    for number, line in enumerate(lines, start=1):
        words = line.strip().strip('"').lower()
        if (match := SAYS.fullmatch(words)) is not None:
            _check_said(match[1], match[2].strip(), number, path)
            said[match[1]] = match[2].strip()
        elif words.strip(",;\t ") and not words.startswith("#"):
            return said, number - 1
    raise Fault(what="the table is empty", where=str(path), do=DO)


def _check_said(key: str, value: str, number: int, path: Path) -> None:
    if key == "y" and value not in ("up", "down"):
        raise Fault(
            what=f"y={value} says no direction",
            where=f"{path}, line {number}",
            do="write y=up where y grows away from you, y=down as on a screen",
        )
    if key == "sd_mm":
        sd = _number(value)
        if sd is None or not 0 < sd <= 5:
            raise Fault(
                what=f"sd_mm={value} is no standard deviation of a reading",
                where=f"{path}, line {number}",
                do="write millimetres over 0 and at most 5, such as sd_mm=0.05",
            )


def _rows(lines: Sequence[str], start: int, path: Path) -> list[_Row]:
    """Every line below the names."""
    comma = max(",;\t", key=lines[start].count)
    names = [cell.strip().lower() for cell in next(csv.reader([lines[start]], delimiter=comma))]
    while names and not names[-1]:
        names.pop()
    unit = _unit(names, f"{path}, line {start + 1}")
    place = {name: names.index(name) for name in names}
    rows: list[_Row] = []
    faults: list[Fault] = []
    for number in range(start + 1, len(lines)):
        cells = [cell.strip() for cell in next(csv.reader([lines[number]], delimiter=comma), [])]
        if not any(cells) or cells[0].startswith("#"):
            continue
        where = f"{path}, line {number + 1}"
        made = _row(cells, place, unit, number + 1, where, commas=comma != ",")
        if isinstance(made, Fault):
            faults.append(made)
        else:
            rows.append(made)
    raise_all(faults[:FAULTS_MOST])
    if not rows:
        raise Fault(what="the table holds no mark", where=str(path), do=DO)
    return rows


def _unit(names: Sequence[str], where: str) -> str:
    """mm or in. raises: Fault where names are missing, unknown, double or mixed."""
    strange = [name for name in names if name not in NAMES]
    double = sorted({name for name in names if names.count(name) > 1})
    if {"x_mm", "x_in"} & set(names) and {"y_mm", "y_in"} & set(names) and not strange + double:
        mm, inches = {"x_mm", "y_mm"} & set(names), {"x_in", "y_in"} & set(names)
        if mm and inches:
            raise Fault(
                what="the columns mix millimetres and inches",
                where=where,
                do="write x_mm and y_mm, or x_in and y_in",
            )
        return "mm" if mm else "in"
    found = ", ".join(strange or double or names)
    what = (
        f"not known as a column: {found}"
        if strange
        else f"the column {found} is there twice"
        if double
        else f"the names of the columns are not there: {found}"
    )
    raise Fault(what=what, where=where, do=DO)


def _row(
    cells: Sequence[str], place: dict[str, int], unit: str, line: int, where: str, *, commas: bool
) -> _Row | Fault:
    got: dict[str, str] = {name: cells[at] if at < len(cells) else "" for name, at in place.items()}
    numbers = {}
    for name in ("frame", "mark"):
        text = got.get(name, "")
        if text and not (text.isascii() and text.isdigit() and 1 <= int(text[:9]) <= 10**6):
            return Fault(
                what=f"{name} {text!r} is no number from 1",
                where=where,
                do="write the number that the proof's mark table has, or leave the cell empty",
            )
        numbers[name] = int(text) if text else 0
    sizes = []
    factor = INCH_MM if unit == "in" else 1.0
    for axis in ("x", "y"):
        name = f"{axis}_{unit}"
        text = got[name].replace(",", ".") if commas else got[name]
        value = _number(text)
        if value is None:
            found = repr(got[name]) if got[name] else "nothing"
            do = f"write a plain number in {unit}, or leave out the line of a mark not measured"
            return Fault(what=f"{name} is {found}, no number", where=where, do=do)
        if abs(value) * factor > FARTHEST_MM:
            return Fault(
                what=f"{name} is {value:g}, farther off than any film is long",
                where=where,
                do="write millimetres, or inches under x_in and y_in",
            )
        sizes.append((value * factor, 10.0 ** -_decimals(text) * factor))
    return _Row(
        line=line,
        frame=numbers["frame"] or None,
        mark=numbers["mark"],
        x_mm=sizes[0][0],
        y_mm=sizes[1][0],
        step_mm=min(sizes[0][1], sizes[1][1]),
    )


def _number(text: str) -> float | None:
    try:
        value = float(text) if "_" not in text else float("nan")
    except ValueError:
        return None
    return value if isfinite(value) else None


def _decimals(text: str) -> int:
    return len(text.lower().split("e")[0].partition(".")[2])


def _sheet(
    rows: Sequence[_Row], frame: int | None, upward: bool, said: dict[str, str], path: Path
) -> Seen:
    """One frame's marks; what was measured twice is brought to its mean."""
    kept: dict[int, list[_Row]] = {}
    for row in rows:
        kept.setdefault(row.mark or -row.line, []).append(row)
    faults, points = [], []
    for same in kept.values():
        xy = np.array([(row.x_mm, row.y_mm) for row in same])
        if np.ptp(xy, axis=0).max() > SAME_MM:
            lines = " and ".join(str(row.line) for row in same[:2])
            apart = fixed(float(np.hypot(*np.ptp(xy, axis=0))), 1)
            faults.append(
                Fault(
                    what=f"mark {same[0].mark} was measured twice, {apart} mm apart",
                    where=f"{path}, lines {lines}",
                    do="measure it again, and leave the wrong line out",
                )
            )
        points.append(xy.mean(axis=0))
    raise_all(faults[:FAULTS_MOST])
    step = min(row.step_mm for row in rows)
    return Seen(
        points_mm=np.array(points) * (1.0, 1.0 if upward else -1.0),
        frame=frame,
        marks=np.array([max(key, 0) for key in kept], dtype=np.intp),
        sd_mm=float(said["sd_mm"]) if "sd_mm" in said else None,
        rounding_mm=step / sqrt(12),
    )
