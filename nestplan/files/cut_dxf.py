"""The cut layer of one frame as DXF, for cutters whose software opens no SVG.

One unit is one millimetre and the header says so. The origin is the film's left edge at the
frame's leading end; y counts along the feed, upward, as in every DXF. A layer for each kind
of cut and one for the marks; entities stand in cutting order. Which copy an entity belongs to
is kept as extended data of the application NESTPLAN, which other readers pass over.
"""

import io
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from nestplan.files.run import Run
from nestplan.geometry.arcs import Circle, bulges_of, circle_of, line_bulges
from nestplan.marks import Frame

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.entities.dxfentity import DXFEntity

VERSION = "R2000"  # the oldest that can say its unit and hold closed lines with arcs
APPLICATION = "NESTPLAN"
LAYERS = {"kiss": 5, "through": 30, "marks": 7}  # blue, orange, black on white: as in the SVG
EXTRA_LAYERS = {"weed": 200}  # violet; only where there are weed lines
DECIMALS = 4  # as in the SVG

Points = NDArray[np.float64]
Lines = Circle | tuple[tuple[float, float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DxfRing:
    """One line, mostly a closed ring.

    points_mm: (n, 2), x from the film's left edge, y from the frame's start. label: decal and
    copy, or the mark's number, each from 1; none for weed lines.
    """

    layer: str
    label: tuple[int, ...]
    points_mm: Points
    closed: bool = True


def cut_dxf_name(index: int) -> str:
    """File name of a frame's cut layer; index from 1."""
    return f"cut-{index:02d}.dxf"


def cut_dxf(run: Run, frame: Frame) -> bytes:
    """The strokes of a frame in cutting order, and its marks, as DXF."""
    shift = np.array([0.0, frame.y0_mm])
    rings = [
        DxfRing(
            layer=stroke.kind,
            label=() if stroke.kind == "weed" else (stroke.decal + 1, stroke.copy),
            points_mm=stroke.points_mm - shift,
            closed=stroke.closed,
        )
        for stroke in run.cut.frames[frame.index - 1].strokes
    ]
    for mark in frame.marks:
        outline = run.marks.outline.moved(mark.x_mm, mark.y_mm - frame.y0_mm)
        rings += [
            DxfRing(layer="marks", label=(mark.number,), points_mm=ring) for ring in outline.rings
        ]
    return dxf_bytes(rings, run.job.roll.width_mm, frame.length_mm)


def dxf_bytes(rings: Sequence[DxfRing], width_mm: float, length_mm: float) -> bytes:
    """A drawing of rings in their order; the same rings give the same bytes."""
    from ezdxf import units  # half a second that only writing needs
    from ezdxf.filemanagement import new

    with _nothing_of_the_clock():
        drawing = new(VERSION)
        drawing.units = units.MM
        drawing.header["$MEASUREMENT"] = 1
        drawing.header["$LIMMIN"] = (0.0, 0.0)
        drawing.header["$LIMMAX"] = (width_mm, length_mm)
        drawing.header["$EXTMIN"] = (0.0, 0.0, 0.0)
        drawing.header["$EXTMAX"] = (width_mm, length_mm, 0.0)
        drawing.appids.add(APPLICATION)
        for layer in dict.fromkeys([*LAYERS, *(ring.layer for ring in rings)]):
            drawing.layers.add(layer, color=(LAYERS | EXTRA_LAYERS).get(layer, 7))
        drawing.set_modelspace_vport(height=length_mm, center=(width_mm / 2, length_mm / 2))
        space = drawing.modelspace()
        space.reset_extents((0.0, 0.0, 0.0), (width_mm, length_mm, 0.0))
        space.reset_limits((0.0, 0.0), (width_mm, length_mm))
        for ring, lines in zip(rings, _arcs(rings), strict=True):
            _draw(drawing, ring, lines)
        held = io.StringIO(newline="\n")
        drawing.write(held)
    return held.getvalue().encode("ascii")


def _draw(drawing: "Drawing", ring: DxfRing, lines: Lines) -> None:
    space, looks = drawing.modelspace(), {"layer": ring.layer}
    entity: DXFEntity
    if isinstance(lines, Circle):
        centre = round(lines.x_mm, DECIMALS), round(lines.y_mm, DECIMALS)
        entity = space.add_circle(centre, round(lines.radius_mm, DECIMALS), dxfattribs=looks)
    else:
        rounded = [(round(x, DECIMALS), round(y, DECIMALS), round(b, 8)) for x, y, b in lines]
        entity = space.add_lwpolyline(rounded, format="xyb", close=ring.closed, dxfattribs=looks)
    if ring.label:
        entity.set_xdata(APPLICATION, [(1071, number) for number in ring.label])


def _arcs(rings: Sequence[DxfRing]) -> Iterable[Lines]:
    """Every ring as a circle or as lines and arcs; equal rings are looked at once."""
    known: dict[tuple[tuple[int, ...], bytes], list[tuple[int, float]] | None] = {}
    for ring in rings:
        points = ring.points_mm
        if not ring.closed:
            yield tuple((*points[at].tolist(), bulge) for at, bulge in line_bulges(points))
            continue
        steps = np.diff(np.vstack([points, points[:1]]), axis=0)
        across = steps[:, 0] * np.roll(steps[:, 1], -1) - steps[:, 1] * np.roll(steps[:, 0], -1)
        lengths = np.round(np.hypot(*steps.T), 5)
        # lengths and turns of a ring stay as they are where it is turned or moved
        key = ring.label[:1], lengths.tobytes() + np.round(across, 4).tobytes()
        if key not in known:
            known[key] = None if circle_of(points) else bulges_of(points)
        bulges = known[key]
        circle = circle_of(points) if bulges is None else None
        if circle is not None:
            yield circle
        else:
            kept = bulges_of(points) if bulges is None else bulges
            yield tuple((*points[at].tolist(), bulge) for at, bulge in kept)


@contextmanager
def _nothing_of_the_clock() -> Iterator[None]:
    """While a drawing is written: no dates, and identities that are always the same."""
    from ezdxf._options import options

    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before
