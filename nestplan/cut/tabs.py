"""Tabs: short bridges that a through cut leaves, so that nothing drops out before it should.

A tab is snapped off by hand. So it stands on a stretch that is nearly straight, where a torn
nub can be trimmed; away from marks, whose film must lie flat; and not at the film's edge, which
lifts first. Tabs are spread evenly as far as that allows.
"""

from dataclasses import dataclass, field
from math import ceil, pi

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nestplan.cut.along import part_of, places_at, reach_mm

LEAST = 2  # tabs of a ring: one alone is a hinge
STRAIGHT_RAD = pi / 6  # a stretch with a tab turns by no more than this in all
BETTER_RAD = pi / 24  # and by no more than this where there are enough of those
BESIDE = 1.0  # widths of a tab on each side of it that belong to its stretch
STEP_MM = 0.5  # between places that are tried
STEPS_MOST = 2_000  # on one ring
PHASES = 24  # ways to turn the even spread round the ring
NOWHERE: BaseGeometry = shapely.Polygon()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TabRules:
    """How tabs stand. spacing_mm: about this far apart along the ring, and two at least.

    kept_off: where no tab may stand, run coordinates.
    """

    width_mm: float
    spacing_mm: float
    kept_off: BaseGeometry = field(default=NOWHERE)


def tabs_on(ring_mm: NDArray[np.float64], rules: TabRules) -> NDArray[np.float64]:
    """Middles of the tabs (k,), mm along the ring (n, 2), rising; empty where it has no room."""
    reach = reach_mm(ring_mm, closed=True)
    round_mm = float(reach[-1])
    many = max(LEAST, ceil(round_mm / rules.spacing_mm - 1e-9))
    many = min(many, int(round_mm / (rules.width_mm * (2 + 2 * BESIDE))))
    if many < LEAST:
        return np.empty(0)
    steps = min(max(ceil(round_mm / STEP_MM), 8 * many), STEPS_MOST)
    at = np.arange(steps, dtype=np.float64) * (round_mm / steps)
    stretch = rules.width_mm * (1 + 2 * BESIDE)
    turns = _turned_rad(ring_mm, at - stretch / 2, at + stretch / 2)
    stands = turns <= STRAIGHT_RAD + 1e-9
    if not rules.kept_off.is_empty:
        spots = places_at(ring_mm, at, closed=True)
        near = shapely.dwithin(shapely.points(spots), rules.kept_off, rules.width_mm / 2)
        stands &= ~near
    better = _spread(at[stands & (turns <= BETTER_RAD)], round_mm, many, stretch)
    return better if len(better) == many else _spread(at[stands], round_mm, many, stretch)


def between_tabs(
    ring_mm: NDArray[np.float64], middles_mm: NDArray[np.float64], width_mm: float
) -> list[NDArray[np.float64]]:
    """What is cut of a ring (n, 2): open lines from tab to tab, the way the ring runs."""
    round_mm = float(reach_mm(ring_mm, closed=True)[-1])
    ends = [*middles_mm.tolist()[1:], float(middles_mm[0]) + round_mm]
    lines = []
    for tab, onward in zip(middles_mm.tolist(), ends, strict=True):
        begin, end = tab + width_mm / 2, onward - width_mm / 2
        over = round_mm if begin >= round_mm else 0.0
        lines.append(part_of(ring_mm, begin - over, end - over, closed=True))
    return lines


def straight_most_mm(ring_mm: NDArray[np.float64]) -> float:
    """The longest stretch of a ring (n, 2) that turns no more than one with a tab may."""
    reach = reach_mm(ring_mm, closed=True)
    round_mm = float(reach[-1])
    corners, bends = reach[:-1], _bends_rad(ring_mm)
    sharp = np.sort(corners[bends > 1e-9])
    if not len(sharp):
        return round_mm
    low, high = 0.0, round_mm
    for _ in range(40):
        middle = (low + high) / 2
        begin = np.concatenate([sharp + 1e-9, sharp - middle - 1e-9])
        turned = _turned_rad(ring_mm, begin, begin + middle)
        low, high = (middle, high) if (turned <= STRAIGHT_RAD + 1e-9).any() else (low, middle)
    return low


def _bends_rad(ring_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """How much the ring turns at each of its corners (n,), without sign."""
    legs = np.roll(ring_mm, -1, axis=0) - ring_mm
    before = np.roll(legs, 1, axis=0)
    cross = before[:, 0] * legs[:, 1] - before[:, 1] * legs[:, 0]
    return np.asarray(np.abs(np.arctan2(cross, (before * legs).sum(axis=1))))


def _turned_rad(
    ring_mm: NDArray[np.float64], from_mm: NDArray[np.float64], to_mm: NDArray[np.float64]
) -> NDArray[np.float64]:
    """How much the ring turns in all between places (k,) and (k,); no more than a round apart."""
    reach = reach_mm(ring_mm, closed=True)
    round_mm, bends = float(reach[-1]), _bends_rad(ring_mm)
    corners = np.concatenate([reach[:-1] - round_mm, reach[:-1], reach[:-1] + round_mm])
    turned = np.concatenate([[0.0], np.cumsum(np.tile(bends, 3))])
    low = np.mod(from_mm, round_mm)
    last = np.searchsorted(corners, low + (to_mm - from_mm), side="right")
    return np.asarray(turned[last] - turned[np.searchsorted(corners, low, side="left")])


def _spread(
    free_mm: NDArray[np.float64], round_mm: float, many: int, apart_mm: float
) -> NDArray[np.float64]:
    """As many places of those free, as even as can be, none nearer to the next than `apart`."""
    if not len(free_mm):
        return np.empty(0)
    step = round_mm / many
    best, least = np.empty(0), np.inf
    for phase in range(PHASES):
        wanted = (np.arange(many) + phase / PHASES) * step
        away = np.abs(free_mm[None, :] - wanted[:, None])
        away = np.minimum(away, round_mm - away)
        nearest = away.argmin(axis=1)
        chosen = np.unique(free_mm[nearest])
        chosen = _parted(chosen, round_mm, max(apart_mm, step / 4))
        if len(chosen) < LEAST:
            continue
        worst = (many - len(chosen)) * round_mm + float(away.min(axis=1).max())
        if worst < least - 1e-9:
            best, least = chosen, worst
    return best


def _parted(
    places_mm: NDArray[np.float64], round_mm: float, apart_mm: float
) -> NDArray[np.float64]:
    """Those that lie so far from the one before, the last so far from the first."""
    kept: list[float] = []
    for place in places_mm.tolist():
        if not kept or place - kept[-1] >= apart_mm:
            kept.append(place)
    while len(kept) > 1 and kept[0] + round_mm - kept[-1] < apart_mm:
        kept.pop()
    return np.array(kept)
