"""One pattern of files, by a handful of lengths, and how those lengths are improved."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from itertools import combinations, product

import numpy as np
from numpy.typing import NDArray

from nestplan.nest.engine import never
from nestplan.nest.files_of_one import File, Files

Floats = NDArray[np.float64]

OFFSETS = 40  # of the second piece of a file, tried first
SHIFTS = 48  # of the next file, tried first
STARTS = 3  # of the first file, tried first, besides those flush with the edge
SWEEPS_MOST = 60  # over all directions: in a narrow valley the last thousandths cost the most
STEPS_MOST = 12  # files counted from one that may still meet it; looser patterns are no use
TURN_DEG = 0.5  # first step of the angle
RATIOS = (0.25, 1.0, 4.0)  # of two steps together: contacts of turned pieces make narrow valleys


@dataclass(frozen=True, kw_only=True, eq=False)
class Plan:
    """A pattern: its files, and how they follow each other.

    one, other: variants of a file (None: one only); offset_mm: of the second, across.
    stretch:    pitch as a share of the tightest.
    turned:     every second file by half a turn.
    drifts:     files go on shifting one way, instead of back.
    start_mm, shift_mm, back_mm: along the files: of the first, from each first to a second
                and from each second to a first.
    """

    files: Files
    one: int
    other: int | None
    offset_mm: float
    turned: bool
    stretch: float = 1.0
    drifts: bool = False
    start_mm: float = 0.0
    shift_mm: float = 0.0
    back_mm: float = 0.0
    length_mm: float = float("inf")

    @cached_property
    def pair(self) -> tuple[File, File] | None:
        """The two files that alternate."""
        tight = self.files.tightest(self.one, self.other, self.offset_mm)
        if tight is None or self.stretch < 1.0:
            return None
        first = self.files.stretched(tight, tight.pitch_mm * self.stretch)
        second = self.files.turned(first) if self.turned else first
        return None if second is None else (first, second)

    def rises_mm(self) -> Floats | None:
        """(2,) how far up from a first file to the second, and on to the next first; exact.

        None where no pattern results.
        """
        if self.pair is None:
            return None
        up = self._slide_mm(1, 0)
        home = max(self._slide_mm(1, 1), self._slide_mm(2, 0) - up)
        if not up + home > 0.0:
            return None
        lows, highs = zip(*(self.files.span_v(file) for file in self.pair), strict=True)
        tall_mm = max(highs) - min(lows) + self.files.apart_mm
        steps = 3  # files that stand so far apart meet where pieces are tall and files loose
        while (steps // 2) * (up + home) < tall_mm:
            for second in (0, 1) if steps % 2 else (0,):
                homes = (steps + second) // 2
                least = self._slide_mm(steps, second) - (steps - homes) * up
                home = max(home, least / homes)
            steps += 1
            if steps > STEPS_MOST:
                return None
        return np.array([up, home])

    def _slide_mm(self, steps: int, second: int) -> float:
        """Exact slide of the file so many steps after a first file, or after a second one."""
        assert self.pair is not None
        homes = (steps + second) // 2
        shift_mm = np.array([homes * self.back_mm + (steps - homes) * self.shift_mm])
        lower, upper = self.pair[second], self.pair[(second + steps) % 2]
        return float(self.files.slide(lower, upper, shift_mm, exact=True)[0])


def improved(
    plan: Plan,
    measure: Callable[[Plan], float],
    *,
    least_step_mm: float,
    first_step_mm: float | None = None,
    turns: bool = False,
    stopped: Callable[[], bool] = never,
) -> tuple[Plan, float]:
    """The plan and its measure after steps in all its lengths, ever smaller ones.

    first_step_mm: of the shift; absent, as wide as the grid that the plan was found on.
    turns:         the angle of all pieces may change too.
    stopped:       True ends the steps with the best so far.
    """
    reach_mm = plan.files.reach_mm(plan.one)
    grid_mm = reach_mm / SHIFTS
    steps = np.array(
        [reach_mm / OFFSETS, 0.02, reach_mm / (STARTS + 1), grid_mm, grid_mm, TURN_DEG]
    )
    if first_step_mm is not None:
        steps *= first_step_mm / grid_mm
    ways = list(_ways(plan, turns))
    at = np.array([plan.offset_mm, plan.stretch, plan.start_mm, plan.shift_mm, plan.back_mm, 0.0])
    turned = lru_cache(maxsize=8)(plan.files.turned_by)  # most steps keep the angle
    best = measure(plan)
    sweeps = 0
    while steps[3] > least_step_mm and sweeps < SWEEPS_MOST and not stopped():
        sweeps += 1
        better = False
        for way in ways:
            trial = at + steps * way
            trial[1] = max(trial[1], 1.0)
            tried = _at(plan, turned(float(trial[5])), trial)
            found = measure(tried)
            if found < best - 1e-9:
                at, best, plan, better = trial, found, tried, True
        if not better:
            steps = steps * 0.5
    return plan, best


def _ways(plan: Plan, turns: bool) -> list[Floats]:
    """Directions to step in: each length alone, and any two together, there and back.

    Lengths: offset, stretch, start, shift, back, angle. A file that comes back shifts as far
    the other way.
    """
    lengths = [[0, 1, 0, 0, 0, 0], [0, 0, 1, 0, 0, 0]]
    if plan.other is not None:
        lengths.append([1, 0, 0, 0, 0, 0])
    if plan.drifts and plan.turned:
        lengths += [[0, 0, 0, 1, 0, 0], [0, 0, 0, 0, 1, 0]]
    else:
        lengths.append([0, 0, 0, 1, 1 if plan.drifts else -1, 0])
    if turns:
        lengths.append([0, 0, 0, 0, 0, 1])
    alone = np.array(lengths, dtype=np.float64)
    ways = [sign * way for way in alone for sign in (-1, 1)]
    ratios = RATIOS if turns else (1.0,)
    for one, other in combinations(alone, 2):
        ways += [a * one + b * r * other for a, b, r in product((-1, 1), (-1, 1), ratios)]
    return ways


def _at(plan: Plan, files: Files, at: Floats) -> Plan:
    offset, stretch, start, shift, back, _ = at.tolist()
    return replace(
        plan,
        files=files,
        offset_mm=offset,
        stretch=stretch,
        start_mm=start,
        shift_mm=shift,
        back_mm=back,
    )
