"""Chances of any: that a copy of the run falls outside its bleed, and the bleed that keeps it in.

Errors of neighbours go together, so such a chance is no product. The sum over all places is
an upper bound that needs no independence (Boole's inequality); where it is not small, whole
runs are drawn with a fixed seed. Copies that hardly count are not drawn but added as sums.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import log, sqrt

import numpy as np
from numpy.typing import NDArray

from nestplan.marks.draws import Sheet, can_draw, drawn_errors
from nestplan.marks.error_model import ErrorModel
from nestplan.marks.moments import Moments
from nestplan.marks.radius import chance_beyond

Array = NDArray[np.float64]

DRAWS, SEED = 2_000, 1
PROVEN = 1e-3  # a sum below this is said as it is: at most so much
SEEN_LEAST = 20  # a wanted chance is drawn where at least so many draws would show it
LEFT_OUT = 0.01  # of a chance may lie with copies that are not drawn
PLACES_MOST = 20_000  # more are not drawn: the sums stand
STEPS_MOST = 60
CLOSE = 1e-7  # of a chance
TINY = 1e-300
LIKELY = 50  # places among which the likeliest is sought
RADIUS_MM = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Looked:
    """A frame's places and their errors. bleed_mm: (n,) of each place's copy."""

    sheet: Sheet
    errors: Moments
    bleed_mm: Array

    def beyond(self, radius_mm: Array | float) -> Array:
        """(n,) chance of each place to be off by more than a radius."""
        radii = np.broadcast_to(radius_mm, self.bleed_mm.shape)
        return chance_beyond(self.errors.mean_mm, self.errors.covariance_mm2, radii)

    def only(self, kept: NDArray[np.bool_]) -> "Looked":
        """The places of some copies."""
        return Looked(
            sheet=Sheet(
                marks_mm=self.sheet.marks_mm,
                places_mm=self.sheet.places_mm[kept],
                copy=self.sheet.copy[kept],
            ),
            errors=Moments(
                mean_mm=self.errors.mean_mm[kept],
                covariance_mm2=self.errors.covariance_mm2[kept],
            ),
            bleed_mm=self.bleed_mm[kept],
        )


def chance_outside(model: ErrorModel, frames: Sequence[Looked]) -> tuple[float, int]:
    """Chance that any copy falls outside its own bleed, and how many runs were drawn for it.

    Without draws it is an upper bound.
    """
    each = [frame.beyond(frame.bleed_mm) for frame in frames]
    total = min(1.0, sum(float(chance.sum()) for chance in each))
    if total <= PROVEN:
        return total, 0
    least = max(float(chance.max()) for chance in each)
    kept, left_out = _kept(frames, each, LEFT_OUT * least)
    if not _drawable(model, kept):
        return total, 0
    over = _greatest(model, kept, less_bleed=True)
    return min(1.0, max(least, float((over > 0).mean()) + left_out)), DRAWS


def least_bleed(model: ErrorModel, frames: Sequence[Looked], limit: float) -> tuple[float, int]:
    """Bleed in mm that, on every copy, keeps the chance of any outside it at the limit.

    And how many runs were drawn for it; without draws it is surely enough.
    """
    enough = falls_to(limit, lambda r: sum(float(f.beyond(r).sum()) for f in frames))
    if limit * DRAWS < SEEN_LEAST:
        return enough, 0
    likely = [_likeliest(f, f.beyond(enough)) for f in frames]
    low = falls_to(limit, lambda r: max(float(f.beyond(r).max()) for f in likely))
    kept, left_out = _kept(frames, [f.beyond(low) for f in frames], LEFT_OUT * limit)
    if not _drawable(model, kept):
        return enough, 0
    off = np.sort(_greatest(model, kept, less_bleed=False))
    at = float(off[int(np.ceil(DRAWS * (1 - limit + left_out))) - 1])
    return min(max(at, low), enough), DRAWS


def _kept(
    frames: Sequence[Looked], chances: Sequence[Array], allowed: float
) -> tuple[list[Looked], float]:
    """Frames without the copies that hardly count, and the sum of the chances left out."""
    copies = [np.bincount(f.sheet.copy, c) for f, c in zip(frames, chances, strict=True)]
    rising = np.sort(np.concatenate(copies))
    below = np.searchsorted(rising.cumsum(), allowed, side="right")
    bar = rising[below] if below < len(rising) else np.inf
    kept = [f.only((c >= bar)[f.sheet.copy]) for f, c in zip(frames, copies, strict=True)]
    left_out = sum(float(c[c < bar].sum()) for c in copies)
    return [frame for frame in kept if len(frame.bleed_mm)], left_out


def _likeliest(frame: Looked, chances: Array) -> Looked:
    """The few places of a frame that are most often off."""
    kept = np.zeros(len(chances), dtype=bool)
    kept[np.argsort(-chances, kind="stable")[:LIKELY]] = True
    return frame.only(kept)


def _drawable(model: ErrorModel, frames: Sequence[Looked]) -> bool:
    places = sum(len(frame.bleed_mm) for frame in frames)
    return places <= PLACES_MOST and can_draw(model, [frame.sheet for frame in frames])


def _greatest(model: ErrorModel, frames: Sequence[Looked], *, less_bleed: bool) -> Array:
    """(DRAWS,) the greatest error of a place in each drawn run; less_bleed: over its bleed."""
    sheets = [frame.sheet for frame in frames]
    greatest = []
    for errors in drawn_errors(model, sheets, draws=DRAWS, seed=SEED):
        off = [
            np.sqrt(each[:, :, 0] ** 2 + each[:, :, 1] ** 2)
            - (frame.bleed_mm if less_bleed else 0.0)
            for each, frame in zip(errors, frames, strict=True)
        ]
        greatest.append(np.concatenate(off, axis=1).max(axis=1))
    return np.concatenate(greatest)


def falls_to(chance: float, of_radius: Callable[[float], float]) -> float:
    """The radius at which a falling function comes down to a chance.

    Regula falsi (Illinois) on ln P over R^2, where a normal tail is nearly a straight line.
    """
    low, high = 0.0, 1.0
    while (above := of_radius(high)) > chance:
        low, high = high, 2 * high
    under = log(max(above, TINY) / chance)
    over = log(max(of_radius(low), TINY) / chance)
    side = 0
    for _ in range(STEPS_MOST):
        square = high**2 - under * (high**2 - low**2) / (under - over)
        middle = sqrt(square)
        here = log(max(of_radius(middle), TINY) / chance)
        if here > 0:
            low, over, under = middle, here, under / 2 if side > 0 else under
            side = 1
        else:
            high, under, over = middle, here, over / 2 if side < 0 else over
            side = -1
        if high - low < RADIUS_MM or abs(here) < CLOSE:
            return middle
    return high
