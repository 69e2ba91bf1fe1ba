"""Windows of web travel: what is cut before the web is wound on.

A cutter that moves only so much film to and fro cuts a longer frame window by window, from
the end that enters first. A window holds every ring that lies in it whole, so a ring inside
another is never in a later window than that one.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.figures import short
from nestplan.geometry.same import SAME_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class Windows:
    """length_mm: film that moves to and fro at once; None: a whole frame does."""

    length_mm: float | None = None
    from_trailing: bool = False


def window_of(spans_mm: NDArray[np.float64], windows: Windows) -> NDArray[np.int64]:
    """The window (m,), from 0, of rings that reach from and to (m, 2) along the feed.

    raises: Fault where a ring is longer than a window.
    """
    window = np.zeros(len(spans_mm), dtype=np.int64)
    if windows.length_mm is None or not len(spans_mm):
        return window
    longest = float((spans_mm[:, 1] - spans_mm[:, 0]).max())
    if longest > windows.length_mm + SAME_MM:
        raise Fault(
            what=f"a cut line is {short(longest, 1)} mm long along the feed; the cutter moves "
            f"{short(windows.length_mm, 1)} mm of film to and fro",
            where="cut, window_mm of the cutter",
            do="allow the decal to turn, take a cutter that moves more, or correct window_mm",
            code=OUT_OF_REACH,
        )
    begin, end = spans_mm.T if not windows.from_trailing else -spans_mm.T[::-1]
    at, left = 0, np.ones(len(spans_mm), dtype=bool)
    while left.any():
        here = left & (end <= begin[left].min() + windows.length_mm + SAME_MM)
        window[here] = at
        left &= ~here
        at += 1
    return window
