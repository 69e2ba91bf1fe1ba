"""A contour at a distance from the art: its own form, or a plain one laid round it."""

from math import cos, pi

import numpy as np
import shapely

from nestplan.artwork.rule import Rule
from nestplan.faults import Fault
from nestplan.figures import short
from nestplan.geometry.offset import grown, quadrant_segments

CIRCLE_MM = 0.002  # a circle's chords stray so far to either side of it


def formed(region: shapely.Geometry, rule: Rule, where: str) -> shapely.Geometry:
    """The contour that a rule makes from a region.

    where: the key in the job file. raises: Fault when nothing is left, or a radius is too large.
    """
    if rule.kind in ("rectangle", "rounded"):
        made = _box(region, rule.offset_mm)
    elif rule.offset_mm == 0:
        made = _form(region, rule)
    else:
        made = grown(_form(region, rule), rule.offset_mm)
    if shapely.is_empty(made):
        raise Fault(
            what=f"nothing is left of the contour when it shrinks by {short(-rule.offset_mm)} mm",
            where=where,
            do="take a smaller offset or a larger decal",
        )
    if rule.kind == "rounded":
        return _rounded(made, rule, where)
    return made


def extent_of_form(region: shapely.Geometry, rule: Rule) -> tuple[float, float]:
    """Width and height of the form before it is moved away from the art."""
    left, bottom, right, top = shapely.bounds(_form(region, rule)).tolist()
    return right - left, top - bottom


def _form(region: shapely.Geometry, rule: Rule) -> shapely.Geometry:
    if rule.kind == "circle":
        return _circle(region)
    if rule.kind in ("rectangle", "rounded"):
        return _box(region, 0.0)
    return shapely.convex_hull(region) if rule.kind == "hull" else region


def _box(region: shapely.Geometry, away_mm: float) -> shapely.Geometry:
    left, bottom, right, top = shapely.bounds(region).tolist()
    if min(right - left, top - bottom) + 2 * away_mm <= 0:
        return shapely.Polygon()
    wide: shapely.Geometry = shapely.box(
        left - away_mm, bottom - away_mm, right + away_mm, top + away_mm
    )
    return wide


def _circle(region: shapely.Geometry) -> shapely.Geometry:
    """The smallest circle round a region, by chords that stray as far out as in."""
    radius = float(shapely.minimum_bounding_radius(region))
    x, y = shapely.centroid(shapely.minimum_bounding_circle(region)).coords[0]
    number = 4 * quadrant_segments(radius, 2 * CIRCLE_MM)
    outer = 2 * radius / (1 + cos(pi / number))
    angle = 2 * pi * np.arange(number) / number
    return shapely.Polygon(np.column_stack([x + outer * np.cos(angle), y + outer * np.sin(angle)]))


def _rounded(box: shapely.Geometry, rule: Rule, where: str) -> shapely.Geometry:
    left, bottom, right, top = shapely.bounds(box).tolist()
    most = min(right - left, top - bottom) / 2
    if rule.corner_mm > most:
        raise Fault(
            what=f"corners of {short(rule.corner_mm)} mm are larger than the rectangle holds, "
            f"{short(most)} mm",
            where=where,
            do=f"write a radius of at most {short(most)}, or circle:{short(rule.offset_mm)}",
        )
    if rule.corner_mm == most:
        line = shapely.LineString(
            [
                (left + most, bottom + most),
                (right - most, top - most),
            ]
        )
        return grown(line if line.length > 0 else shapely.Point(left + most, bottom + most), most)
    return grown(_box(box, -rule.corner_mm), rule.corner_mm)
