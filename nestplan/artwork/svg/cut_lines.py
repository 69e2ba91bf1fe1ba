"""Which shapes of a drawing draw its cut line: those of a layer, or of a stroke's colour."""

import difflib

import shapely

from nestplan.artwork.art import upright
from nestplan.artwork.rule import Rule
from nestplan.artwork.svg.drawing import Drawing, Shape
from nestplan.artwork.svg.paint import clip_region
from nestplan.artwork.svg.units import MM_PER_PX
from nestplan.faults import Fault
from nestplan.geometry.outline import FLATTEN_MM

LISTED_MOST = 12


def cut_lines(drawing: Drawing, rule: Rule) -> list[Shape]:
    """The shapes that draw the cut line. raises: Fault with what the art has instead."""
    if rule.kind == "layer":
        drawn = [s for s in drawing.shapes if rule.name in s.names]
    else:
        drawn = [s for s in drawing.shapes if stroke_rgb(s) == rule.rgb]
    found = [shape for shape in drawn if not shape.hidden]
    if drawn and not found:
        raise Fault(
            what=f"what {rule.text} names is hidden in the art",
            where=drawn[0].where,
            do="make it visible; the cut line is taken out of the print anyway",
        )
    if not found:
        raise _no_lines(drawing, rule)
    for shape in found:
        _refuse_clipped(shape)
    return found


def _no_lines(drawing: Drawing, rule: Rule) -> Fault:
    """Say which names or colours there are, the nearest first."""
    if rule.kind == "layer":
        names = {name for shape in drawing.shapes for name in shape.names}
        what = f"the art has no layer named {rule.name!r}"
        kind, wanted = "names of its groups and shapes", rule.name
    else:
        names = {_hex(rgb) for s in drawing.shapes if (rgb := stroke_rgb(s)) is not None}
        what = f"no line of the art has the stroke colour {_hex(rule.rgb)}"
        kind, wanted = "stroke colours", _hex(rule.rgb)
    near = difflib.get_close_matches(wanted, sorted(names), n=1)
    listed = [*near, *sorted(names - set(near))]
    more = f" and {len(listed) - LISTED_MOST} more" if len(listed) > LISTED_MOST else ""
    do = f"name one that it has: {', '.join(listed[:LISTED_MOST])}{more}"
    if not listed:
        do = "it has none at all: draw the cut line, or take contour = 'outline' or 'page'"
    return Fault(what=what, where=f"{drawing.source}, {kind}", do=do)


def _refuse_clipped(shape: Shape) -> None:
    """A cut line that a clip hides in part is cut whole: not what anybody sees."""
    own_mm = upright(MM_PER_PX)
    line = shapely.MultiLineString(
        [
            points
            for run in shape.path
            if len(points := run.mapped(own_mm @ shape.matrix).flattened(FLATTEN_MM)) > 1
        ]
    )
    for clip in shape.clips:
        seen = shapely.buffer(clip_region(clip, own_mm, FLATTEN_MM), 2 * FLATTEN_MM)
        if not seen.covers(line):
            raise Fault(
                what="the cut line is hidden in part by a clip path or the frame of a symbol",
                where=shape.where,
                do="move the cut line out of the clipped group",
            )


def stroke_rgb(shape: Shape) -> tuple[int, int, int] | None:
    """The colour a shape is stroked with, seen or not."""
    return shape.style.stroke.rgb if shape.style.stroke is not None else None


def _hex(rgb: tuple[int, int, int]) -> str:
    return "#" + bytes(rgb).hex()
