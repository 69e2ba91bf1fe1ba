"""No layout of a task is shorter than this: the greatest of several lower bounds, named.

Most of them rest on one idea. Grow contour i by a radius r_i such that r_i + r_j is never
more than i and j must keep from each other: grown contours still do not overlap, so what is
known about packing without gaps holds for them. They lie in a strip as wide as the room for
contours and the radii, and 2 max(r) longer than the contours. The others look at the middles
of equal copies, which keep apart too.

Obstacles only lengthen a nest, so they are left out. Where a figure is not exact (arcs of
grown outlines) it is understated, and a bound stays a bound. Layouts may use the
verifier's tolerance (1e-6 mm a gap) and be that little shorter.
"""

from collections.abc import Callable
from dataclasses import dataclass

from nestplan.geometry.same import SAME_MM
from nestplan.nest.bound_area import area_mm
from nestplan.nest.bound_hexagon import equal_hexagons_mm, mixed_hexagons_mm
from nestplan.nest.bound_lines import lines_across_mm
from nestplan.nest.bound_middles import narrow_strip_mm, olers_mm
from nestplan.nest.bound_rows import whole_rows_mm, wide_in_file_mm
from nestplan.nest.bound_single import longest_single_mm
from nestplan.nest.task import Task

QUICK = 2
BELOW_MM = 1e-8  # taken off every bound: more than float64 can have added

# Each takes a task and the number of frames, and returns a length no layout stays below,
# 0 where its idea does not apply. Of equals the first is named: the simplest reason.
BOUNDS: tuple[tuple[str, Callable[[Task, int], float]], ...] = (
    ("longest single decal", longest_single_mm),
    ("area with gutters", area_mm),
    ("wide decals, one behind the other", wide_in_file_mm),
    ("lines across the film", lines_across_mm),
    ("whole rows", whole_rows_mm),
    ("hexagon bound", equal_hexagons_mm),
    ("mixed hexagon bound", mixed_hexagons_mm),
    ("Oler's bound for middles", olers_mm),
    ("middles in a narrow strip", narrow_strip_mm),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """The extent along the feed that no layout stays below, and why."""

    length_mm: float
    reason: str


def lower_bound(task: Task, *, frames: int = 1, quick: bool = False) -> Bound:
    """The greatest bound known for the extents of all frames together.

    frames: how many strips the copies are divided into, none of them empty. quick: of the first
    QUICK bounds only, for a price.
    """
    asked = BOUNDS[:QUICK] if quick else BOUNDS
    lengths = {reason: length_mm(task, frames) for reason, length_mm in asked}
    greatest_mm = max(lengths.values())
    reason = next(name for name, length_mm in lengths.items() if length_mm > greatest_mm - SAME_MM)
    return Bound(length_mm=lengths[reason] - BELOW_MM, reason=reason)
