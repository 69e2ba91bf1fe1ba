"""Marks found in a small copy of a picture, measured again in its full resolution."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from nestplan.fit.image_mark import Centre, MarkShape, fit_mark
from nestplan.fit.image_view import View

EXPLAINED_LEAST = 0.6  # of its pixels by its outline
TRIES = 3  # the window follows the mark
STILL_PX = 0.05


def sharpened(
    grey: NDArray[np.uint8], mark: MarkShape, view: View, spots: Sequence[Centre], *, turned: bool
) -> list[Centre | None]:
    """Each spot at full resolution, None where it is no mark after all.

    turned: spots know how they lie in the view's axes; else the view lays the sheet straight.
    """
    return [_sharp(grey, mark, view, spot, spot.turn_deg if turned else 0.0) for spot in spots]


def _sharp(
    grey: NDArray[np.uint8], mark: MarkShape, view: View, spot: Centre, turn_deg: float
) -> Centre | None:
    at = spot
    for _ in range(TRIES):
        before = at.x_px, at.y_px
        seen = fit_mark(grey, mark, view.slope(before), before, turn_deg)
        if seen is None:
            return None
        at, turn_deg = seen, seen.turn_deg
        if max(abs(at.x_px - before[0]), abs(at.y_px - before[1])) < STILL_PX:
            break
    return at if at.explained >= EXPLAINED_LEAST else None


def typical_sd_px(centres: Sequence[Centre]) -> float:
    """Of one centre on one axis, over all of them."""
    return float(np.sqrt(np.mean([each.sd_px**2 for each in centres])))
