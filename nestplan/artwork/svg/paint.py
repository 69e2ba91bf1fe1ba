"""Where a drawing puts paint: the areas of fills and strokes, less what clips hide.

Fills follow their fill rule; strokes follow width, joins and caps in their own units, so
that a stretched shape has a stretched stroke (SVG 1.1, 11.3 and 11.4).
"""

from collections.abc import Sequence
from itertools import pairwise
from math import sqrt
from typing import Literal

import numpy as np
import shapely

from nestplan.artwork.svg.drawing import Clip, Shape
from nestplan.artwork.svg.path import Path, SubPath
from nestplan.artwork.svg.style import Style
from nestplan.artwork.svg.units import largest_scale
from nestplan.geometry.offset import quadrant_segments
from nestplan.geometry.polyline import Affine, Curve, Line, Points, without_repeats

SMOOTH = np.cos(np.radians(5.0))  # runs that meet at less than 5 degrees are one run


def painted_region(shapes: Sequence[Shape], to_mm: Affine, off_mm: float) -> shapely.Geometry:
    """The union of all paint of these shapes, in mm; curves within off_mm."""
    clipped: dict[int, shapely.Geometry] = {}  # many shapes share one clip
    areas = []
    for shape in shapes:
        if shape.hidden or shape.clear:
            continue
        area = _covered(shape, to_mm, off_mm)
        for clip in shape.clips:
            if id(clip) not in clipped:
                clipped[id(clip)] = clip_region(clip, to_mm, off_mm)
            area = shapely.intersection(area, clipped[id(clip)])
        areas.append(area)
    return shapely.union_all(areas)


def clip_region(clip: Clip, to_mm: Affine, off_mm: float) -> shapely.Geometry:
    """What a clip lets through, in mm."""
    return shapely.union_all(
        [filled(_mapped(path, to_mm), even_odd, off_mm) for path, even_odd in clip.pieces]
    )


def filled(path: Path, even_odd: bool, off: float) -> shapely.Geometry:
    """The inside of a path by its fill rule; open runs are closed by a straight line."""
    flat = [without_repeats(run.flattened(off), 0.0) for run in path]
    rings = [ring for ring in flat if len(ring) >= 3]
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


def stroked(run: SubPath, style: Style, off: float) -> shapely.Geometry:
    """The area of a stroke along one run, in the run's units."""
    half = style.stroke_width / 2
    segments = quadrant_segments(half, off)
    flat = [_true_ends(curve, off) for curve in run.curves]
    runs = _smooth_runs([points for points in flat if len(points) > 1])
    if not runs:
        return _dot(run.start, style.line_cap, half, segments)
    meetings = list(pairwise(runs))
    if run.closed:
        meetings.append((runs[-1], runs[0]))
    parts: list[shapely.Geometry] = [
        shapely.buffer(shapely.LineString(points), half, quad_segs=segments, cap_style="flat")
        for points in runs
    ]
    parts += [_join(before, after, style, half, segments) for before, after in meetings]
    if not run.closed and style.line_cap != "butt":
        for end, beside in ((runs[0][0], runs[0][1]), (runs[-1][-1], runs[-1][-2])):
            parts.append(_cap(end, beside, style.line_cap, half, segments))
    return shapely.union_all(parts)


def _covered(shape: Shape, to_mm: Affine, off_mm: float) -> shapely.Geometry:
    """Fill and stroke of one shape, in mm."""
    onto = to_mm @ shape.matrix
    scale = largest_scale(onto)
    if scale == 0:
        return shapely.Polygon()
    areas = []
    if shape.style.fills:
        areas.append(filled(_mapped(shape.path, onto), shape.style.fill_rule == "evenodd", off_mm))
    if shape.style.strokes:
        drawn = shapely.union_all([stroked(r, shape.style, off_mm / scale) for r in shape.path])
        areas.append(shapely.transform(drawn, lambda p: p @ onto[:2, :2].T + onto[:2, 2]))
    return shapely.union_all([shapely.make_valid(area) for area in areas])


def _mapped(path: Path, affine: Affine) -> Path:
    return tuple(run.mapped(affine) for run in path)


def _winding(x: float, y: float, starts: Points, ends: Points) -> int:
    """How often edges (n, 2) to (n, 2) run round a point, counter-clockwise positive."""
    up = (starts[:, 1] <= y) & (ends[:, 1] > y)
    down = (starts[:, 1] > y) & (ends[:, 1] <= y)
    along, off = ends - starts, np.array([x, y]) - starts
    left = along[:, 0] * off[:, 1] - along[:, 1] * off[:, 0]
    return int(np.count_nonzero(up & (left > 0)) - np.count_nonzero(down & (left < 0)))


def _true_ends(curve: Curve, off: float) -> Points:
    """A curve as chords, the first and last of them short and in its true direction there."""
    points = without_repeats(curve.flattened(off), 0.0)
    if len(points) < 2 or isinstance(curve, Line):
        return points
    first, last = (way / max(np.hypot(*way), 1e-300) for way in curve.directions())
    begin = points[0] + 1e-3 * np.hypot(*(points[1] - points[0])) * first
    end = points[-1] - 1e-3 * np.hypot(*(points[-1] - points[-2])) * last
    return np.concatenate([points[:1], [begin], points[1:-1], [end], points[-1:]])


def _smooth_runs(flat: list[Points]) -> list[Points]:
    """Curves joined where they meet without a corner."""
    runs: list[Points] = []
    for points in flat:
        if runs and _directions(runs[-1], points)[2] > SMOOTH:
            runs[-1] = np.concatenate([runs[-1], points[1:]])
        else:
            runs.append(points)
    return runs


def _directions(before: Points, after: Points) -> tuple[Points, Points, float]:
    """Unit directions into and out of a meeting, and the cosine between them."""
    into, out = before[-1] - before[-2], after[1] - after[0]
    into, out = into / np.hypot(*into), out / np.hypot(*out)
    return into, out, float(into @ out)


def _join(
    before: Points, after: Points, style: Style, half: float, segments: int
) -> shapely.Geometry:
    """The corner of a stroke; it overlaps both arms, so that no hairline stays between."""
    into, out, cosine = _directions(before, after)
    at = after[0]
    arm = min(half, float(np.hypot(*(at - before[-2]))), float(np.hypot(*(after[1] - at))))
    if cosine < -1 + 1e-9:  # straight back: only a round join covers anything new
        round_end = shapely.buffer(shapely.Point(at), half, quad_segs=segments)
        return round_end if style.line_join == "round" else shapely.Polygon()
    corner = shapely.LineString([at - arm * into, at, at + arm * out])
    reach = 1 / sqrt((1 + cosine) / 2)  # length of the miter in half widths
    join: Literal["round", "bevel", "mitre"]
    if style.line_join == "round":
        join = "round"
    elif style.line_join == "bevel" or reach > style.miter_limit:
        join = "bevel"
    else:
        join = "mitre"
    return shapely.buffer(
        corner,
        half,
        quad_segs=segments,
        cap_style="flat",
        join_style=join,
        mitre_limit=max(1.0, reach) + 1,
    )


def _cap(end: Points, beside: Points, cap: str, half: float, segments: int) -> shapely.Geometry:
    """What a cap adds at one end of a stroke."""
    if cap == "round":
        return shapely.buffer(shapely.Point(end), half, quad_segs=segments)
    out = (end - beside) / np.hypot(*(end - beside))
    arm = min(half, np.hypot(*(end - beside)))
    spine = shapely.LineString([end - arm * out, end + half * out])
    return shapely.buffer(spine, half, cap_style="flat")


def _dot(at: tuple[float, float], cap: str, half: float, segments: int) -> shapely.Geometry:
    """A run without length is seen only by its caps (SVG 1.1, 11.4)."""
    if cap == "round":
        return shapely.buffer(shapely.Point(at), half, quad_segs=segments)
    if cap == "square":
        return shapely.box(at[0] - half, at[1] - half, at[0] + half, at[1] + half)
    return shapely.Polygon()
