"""Lines along the feed that copies must cross, one behind the other.

Both ideas are ours; for upright boxes the first comes near whole rows of boxes, and the
second is the classic bound of items wider than half the strip.
"""

from math import ceil, hypot

import numpy as np

from nestplan.nest.bound_profiles import Profile, grown_profile
from nestplan.nest.bound_radii import best_choices, grown_width_mm
from nestplan.nest.bound_single import angles_that_fit
from nestplan.nest.task import Shape, Task

LINES_MOST = 200
# A line crosses a copy only this far inside: on the seam of two it would count both.
INSIDE_MM = 1e-5


def whole_rows_mm(task: Task, frames: int) -> float:
    """k lines along the feed so close that every copy crosses one, over a length of c or more.

    Then some line is crossed by n / k copies, rounded up, one behind the other: L >=
    ceil(n / k) c - 2 r frames.
    """
    if len(task.shapes) > 1 or task.copies == 1:
        return 0.0
    shape, gap_mm, best_mm = task.shapes[0], task.apart_mm[0][0], 0.0
    profiles = profiles_along(task, shape, gap_mm / 2)
    if not profiles:
        return 0.0
    whole_mm = min(profile.longest_mm for profile in profiles)
    room_mm = grown_width_mm(task, (gap_mm / 2,))
    for lines in range(1, min(task.copies, LINES_MOST) + 1):
        in_file = ceil(task.copies / lines)
        better_mm = (best_mm + gap_mm * frames) / in_file
        if better_mm >= whole_mm:
            break  # the more lines, the fewer copies on one
        crossed_mm = _crossed_mm(profiles, lines, room_mm, (better_mm, whole_mm))
        best_mm = max(best_mm, in_file * crossed_mm - gap_mm * frames)
    return best_mm


def profiles_along(task: Task, shape: Shape, radius_mm: float) -> list[Profile]:
    """The grown copy's profile along the feed at each angle at which it fits.

    Empty where the outline is not convex or may lie at every angle.
    """
    angles = [] if shape.any_angle else angles_that_fit(task, shape)
    found = [grown_profile(shape.outline, radius_mm, angle_deg) for angle_deg in angles]
    return [profile for profile in found if profile is not None]


def _crossed_mm(
    profiles: list[Profile], lines: int, room_mm: float, between_mm: tuple[float, float]
) -> float:
    """The greatest length over which every copy crosses one of so many lines, understated.

    between_mm: below the first figure nobody cares (returned as 0), none is above the second.
    """
    low, high = between_mm
    if not _always_crossed(profiles, lines, room_mm, low):
        return 0.0
    if _always_crossed(profiles, lines, room_mm, high):
        return high
    for _ in range(40):
        middle = (low + high) / 2
        if _always_crossed(profiles, lines, room_mm, middle):
            low = middle
        else:
            high = middle
    return low


def _always_crossed(profiles: list[Profile], lines: int, room_mm: float, crossed_mm: float) -> bool:
    """Whether lines can stand so that every copy crosses one over the given length or more.

    Such lines stand within [p + first, p + last] of a copy whose left end is at p; evenly
    spaced by the narrowest of these ranges, they reach from the first copy to the last.
    """
    ranges = []
    for profile in profiles:
        first, last = profile.between_mm(crossed_mm)
        play_mm = room_mm - profile.wide_mm
        ranges.append((float(first) + INSIDE_MM, float(last) - INSIDE_MM, play_mm))
    spaced_mm = min(last - first for first, last, _ in ranges)
    begin_mm = min(last for _, last, _ in ranges)
    reach_mm = begin_mm + (lines - 1) * spaced_mm
    return reach_mm >= max(first + play for first, _, play in ranges)


def wide_in_file_mm(task: Task, frames: int) -> float:
    """Wide decals all cross the middle line of the strip, one behind the other along it."""
    if len(task.shapes) == 1:
        return 0.0
    lengths = []
    for radii in best_choices(task, frames):
        total_mm = 0.0
        for shape, radius_mm in zip(task.shapes, radii, strict=True):
            middle_mm = task.width_mm / 2 - shape.edge_mm + radius_mm + INSIDE_MM
            if hypot(shape.outline.width_mm, shape.outline.height_mm) + 2 * radius_mm < middle_mm:
                continue
            crossed = [
                float(np.min(profile.chord_at_mm((middle_mm, profile.wide_mm - middle_mm))))
                for profile in profiles_along(task, shape, radius_mm)
            ]
            total_mm += shape.copies * min(crossed, default=0.0)
        lengths.append(total_mm - 2 * max(radii) * frames)
    return max(lengths)
