"""Where a drawing puts paint: the areas of fills and strokes, less what clips hide.

Fills follow their fill rule; strokes follow width, joins and caps in their own units, so
that a stretched shape has a stretched stroke (SVG 1.1, 11.3 and 11.4).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import sqrt
from typing import Literal

import numpy as np
import shapely

from nestplan.artwork.svg.clips import Clip
from nestplan.artwork.svg.drawing import Shape
from nestplan.artwork.svg.path import Path, SubPath, hull
from nestplan.artwork.svg.style import Style
from nestplan.artwork.svg.units import largest_scale
from nestplan.geometry.offset import quadrant_segments
from nestplan.geometry.polyline import Affine, Curve, Points, map_points, without_repeats

GROUNDS = 16  # shapes that are looked at before the rest, largest first


def painted_region(shapes: Sequence[Shape], to_mm: Affine, off_mm: float) -> shapely.Geometry:
    """The union of all paint of these shapes, in mm; curves within off_mm.

    The largest shapes come first: what lies wholly on them cannot change the union.
    """
    seen = [shape for shape in shapes if not (shape.hidden or shape.clear)]
    boxes = shapely.box(*np.array([reach_box(shape, to_mm) for shape in seen]).reshape(-1, 4).T)
    order = np.argsort(-shapely.area(boxes), kind="stable")
    clipped: dict[int, shapely.Geometry] = {}  # many shapes share one clip
    ground = _union([seen[k] for k in order[:GROUNDS]], to_mm, off_mm, clipped)
    shapely.prepare(ground)
    rest = [k for k in order[GROUNDS:] if not shapely.covers(ground, boxes[k])]
    return shapely.union_all([ground, _union([seen[k] for k in rest], to_mm, off_mm, clipped)])


def clip_region(clip: Clip, to_mm: Affine, off_mm: float) -> shapely.Geometry:
    """What a clip lets through, in mm."""
    return shapely.union_all(
        [filled(_mapped(path, to_mm), even_odd, off_mm) for path, even_odd in clip.pieces]
    )


def filled(path: Path, even_odd: bool, off: float) -> shapely.Geometry:
    """The inside of a path by its fill rule; open runs are closed by a straight line."""
    flat = [without_repeats(run.flattened(off), 0.0) for run in path]
    return filled_rings([ring for ring in flat if len(ring) >= 3], even_odd)


def filled_rings(rings: Sequence[Points], even_odd: bool) -> shapely.Geometry:
    """The inside of rings, each (n, 2) with n >= 3, by a fill rule."""
    if len(rings) == 1:
        simple = shapely.Polygon(rings[0])
        if simple.is_valid:
            return simple
    if not rings:
        return shapely.Polygon()
    closed = [np.concatenate([ring, ring[:1]]) for ring in rings]
    lines = shapely.union_all([shapely.LineString(ring) for ring in closed])
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines)))
    starts = np.concatenate([ring[:-1] for ring in closed])
    ends = np.concatenate([ring[1:] for ring in closed])
    inside = []
    for face in faces:
        point = shapely.point_on_surface(face)
        winding = _winding(point.x, point.y, starts, ends)
        if winding % 2 if even_odd else winding:
            inside.append(face)
    return shapely.union_all(inside)


def stroked(run: SubPath, style: Style, off: float) -> list[shapely.Geometry]:
    """Pieces that together are the stroke along one run, in the run's units."""
    half = style.stroke_width / 2
    segments = quadrant_segments(half, off)
    limbs = [arm for curve in run.curves if len((arm := _arm(curve, half, off)).points) > 1]
    if not limbs:
        return [_dot(run.start, style.line_cap, half, segments)]
    meetings = list(pairwise(limbs))
    if run.closed:
        meetings.append((limbs[-1], limbs[0]))
    parts = [_strip(arm, half) for arm in limbs]
    parts += [_join(before, after, style, half, segments) for before, after in meetings]
    if not run.closed and style.line_cap != "butt":
        ends = (limbs[0].points[0], -limbs[0].ways[0]), (limbs[-1].points[-1], limbs[-1].ways[-1])
        parts += [_cap(end, out, style.line_cap, half, segments) for end, out in ends]
    return parts


def _union(
    shapes: Sequence[Shape], to_mm: Affine, off_mm: float, clipped: dict[int, shapely.Geometry]
) -> shapely.Geometry:
    """The paint of some shapes, in mm. clipped: what clips let through, by their identity."""
    pieces: list[shapely.Geometry] = []
    for shape in shapes:
        covered = _covered(shape, to_mm, off_mm)
        if shape.clips:
            area = shapely.union_all(covered)
            for clip in shape.clips:
                if id(clip) not in clipped:
                    clipped[id(clip)] = clip_region(clip, to_mm, off_mm)
                area = shapely.intersection(area, clipped[id(clip)])
            covered = [area]
        pieces += covered
    return shapely.union_all(pieces)  # all at once: many times faster than shape by shape


def reach_box(shape: Shape, to_mm: Affine) -> Points:
    """(left, bottom, right, top) beyond which the shape paints nothing, in mm."""
    onto = to_mm @ shape.matrix
    style, wide = shape.style, 0.0
    if style.strokes:
        longest = style.miter_limit if style.line_join not in ("round", "bevel") else 1.0
        wide = style.stroke_width / 2 * max(longest, sqrt(2)) * largest_scale(onto)
    return hull(shape.path, onto) + wide * np.array([-1, -1, 1, 1])


def _covered(shape: Shape, to_mm: Affine, off_mm: float) -> list[shapely.Geometry]:
    """Pieces that together are fill and stroke of one shape, in mm."""
    onto = to_mm @ shape.matrix
    scale = largest_scale(onto)
    if scale == 0:
        return []
    pieces: list[shapely.Geometry] = []
    if shape.style.fills:
        pieces.append(filled(_mapped(shape.path, onto), shape.style.fill_rule == "evenodd", off_mm))
    if shape.style.strokes:
        pieces += _stroke_pieces(shape, onto, off_mm)
    return pieces


def stroke_region(shape: Shape, onto: Affine, off_mm: float) -> shapely.Geometry:
    """What the stroke of a shape covers, in mm. onto: from the shape's units to mm."""
    return shapely.union_all(_stroke_pieces(shape, onto, off_mm))


def _stroke_pieces(shape: Shape, onto: Affine, off_mm: float) -> list[shapely.Geometry]:
    """Pieces that together are the stroke of a shape, in mm."""
    off = off_mm / largest_scale(onto)
    drawn = [part for run in shape.path for part in stroked(run, shape.style, off)]
    moved = shapely.transform(np.array(drawn, dtype=object), lambda p: map_points(p, onto))
    found: list[shapely.Geometry] = shapely.make_valid(moved).tolist()
    return found


def _mapped(path: Path, affine: Affine) -> Path:
    return tuple(run.mapped(affine) for run in path)


def _winding(x: float, y: float, starts: Points, ends: Points) -> int:
    """How often edges (n, 2) to (n, 2) run round a point, counter-clockwise positive."""
    up = (starts[:, 1] <= y) & (ends[:, 1] > y)
    down = (starts[:, 1] > y) & (ends[:, 1] <= y)
    along, off = ends - starts, np.array([x, y]) - starts
    left = along[:, 0] * off[:, 1] - along[:, 1] * off[:, 0]
    return int(np.count_nonzero(up & (left > 0)) - np.count_nonzero(down & (left < 0)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Arm:
    """A curve as points (n, 2) with the unit directions it has there (n, 2), true at both ends."""

    points: Points
    ways: Points


def _arm(curve: Curve, half: float, off: float) -> _Arm:
    """Points of a curve so close that the stroke's outer edge is within off as well."""
    points = without_repeats(curve.flattened(off), 0.0)
    chords = _unit(np.diff(points, axis=0))
    if len(chords) > 1:
        turn = np.arccos(np.clip((chords[1:] * chords[:-1]).sum(axis=1), -1, 1)).max()
        outer = half * turn**2 / 8  # sagitta that the width adds
        if outer > off:
            points = without_repeats(curve.flattened(off * off / outer), 0.0)
            chords = _unit(np.diff(points, axis=0))
    if len(points) < 2:
        return _Arm(points=points, ways=points)
    first, last = curve.directions()
    between = chords[1:] + chords[:-1]
    back = np.hypot(*between.T) < 1e-9  # a cusp: it leaves the way it came
    between[back] = chords[1:][back]
    return _Arm(points=points, ways=_unit(np.concatenate([[first], between, [last]])))


def _unit(ways: Points) -> Points:
    """Directions (n, 2) of length 1."""
    scaled: Points = ways / np.hypot(*ways.T)[:, np.newaxis]
    return scaled


def _strip(arm: _Arm, half: float) -> shapely.Geometry:
    """What a line of the stroke's width covers on its way along a curve."""
    side = half * np.column_stack([-arm.ways[:, 1], arm.ways[:, 0]])
    left, right = arm.points + side, arm.points - side
    whole = shapely.Polygon(np.concatenate([left, right[::-1]]))
    if whole.is_valid:
        return whole
    # The curve is tighter than the stroke is wide: the line sweeps over some places twice.
    quads = np.stack([left[:-1], left[1:], right[1:], right[:-1]], axis=1)
    return shapely.union_all(shapely.convex_hull(shapely.polygons(quads)))


def _join(before: _Arm, after: _Arm, style: Style, half: float, segments: int) -> shapely.Geometry:
    """The corner of a stroke; it overlaps both limbs, so that no hairline stays between."""
    at, into, out = after.points[0], before.ways[-1], after.ways[0]
    cosine = float(into @ out)
    if cosine < -1 + 1e-9:  # straight back: only a round join covers anything new
        round_end = shapely.buffer(shapely.Point(at), half, quad_segs=segments)
        return round_end if style.line_join == "round" else shapely.Polygon()
    reach = 1 / sqrt((1 + cosine) / 2)  # length of the miter in half widths
    join: Literal["round", "bevel", "mitre"]
    if style.line_join == "round":
        join = "round"
    elif style.line_join == "bevel" or reach > style.miter_limit:
        join = "bevel"
    else:
        join = "mitre"
    arm_in = min(half / 10, float(np.hypot(*(at - before.points[-2]))))
    arm_out = min(half / 10, float(np.hypot(*(after.points[1] - at))))
    return shapely.buffer(
        shapely.LineString([at - arm_in * into, at, at + arm_out * out]),
        half,
        quad_segs=segments,
        cap_style="flat",
        join_style=join,
        mitre_limit=max(1.0, reach) + 1,
    )


def _cap(end: Points, out: Points, cap: str, half: float, segments: int) -> shapely.Geometry:
    """What a cap adds at one end of a stroke; out points away from it."""
    if cap == "round":
        return shapely.buffer(shapely.Point(end), half, quad_segs=segments)
    spine = shapely.LineString([end - half / 1000 * out, end + half * out])
    return shapely.buffer(spine, half, cap_style="flat")


def _dot(at: tuple[float, float], cap: str, half: float, segments: int) -> shapely.Geometry:
    """A run without length is seen only by its caps (SVG 1.1, 11.4)."""
    if cap == "round":
        return shapely.buffer(shapely.Point(at), half, quad_segs=segments)
    if cap == "square":
        return shapely.box(at[0] - half, at[1] - half, at[0] + half, at[1] + half)
    return shapely.Polygon()
