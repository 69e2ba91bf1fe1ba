"""Curves become chords, which lie inside them: so fine that the area stays right too."""

from collections.abc import Callable

import shapely

from nestplan.artwork.art import Traced
from nestplan.geometry.outline import FLATTEN_MM

AREA_SHARE = 0.0008  # of a contour's area may be lost between chords and curve: aim 0.1 %
FINER = 4  # times: the trial that tells how much is lost
FINEST_MM = 0.001  # no knife tells less


def finely(traced: Callable[[float], Traced]) -> Traced:
    """A contour of chords within `FLATTEN_MM`, nearer where the area needs it.

    traced: the contour with chords that lie at most so many mm off. A chord parts two thirds
    of its length times that distance from the curve (parabola; Archimedes), so the loss grows
    with the distance. Large or straight-sided contours are as they would be without this.
    """
    coarse = traced(FLATTEN_MM)
    area, length = shapely.area(coarse.region), shapely.length(coarse.region)
    allowed = AREA_SHARE * area
    if length * FLATTEN_MM * 2 / 3 <= allowed:
        return coarse
    finer = traced(FLATTEN_MM / FINER)
    lost = abs(shapely.area(finer.region) - area) * FINER / (FINER - 1)
    if lost <= allowed:
        return coarse
    return traced(max(FINEST_MM, FLATTEN_MM * allowed / lost))
