"""Grow and shrink areas by a distance, arcs kept within a stated sagitta."""

from math import acos, ceil, pi
from typing import Literal

import shapely

SAGITTA_MM = 0.01  # arcs of a grown shape lie at most this far inside the true arc


def quadrant_segments(radius_mm: float, sagitta_mm: float = SAGITTA_MM) -> int:
    """Chords in a quarter circle so that none lies farther than the sagitta off the arc."""
    radius_mm = abs(radius_mm)
    if radius_mm <= sagitta_mm:
        return 1
    return max(1, ceil(pi / 4 / acos(1 - sagitta_mm / radius_mm)))


def grown(
    region: shapely.Geometry,
    distance_mm: float,
    *,
    join: Literal["round", "mitre", "bevel"] = "round",
    sagitta_mm: float = SAGITTA_MM,
) -> shapely.Geometry:
    """The region grown (or, with a negative distance, shrunk) by a distance.

    Round corners are chords of the true arc: short by at most the sagitta, never too far.
    """
    # GEOS rounds the chords of an arc to the nearest whole number, so one may span half as
    # much again as asked for.
    segments = ceil(1.5 * quadrant_segments(distance_mm, sagitta_mm))
    return shapely.buffer(region, distance_mm, quad_segs=segments, join_style=join)
