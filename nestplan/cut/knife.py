"""How this cutter wants its rings: how much film it moves, which way round, how it closes."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from nestplan.cut.windows import Windows
from nestplan.geometry.outline import signed_area_mm2
from nestplan.job import Job
from nestplan.job.shop_file import Turning


@dataclass(frozen=True, slots=True, kw_only=True)
class Knife:
    """How the cutter moves.

    windows: of web travel. turning: the way round every ring, seen from the printed side.
    overcut_mm: so far the knife runs on past the start of a closed cut line.
    """

    windows: Windows = field(default_factory=Windows)
    turning: Turning = "either"
    overcut_mm: float = 0.0


def knife_of(job: Job) -> Knife:
    """What the shop file says of the job's cutter."""
    cutter = job.cutter
    return Knife(
        windows=Windows(length_mm=cutter.window_mm, from_trailing=job.setup.enters == "trailing"),
        turning=cutter.turning,
        overcut_mm=cutter.overcut_mm,
    )


def turned_round(ring: NDArray[np.float64], turning: Turning) -> NDArray[np.float64]:
    """The ring (n, 2) run the way this knife wants, from the same first point."""
    if turning == "either" or (signed_area_mm2(ring) > 0) == (turning == "anticlockwise"):
        return ring
    return np.roll(ring[::-1], 1, axis=0)
