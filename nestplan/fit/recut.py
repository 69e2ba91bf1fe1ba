"""The plan's own cut file with every number moved to where the print is.

The cutter will read the marks and make its own fit of them. So the new file is the print as
it lies, less what that fit takes up by itself: marks and contours alike are carried back
through it. Nothing is corrected twice, and a cutter that corrects nothing gets the whole of it.
"""

from collections.abc import Callable
from functools import partial

import numpy as np
from lxml import etree
from numpy.typing import NDArray

from nestplan.check.path_data import rings_of
from nestplan.faults import Fault
from nestplan.files.cut_dxf import DxfRing, dxf_bytes
from nestplan.fit.maps import Map
from nestplan.fit.odds import Aim
from nestplan.fit.plan_folder import PlannedFrame

Array = NDArray[np.float64]

SVG = "{http://www.w3.org/2000/svg}"
DECIMALS = 4  # as the plan's own file
NO_JOINTS = np.zeros(0)
DESC = " Corrected to measured marks; the run card of fit.pdf says how the cutter reads them."


def recut(frame: PlannedFrame, aim: Aim, placed_mm: Array) -> bytes:
    """The corrected cut layer of a frame. placed_mm: (N, 2) its marks as printed."""
    assert aim.cut is not None, "what is not corrected needs no new file"
    root = etree.fromstring(frame.svg, etree.XMLParser(resolve_entities=False, no_network=True))
    moved = aim.own.back(placed_mm) - frame.marks_mm
    marks = dict(zip(frame.numbers.tolist(), moved, strict=True))
    for group in root.iter(f"{SVG}g"):
        for path in group.iter(f"{SVG}path"):
            if group.get("id") == "marks":
                by = marks[int(path.get("data-mark", "0"))] * (1.0, -1.0)
                path.set("d", _moved(path.get("d", ""), frame, partial(np.add, by)))
            else:
                path.set("d", _recut(path.get("d", ""), frame, aim.cut, aim.own))
    desc = root.find(f"{SVG}desc")
    if desc is not None:
        desc.text = (desc.text or "") + DESC
    body = etree.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n'.encode()


def as_dxf(frame: PlannedFrame, svg: bytes, width_mm: float) -> bytes:
    """A corrected cut layer as DXF. svg: the same layer; width_mm: of the film."""
    root = etree.fromstring(svg, etree.XMLParser(resolve_entities=False, no_network=True))
    rings = []
    for group in root.iter(f"{SVG}g"):
        for path in group.iter(f"{SVG}path"):
            keys = ("data-mark",) if group.get("id") == "marks" else ("data-decal", "data-copy")
            label = tuple(int(path.get(key, "0")) for key in keys if key in path.attrib)
            for ring, closed in rings_of(path.get("d", "")):
                upward = np.column_stack([ring[:, 0], frame.length_mm - ring[:, 1]])
                layer = group.get("id", "0")
                line = DxfRing(layer=layer, label=label, points_mm=upward, closed=closed)
                rings.append(line)
    return dxf_bytes(rings, width_mm, frame.length_mm)


def _recut(data: str, frame: PlannedFrame, cut: Map, own: Map) -> str:
    """A contour carried to where the print has it, less what the cutter does by itself."""

    def at(points: Array) -> Array:
        return _turned_over(own.back(cut.at(_turned_over(points, frame))), frame)

    joints = np.concatenate([cut.knots_mm, own.knots_mm])
    over = _turned_over(np.column_stack([np.zeros_like(joints), joints]), frame)[:, 1]
    return _moved(data, frame, at, over)


def _turned_over(points: Array, frame: PlannedFrame) -> Array:
    """From the sheet's y, down, to the run's, up; and back."""
    return np.column_stack([points[:, 0], frame.length_mm + frame.y0_mm - points[:, 1]])


def _moved(
    data: str, frame: PlannedFrame, at: Callable[[Array], Array], joints: Array = NO_JOINTS
) -> str:
    """Path data with every point moved."""
    try:
        rings = rings_of(data)
    except ValueError as error:
        raise Fault(
            what=f"a cut line cannot be followed: {error}",
            where=frame.cut_name,
            do="plan the job again",
        ) from error
    said = []
    for ring, closed in rings:
        points = at(_jointed(ring, closed, joints))
        words = " L".join(f"{_text(x)} {_text(y)}" for x, y in points.tolist())
        said.append(f"M{words}{' Z' if closed else ''}")
    return " ".join(said)


def _jointed(ring: Array, closed: bool, joints: Array) -> Array:
    """The line with a point wherever it crosses a joint of strips: it bends there."""
    if not len(joints):
        return ring
    points = []
    ends = np.roll(ring, -1, axis=0) if closed else ring[1:]
    for start, end in zip(ring[: len(ends)], ends, strict=True):
        points.append(start)
        low, high = sorted((start[1], end[1]))
        crossed = joints[(joints > low) & (joints < high)]
        shares = np.sort((crossed - start[1]) / (end[1] - start[1])) if len(crossed) else crossed
        points += [start + share * (end - start) for share in shares]
    return np.array(points if closed else [*points, ring[-1]])


def _text(mm: float) -> str:
    return f"{mm:z.{DECIMALS}f}".rstrip("0").rstrip(".")
