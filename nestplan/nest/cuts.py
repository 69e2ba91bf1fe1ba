"""One long nest cut into frames along paths that no contour crosses.

A cut is a height t: a frame takes the copies whose top lies between the last cut and this
one. For two frames nothing is shorter. Take any two, of which neither may be as long as the
whole: the one with the lowest copy of all, call its top t, lacks the highest. Let it take
every other copy with its top at t or lower: its ends stay where they are, and the other
frame can only shrink. That is the cut at t. For more frames the best set of cuts is found
by dynamic programming over all heights.
"""

import numpy as np
from numpy.typing import NDArray

from nestplan.geometry.same import SAME_MM

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]


def cut(bottom_mm: Floats, top_mm: Floats, length_most_mm: float) -> list[Rows]:
    """Rows of the copies of each frame, in order: the fewest frames, then the least extents.

    bottom_mm, top_mm: (n,) ends of the copies along the feed; none is longer than a frame.
    """
    order = np.lexsort((bottom_mm, top_mm))
    bottom, top = bottom_mm[order], top_mm[order]
    many = len(order)
    frames = np.zeros(many + 1, dtype=np.intp)  # that the first so many copies need
    extents = np.zeros(many + 1)  # of those frames together
    begins = np.zeros(many + 1, dtype=np.intp)  # of the last of them
    widest = 1
    for end in range(1, many + 1):
        first = max(0, end - 2 * widest)
        lows = np.minimum.accumulate(bottom[first:end][::-1])
        while first > 0 and top[end - 1] - lows[-1] <= length_most_mm:
            first = max(0, 2 * first - end)
            lows = np.minimum.accumulate(bottom[first:end][::-1])
        lengths = top[end - 1] - lows
        fits = int(np.searchsorted(lengths, length_most_mm + SAME_MM / 2, side="right"))
        begin = end - 1 - np.arange(fits)
        best = np.lexsort((extents[begin] + lengths[:fits], frames[begin]))[0]
        frames[end] = frames[begin[best]] + 1
        extents[end] = extents[begin[best]] + lengths[best]
        begins[end] = begin[best]
        widest = max(1, fits)
    groups, end = [], many
    while end > 0:
        groups.append(order[begins[end] : end])
        end = int(begins[end])
    return groups[::-1]
