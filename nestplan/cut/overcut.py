"""A ring whose knife runs on past its start, so that it closes though the knife trails.

Drawn as one open line, for cutters that run on by nothing of their own.
"""

import numpy as np
from numpy.typing import NDArray

from nestplan.cut.along import length_mm, part_of, places_at, reach_mm
from nestplan.faults import Fault
from nestplan.figures import short


def run_on(ring_mm: NDArray[np.float64], overcut_mm: float) -> NDArray[np.float64]:
    """The ring (n, 2) from its first point round to it, and on by so much."""
    more = part_of(ring_mm, 0.0, overcut_mm, closed=True)
    return np.vstack([ring_mm, more])


def lifted_at(ring_mm: NDArray[np.float64], overcut_mm: float) -> NDArray[np.float64]:
    """Where the knife is lifted (n, 2), begun at each corner of the ring (n, 2)."""
    if overcut_mm == 0:
        return ring_mm
    reach = reach_mm(ring_mm, closed=True)[:-1]
    return places_at(ring_mm, reach + overcut_mm, closed=True)


def refuse_long(ring_mm: NDArray[np.float64], overcut_mm: float, name: str) -> None:
    """raises: Fault where the knife would go round more than once again."""
    round_mm = length_mm(ring_mm, closed=True)
    if overcut_mm >= round_mm:
        raise Fault(
            what=f"overcut_mm is {short(overcut_mm, 2)} mm, and a ring of {name} is only "
            f"{short(round_mm, 2)} mm round",
            where="cut, overcut_mm of the cutter",
            do=f"write less than {short(round_mm, 2)}: what a trailing blade needs is below 1 mm",
        )
