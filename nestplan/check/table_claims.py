"""The tables against the summary: a spreadsheet that says otherwise is believed, so it is read."""

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.folder import TABLES
from nestplan.check.said import Said
from nestplan.figures import count

NEAR = 1e-6  # of a figure: tables are written as finely as the summary
Rows = list[list[Any]]


def table_claims(said: Said, files: Mapping[str, bytes]) -> list[Claim]:
    """Every line and every figure of every table that is there."""
    against: list[Finding] = []
    there = [name for name in TABLES if name in files]
    for name in there:
        head, rows, keys = _meant(said, name)
        against += _table(name, files[name], head, rows, keys)
    if not there:
        return []
    return [
        Claim(
            says=f"{count(len(there), 'table')} say what the summary says", against=tuple(against)
        )
    ]


def _meant(said: Said, name: str) -> tuple[list[list[str]], Rows, int]:
    """Head lines, rows, and how many leading cells name a row's element."""
    match name:
        case "marks.csv":
            head = [["y=up"], ["frame", "mark", "x_mm", "y_mm"]]
            return (
                head,
                [[f.index, m.mark, m.x_mm, m.y_mm] for f in said.frames for m in f.marks],
                2,
            )
        case "decals.csv":
            return [_DECALS], list(_decals(said)), 2
        case "frames.csv":
            rows: Rows = [
                [f.index, f.y0_mm, f.length_mm, len(f.marks), len(f.placements)]
                for f in said.frames
            ]
            return [["frame", "y0_mm", "length_mm", "marks", "copies"]], rows, 1
        case "placements.csv":
            return [_PLACEMENTS], list(_placements(said)), 4
        case "setups.csv":
            rows = [
                [
                    _plain(each),
                    setup.print_s,
                    setup.handling_s,
                    setup.lag_s,
                    setup.cut_s,
                    setup.one_run_s,
                    setup.runs_per_shift,
                ]
                for each, setup in said.setups.items()
            ]
            return [_SETUPS], rows, 1
        case _:
            return [["figure", "value", "unit"]], list(_figures(said)), 1


_SIZES = ["width_mm", "height_mm", "area_mm2", "cut", "bleed_mm"]
_DECALS = ["decal", "name", "ordered", "planned", *_SIZES, "price", "currency"]
_PLACE = ["x_mm", "y_mm", "angle_deg", "mirrored", "error_p95_mm"]
_PLACEMENTS = ["frame", "decal", "name", "copy", *_PLACE, "row"]
_SETUPS = ["setup", "print_s", "handling_s", "lag_s", "cut_s", "one_run_s", "runs_per_shift"]


def _marks(said: Said) -> Iterator[list[Any]]:
    for frame in said.frames:
        for mark in frame.marks:
            yield [frame.index, mark.mark, mark.x_mm, mark.y_mm]


def _decals(said: Said) -> Iterator[list[Any]]:
    for number, d in enumerate(said.decals, start=1):
        price = said.cost.per_decal_by_name.get(d.name, "")
        sizes = [d.width_mm, d.height_mm, d.area_mm2, d.cut, d.bleed_mm]
        yield [number, _plain(d.name), d.ordered, d.planned, *sizes, price, said.cost.currency]


def _placements(said: Said) -> Iterator[list[Any]]:
    for frame in said.frames:
        for p in frame.placements:
            name = _plain(said.decals[p.decal - 1].name)
            mirrored = "yes" if p.mirrored else "no"
            figures = [p.x_mm, p.y_mm, p.angle_deg, mirrored, p.error_p95_mm]
            row = "" if p.row is None else p.row
            yield [frame.index, p.decal, name, p.copy_, *figures, row]


def _figures(said: Said) -> Iterator[list[Any]]:
    parts = {
        "roll": ("length_used_mm", "area_used_m2"),
        "nest": (
            "length_mm",
            "bound_mm",
            "gap_percent",
            "copies",
            "frames",
            "used_percent",
            "waste_percent",
        ),
        "marks": ("error_p95_mm", "error_worst_mm", "bleed_least_mm"),
        "cut": ("contours", "length_mm", "travel_mm", "time_s"),
        "print": ("time_s",),
        "cost": ("film", "ink", "labour", "machine", "total", "per_decal"),
    }
    units = {"mm": "mm", "percent": "%", "m2": "m2", "s": "s"}
    for part, keys in parts.items():
        for key in keys:
            unit = said.cost.currency if part == "cost" else units.get(key.split("_")[-1], "")
            yield [f"{part}.{key}", getattr(getattr(said, part), key), unit]


def _table(
    name: str, data: bytes, head: Sequence[list[str]], meant: Rows, keys: int
) -> list[Finding]:
    try:
        rows = list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline=""), strict=True))
    except (UnicodeDecodeError, csv.Error) as error:
        return [_finding(Kind.FILE_BROKEN, name, str(error), "comma-separated values")]
    if rows[: len(head)] != list(head):
        first = ",".join(rows[0][:12]) if rows else "nothing"
        return [_finding(Kind.TABLE_WRONG, f"{name}, head", first[:80], ",".join(head[-1]))]
    names = head[-1]
    against = []
    left = {tuple(map(_text, row[:keys])): row for row in meant}
    for line, row in enumerate(rows[len(head) :], start=len(head) + 1):
        wanted = left.pop(tuple(row[:keys]), None)
        if wanted is None:
            text = ", ".join(row[:keys])[:80] or "an empty line"
            against.append(_finding(Kind.TABLE_WRONG, f"{name}, line {line}", text, "no such line"))
            continue
        for column, (got, value) in enumerate(zip(row[keys:], wanted[keys:], strict=False), keys):
            if not _same(got, value):
                where = f"{name}, line {line}, {_who(names, wanted, keys)}, {names[column]}"
                against.append(_finding(Kind.TABLE_WRONG, where, got[:40], _text(value)))
        if len(row) != len(wanted):
            cells, many = count(len(row), "cell"), str(len(wanted))
            against.append(_finding(Kind.TABLE_WRONG, f"{name}, line {line}", cells, many))
    for lost in left.values():
        where = f"{name}, {_who(names, lost, keys)}"
        against.append(_finding(Kind.TABLE_WRONG, where, "no line", "a line"))
    return against


def _who(names: Sequence[str], row: Sequence[Any], keys: int) -> str:
    """The element a row is about, as other findings call it."""
    cells = dict(zip(names, row[:keys], strict=False))
    if "copy" in cells:
        return f"{cells['name']}, copy {cells['copy']}"
    if "mark" in cells:
        return f"frame {cells['frame']}, mark {cells['mark']}"
    if "name" in cells:
        return str(cells["name"])
    if "frame" in cells:
        return f"frame {cells['frame']}"
    return str(row[0])


def _same(got: str, meant: Any) -> bool:
    if isinstance(meant, str):
        return got == meant
    try:
        return abs(float(got) - float(meant)) <= NEAR * max(1.0, abs(float(meant)))
    except ValueError:
        return False


def _text(value: Any) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _plain(name: str) -> str:
    """A name that a spreadsheet would take for a formula has an apostrophe before it."""
    return f"'{name}" if name[:1] in ("=", "+", "-", "@", "\t", "\r") else name


def _finding(kind: Kind, where: str, found: str, meant: str) -> Finding:
    return Finding(kind=kind, where=where, found=found, meant=meant)
