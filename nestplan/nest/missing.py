"""Film that is not there: what a run that starts on a remnant keeps clear of."""

from dataclasses import dataclass

from shapely.geometry.base import BaseGeometry


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Missing:
    """Film that is not there, in run coordinates.

    apart_mm: how far contours stay from it. start_mm: where the first strip may begin.
    """

    area: BaseGeometry
    apart_mm: float
    start_mm: float
