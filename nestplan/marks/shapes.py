"""The printed mark as plain geometry: disc, square, corner or cross."""

from math import acos, ceil, hypot, pi, sqrt

import numpy as np
import shapely

from nestplan.geometry.outline import FLATTEN_MM, Outline, outline_of
from nestplan.job import Sensor


def mark_outline(sensor: Sensor) -> Outline:
    """One mark about its own centre, mm, as it is printed solid.

    A disc is chords within 0.02 mm of the circle; a corner is two bars that meet at
    the lower left, a cross two bars through the middle, both `line_mm` wide.
    """
    half, line = sensor.size_mm / 2, min(sensor.line_mm, sensor.size_mm)
    match sensor.shape:
        case "disc":
            return _disc(half)
        case "square":
            return outline_of(shapely.box(-half, -half, half, half))
        case "corner":
            upright = shapely.box(-half, -half, -half + line, half)
            lying = shapely.box(-half, -half, half, -half + line)
            return outline_of(shapely.union(upright, lying))
        case "cross":
            upright = shapely.box(-line / 2, -half, line / 2, half)
            lying = shapely.box(-half, -line / 2, half, line / 2)
            return outline_of(shapely.union(upright, lying))
    raise AssertionError(f"the job room lets no other shape pass: {sensor.shape}")


def blank_round_mm(sensor: Sensor) -> float:
    """How far round a mark's centre the film must stay blank.

    The clear zone is measured from the mark's edge; at a square's corner or the end of a
    cross's arm it is counted from the farthest point, so nowhere less than asked.
    """
    half, line = sensor.size_mm / 2, min(sensor.line_mm, sensor.size_mm)
    farthest = {"disc": half, "cross": hypot(half, line / 2)}.get(sensor.shape, half * sqrt(2))
    return farthest + sensor.clear_mm


def _disc(radius_mm: float) -> Outline:
    # a multiple of four, so that the flattened disc keeps its full width and height
    chords = 4 * ceil(pi / acos(1 - min(FLATTEN_MM / radius_mm, 0.5)) / 4)
    angles = np.arange(chords) * (2 * pi / chords)
    return Outline(rings=(radius_mm * np.column_stack([np.cos(angles), np.sin(angles)]),))
