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

from nestplan.cut import CutRing
from nestplan.files.one_line import one_line
from nestplan.files.run import Run
from nestplan.files.turn_over import turned_over
from nestplan.marks import Frame

STROKE_MM = 0.2  # seen at arm's length on a screen, thin beside any gutter
KISS, THROUGH, MARKS = "#1769aa", "#c85a00", "#222222"
DECIMALS = 4  # 0.0001 mm, a hundredth of what a knife can step


def cut_svg_name(index: int) -> str:
    """File name of a frame's cut layer; index from 1."""
    return f"cut-{index:02d}.svg"


def cut_svg(run: Run, frame: Frame) -> bytes:
    """The rings of a frame in cutting order, and its marks, as SVG in UTF-8.

    Width is the film's, height the frame's. Groups `kiss`, `through` and `marks` are always
    there; each holds one closed path a ring (or a mark), with `data-decal` (from 1, in the
    job's order) and `data-copy`, or `data-mark`, as the summary numbers them.
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
    rings = run.cut.frames[frame.index - 1].rings
    kiss = [_ring(drawing, ring, frame) for ring in rings if ring.kind == "kiss"]
    through = [_ring(drawing, ring, frame) for ring in rings if ring.kind == "through"]
    marks = _marks(drawing, run, frame)
    for name, colour, paths in (("kiss", KISS, kiss), ("through", THROUGH, through)):
        drawing.add(_group(drawing, name, colour, paths))
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


def _ring(drawing: svgwrite.Drawing, ring: CutRing, frame: Frame) -> svgwrite.path.Path:
    path = drawing.path(d=_closed([turned_over(ring.points_mm, frame)]))
    path.attribs["data-decal"] = str(ring.decal + 1)
    path.attribs["data-copy"] = str(ring.copy)
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
