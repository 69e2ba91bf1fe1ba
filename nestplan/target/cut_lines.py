"""The target's cut layer: slits and marks as the frame SVGs of a plan have them.

One unit is one millimetre, nothing is transformed. Slits are open paths: the knife goes down,
once along, and up; row by row, so that the web moves little.
"""

import numpy as np
import svgwrite

from nestplan.files.cut_svg import KISS, MARKS, STROKE_MM
from nestplan.files.turn_over import turned_over
from nestplan.target.layout import Station, Target
from nestplan.target.station import Segment, cut

DECIMALS = 4


def cut_lines(target: Target) -> bytes:
    """The SVG in UTF-8. Group `kiss`: a path a slit with `data-station`; `marks` as in a plan."""
    width, length = _text(target.equipment.roll.width_mm), _text(target.length_mm)
    drawing = svgwrite.Drawing(
        size=(f"{width}mm", f"{length}mm"), viewBox=f"0 0 {width} {length}", debug=False
    )
    drawing.set_desc(
        title=f"target {target.code}: cut",
        desc="One unit is one millimetre. x: from the left edge of the film. "
        "y: down from the trailing end; the leading edge is at the bottom. Kiss cut: the film, "
        "not the liner.",
    )
    kiss = drawing.g(id="kiss", fill="none", stroke=KISS, stroke_width=STROKE_MM)
    for station in _row_by_row(target):
        for slit in cut():
            path = drawing.path(d=_path(target, station, slit))
            path.attribs["data-station"] = str(station.number)
            kiss.add(path)
    marks = drawing.g(id="marks", fill="none", stroke=MARKS, stroke_width=STROKE_MM)
    for mark in target.marks:
        rings = target.outline.moved(mark.x_mm, mark.y_mm).rings
        said = " ".join(f"{_moved(target, ring)} Z" for ring in rings)
        path = drawing.path(d=said)
        path.attribs["data-mark"] = str(mark.number)
        marks.add(path)
    drawing.add(kiss)
    drawing.add(marks)
    body = drawing.tostring().replace("><", ">\n<")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n'.encode()


def _row_by_row(target: Target) -> list[Station]:
    """There and back: the row that enters the cutter first, first."""
    rows: dict[float, list[Station]] = {}
    for station in target.stations:
        rows.setdefault(station.y_mm, []).append(station)
    order = sorted(rows, reverse=target.equipment.setup.enters == "trailing")
    return [
        station
        for k, y in enumerate(order)
        for station in (rows[y] if k % 2 == 0 else reversed(rows[y]))
    ]


def _path(target: Target, station: Station, slit: Segment) -> str:
    return _moved(target, np.array(slit) + (station.x_mm, station.y_mm))


def _moved(target: Target, points: np.ndarray) -> str:
    at = [f"{_text(x)} {_text(y)}" for x, y in turned_over(points, target).tolist()]
    return f"M{' L'.join(at)}"


def _text(mm: float) -> str:
    return f"{mm:z.{DECIMALS}f}".rstrip("0").rstrip(".")
