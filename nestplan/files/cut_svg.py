"""The cut layer of one frame: what the cutter's own software opens.

One unit is one millimetre and nothing is transformed, so a path's numbers are the
places on the film. Strokes only: a fill could be taken for a pocket to be cleared.
The colours are ours and mean nothing to any machine; blue and orange are told apart
by everybody, colour-blind readers included.
"""

from collections.abc import Iterable

import numpy as np
import svgwrite
from numpy.typing import NDArray

from nestplan.cut import CutStroke
from nestplan.files.one_line import one_line
from nestplan.files.run import Run
from nestplan.files.turn_over import turned_over
from nestplan.marks import Frame

STROKE_MM = 0.2  # seen at arm's length on a screen, thin beside any gutter
KISS, WEED, THROUGH, MARKS = "#1769aa", "#7b3fa0", "#c85a00", "#222222"
DECIMALS = 4  # 0.0001 mm, a hundredth of what a knife can step


def cut_svg_name(index: int) -> str:
    """File name of a frame's cut layer; index from 1."""
    return f"cut-{index:02d}.svg"


def cut_svg(run: Run, frame: Frame) -> bytes:
    """The strokes of a frame in cutting order, and its marks, as SVG in UTF-8.

    Width is the film's, height the frame's. Groups `kiss`, `through` and `marks` are always
    there, `weed` where there are weed lines; each holds one path a stroke (or a mark), with
    `data-decal` (from 1, in the job's order) and `data-copy`, or `data-mark`, as the summary
    numbers them. A ring is a closed path; what is part of a contour, or more than once round
    it, is an open one with `data-part="piece"`. Weed lines belong to no copy.
    """
    width, length = _text(run.job.roll.width_mm), _text(frame.length_mm)
    drawing = svgwrite.Drawing(
        size=(f"{width}mm", f"{length}mm"),
        viewBox=f"0 0 {width} {length}",
        debug=False,
    )
    which = f"frame {frame.index} of {len(run.marks.frames)}"
    drawing.set_desc(
        title=f"{one_line(run.job.order.name)}, {which}: cut",
        desc="One unit is one millimetre. x: from the left edge of the film. "
        "y: down from the trailing end of the frame; the leading edge is at the bottom.",
    )
    strokes = run.cut.frames[frame.index - 1].strokes
    for name, colour in (("kiss", KISS), ("weed", WEED), ("through", THROUGH)):
        paths = [_path(drawing, stroke, frame) for stroke in strokes if stroke.kind == name]
        if paths or name != "weed":
            drawing.add(_group(drawing, name, colour, paths))
    marks = _marks(drawing, run, frame)
    drawing.add(_group(drawing, "marks", MARKS, marks))
    body = drawing.tostring().replace("><", ">\n<")  # a line a path: a person can read it
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n'.encode()


def _group(
    drawing: svgwrite.Drawing, name: str, colour: str, paths: Iterable[svgwrite.path.Path]
) -> svgwrite.container.Group:
    group = drawing.g(
        id=name, fill="none", stroke=colour, stroke_width=STROKE_MM, stroke_linejoin="round"
    )
    for path in paths:
        group.add(path)
    return group


def _path(drawing: svgwrite.Drawing, stroke: CutStroke, frame: Frame) -> svgwrite.path.Path:
    data = _closed([turned_over(stroke.points_mm, frame)])
    path = drawing.path(d=data if stroke.closed else data.removesuffix(" Z"))
    if stroke.kind != "weed":
        path.attribs["data-decal"] = str(stroke.decal + 1)
        path.attribs["data-copy"] = str(stroke.copy)
    if stroke.is_piece:
        path.attribs["data-part"] = "piece"
    return path


def _marks(drawing: svgwrite.Drawing, run: Run, frame: Frame) -> list[svgwrite.path.Path]:
    paths = []
    for mark in frame.marks:
        rings = run.marks.outline.moved(mark.x_mm, mark.y_mm).rings
        path = drawing.path(d=_closed([turned_over(ring, frame) for ring in rings]))
        path.attribs["data-mark"] = str(mark.number)
        paths.append(path)
    return paths


def _closed(rings: Iterable[NDArray[np.float64]]) -> str:
    """Path data of rings (n, 2), each closed back to its first point."""
    said = []
    for ring in rings:
        points = [f"{_text(x)} {_text(y)}" for x, y in ring.tolist()]
        said.append(f"M{' L'.join(points)} Z")
    return " ".join(said)


def _text(mm: float) -> str:
    """A number with no more decimals than it needs, never an exponent, never -0."""
    return f"{mm:z.{DECIMALS}f}".rstrip("0").rstrip(".")
