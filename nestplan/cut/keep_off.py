"""Film of a frame that the knife's extra lines and tabs keep off: marks, words, what is gone."""

from collections.abc import Iterable
from math import cos, pi

import shapely
from shapely.geometry.base import BaseGeometry

from nestplan.marks import Frame, MarkPlan, clear_radius_mm
from nestplan.marks.words import slug_rooms

QUARTER = 16  # sides of a quarter of the polygon round a circle
AROUND = 1 / cos(pi / (4 * QUARTER))  # so that the polygon is never inside its circle


def clear_zones(marks: MarkPlan, frame: Frame, more_mm: float = 0.0) -> list[BaseGeometry]:
    """The clear zone of every mark, grown, as polygons round the circles."""
    radius = (clear_radius_mm(marks.outline, marks.clear_mm) + more_mm) * AROUND
    return [shapely.Point(m.x_mm, m.y_mm).buffer(radius, quad_segs=QUARTER) for m in frame.marks]


def squares(marks: MarkPlan, frame: Frame) -> list[BaseGeometry]:
    """The squares round the clear zones: a line led round one turns square corners."""
    reach = clear_radius_mm(marks.outline, marks.clear_mm) * AROUND
    return [
        shapely.box(m.x_mm - reach, m.y_mm - reach, m.x_mm + reach, m.y_mm + reach)
        for m in frame.marks
    ]


def printed_words(frame: Frame) -> Iterable[BaseGeometry]:
    """The rooms of words, scale bars and code."""
    return slug_rooms(frame.slug)
