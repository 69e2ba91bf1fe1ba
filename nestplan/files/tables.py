"""The summary as tables for a spreadsheet, and the marks as a table to be filled in.

Comma-separated values after RFC 4180. A table with letters beyond ASCII begins with a byte
order mark, without which spreadsheets take its names for another alphabet. A name that a
spreadsheet would take for a formula gets an apostrophe before it.
"""

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

Row = Sequence[Any]

MARKS = "marks.csv"
FORMULA = ("=", "+", "-", "@", "\t", "\r")
FIGURES = (  # of the summary: part and key; the unit is the key's ending
    ("roll", "length_used_mm"),
    ("roll", "area_used_m2"),
    ("nest", "length_mm"),
    ("nest", "bound_mm"),
    ("nest", "gap_percent"),
    ("nest", "copies"),
    ("nest", "frames"),
    ("nest", "used_percent"),
    ("nest", "waste_percent"),
    ("marks", "error_p95_mm"),
    ("marks", "error_worst_mm"),
    ("marks", "bleed_least_mm"),
    ("cut", "contours"),
    ("cut", "length_mm"),
    ("cut", "travel_mm"),
    ("cut", "time_s"),
    ("print", "time_s"),
    ("cost", "film"),
    ("cost", "ink"),
    ("cost", "labour"),
    ("cost", "machine"),
    ("cost", "total"),
    ("cost", "per_decal"),
)


def tables(said: Mapping[str, Any]) -> dict[str, bytes]:
    """All tables by file name. said: the summary's contents.

    decals, frames and placements have a line each; setups a line a setup; figures a line a
    figure with its unit. marks.csv is what measured marks are read from: its first line says
    that y counts up, and a person writes what was measured over x_mm and y_mm.
    """
    return {
        MARKS: csv_bytes([["y=up"], ["frame", "mark", "x_mm", "y_mm"], *_marks(said)]),
        "decals.csv": csv_bytes(_decals(said)),
        "frames.csv": csv_bytes(_frames(said)),
        "placements.csv": csv_bytes(_placements(said)),
        "setups.csv": csv_bytes(_setups(said)),
        "figures.csv": csv_bytes(_figures(said)),
    }


def _marks(said: Mapping[str, Any]) -> Iterable[Row]:
    for frame in said["frames"]:
        for mark in frame["marks"]:
            yield frame["index"], mark["mark"], _text(mark["x_mm"]), _text(mark["y_mm"])


def _decals(said: Mapping[str, Any]) -> Iterable[Row]:
    keys = ("ordered", "planned", "width_mm", "height_mm", "area_mm2", "cut", "bleed_mm")
    yield "decal", "name", *keys, "price", "currency"
    prices, currency = said["cost"]["per_decal_by_name"], said["cost"]["currency"]
    for number, decal in enumerate(said["decals"], start=1):
        figures = [_text(decal[key]) for key in keys]
        yield number, no_formula(decal["name"]), *figures, prices.get(decal["name"], ""), currency


def _frames(said: Mapping[str, Any]) -> Iterable[Row]:
    yield "frame", "y0_mm", "length_mm", "marks", "copies"
    for frame in said["frames"]:
        sizes = _text(frame["y0_mm"]), _text(frame["length_mm"])
        yield frame["index"], *sizes, len(frame["marks"]), len(frame["placements"])


def _placements(said: Mapping[str, Any]) -> Iterable[Row]:
    keys = ("x_mm", "y_mm", "angle_deg", "mirrored", "error_p95_mm")
    yield "frame", "decal", "name", "copy", *keys, "row"
    names = [no_formula(decal["name"]) for decal in said["decals"]]
    for frame in said["frames"]:
        for place in frame["placements"]:
            number = place["decal"]
            figures = [_text(place[key]) for key in keys]
            yield (
                frame["index"],
                number,
                names[number - 1],
                place["copy"],
                *figures,
                place.get("row", ""),
            )


def _setups(said: Mapping[str, Any]) -> Iterable[Row]:
    keys = ("print_s", "handling_s", "lag_s", "cut_s", "one_run_s", "runs_per_shift")
    yield "setup", *keys
    for name, setup in said["setups"].items():
        yield no_formula(name), *(_text(setup[key]) for key in keys)


def _figures(said: Mapping[str, Any]) -> Iterable[Row]:
    yield "figure", "value", "unit"
    for part, key in FIGURES:
        unit = said["cost"]["currency"] if part == "cost" else _unit(key)
        yield f"{part}.{key}", _text(said[part][key]), unit


def _unit(key: str) -> str:
    ending = key.rpartition("_")[2]
    return {"percent": "%", "mm": "mm", "m2": "m2", "s": "s"}.get(ending, "")


def no_formula(text: str) -> str:
    """The text, never to be taken for a formula."""
    return f"'{text}" if text.startswith(FORMULA) else text


def _text(value: Any) -> str:
    """A figure as the summary has it, never with an exponent; yes and no in words."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.9f}".rstrip("0").rstrip(".")
    return str(value)


def csv_bytes(rows: Iterable[Row]) -> bytes:
    """A table as the bytes of a file, its lines ended as RFC 4180 has it."""
    held = io.StringIO(newline="")
    csv.writer(held, lineterminator="\r\n").writerows(rows)
    text = held.getvalue()
    return text.encode("ascii") if text.isascii() else text.encode("utf-8-sig")
