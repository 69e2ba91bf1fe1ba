"""What a run asks of its machines, apart from how fast they are: enough to time it anew.

Printing is linear in warm-up, turnaround and the carriage's slowness. Moving the knife is not
linear in speed and acceleration, but where both the speed is k times and the acceleration k²
times as great, every move takes the k-th part of its time, so speed times time depends on
acceleration / speed² alone: a table of that one ratio tells all.
"""

from bisect import bisect_right
from dataclasses import dataclass
from functools import lru_cache
from math import exp, log

import numpy as np

from nestplan.clock.cut_time import cut_s
from nestplan.clock.print_time import print_s
from nestplan.cut import CutPlan
from nestplan.job import Machine, PrintMode
from nestplan.marks import MarkPlan

RATIO_LEAST, RATIO_MOST = 1e-4, 1e1  # mm^-1: 1 g at 10 m/s to 10 mm/s
RATIOS = 16
STILL = 1e30  # mm/s: a carriage that takes no time


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintProfile:
    """Time is warm_ups * warm_up_s + turns * turnaround_s + way_mm / carriage_mm_s."""

    warm_ups: float
    turns: float
    way_mm: float

    def time_s(self, *, warm_up_s: float, turnaround_s: float, carriage_mm_s: float) -> float:
        """The run printed so."""
        return self.warm_ups * warm_up_s + self.turns * turnaround_s + self.way_mm / carriage_mm_s


@dataclass(frozen=True, slots=True, kw_only=True)
class CutProfile:
    """Counts, and the knife's way: speed times time (mm) by acceleration / speed² (1/mm).

    winds: 1 a run, back from the print to the first mark.
    """

    winds: float
    marks: float
    lifts: float
    tool_changes: float
    windows: float
    ratio: tuple[float, ...]
    way_mm: tuple[float, ...]

    def moving_s(self, speed_mm_s: float, acceleration_mm_s2: float) -> float:
        """All moves of knife and head."""
        log_way, _ = self.log_way(log(acceleration_mm_s2 / speed_mm_s**2))
        return exp(log_way) / speed_mm_s

    def log_way(self, log_ratio: float) -> tuple[float, float]:
        """Natural logarithm of the way over that of the ratio, and its slope.

        Below the table all is acceleration, and the way goes as the root of the ratio.
        """
        starts, coefficients = _curve(self.ratio, self.way_mm)
        if log_ratio < starts[0]:
            return coefficients[0][3] + 0.5 * (starts[0] - log_ratio), -0.5
        inside = min(log_ratio, starts[-1])
        at = min(bisect_right(starts, inside), len(coefficients)) - 1
        a, b, c, d = coefficients[at]
        x = inside - starts[at]
        slope = (3 * a * x + 2 * b) * x + c if log_ratio <= starts[-1] else 0.0
        return ((a * x + b) * x + c) * x + d, slope


@lru_cache(maxsize=4096)
def _curve(
    ratio: tuple[float, ...], way_mm: tuple[float, ...]
) -> tuple[list[float], list[list[float]]]:
    """A smooth curve that never swings: Fritsch and Carlson, SIAM J. Numer. Anal. 17 (1980) 238."""
    from scipy.interpolate import PchipInterpolator  # takes long to load, and few commands ask

    known = PchipInterpolator(np.log(ratio), np.log(way_mm))
    return known.x.tolist(), known.c.T.tolist()


def print_profile(
    mode: PrintMode,
    *,
    width_mm: float,
    lengths_mm: tuple[float, ...],
    white: bool = False,
    twice: bool = False,
) -> PrintProfile:
    """What `print_s` depends on, found by asking it."""

    def asked(**keys: float) -> float:
        still = {"warm_up_s": 0.0, "turnaround_s": 0.0, "carriage_mm_s": STILL, **keys}
        return print_s(
            mode.model_copy(update=still),
            width_mm=width_mm,
            lengths_mm=lengths_mm,
            white=white,
            twice=twice,
        )

    return PrintProfile(
        warm_ups=asked(warm_up_s=1.0),
        turns=asked(turnaround_s=1.0),
        way_mm=asked(carriage_mm_s=1.0),
    )


def cut_profile(machine: Machine, marks: MarkPlan, cut: CutPlan) -> CutProfile:
    """What `cut_s` depends on, found by asking it.

    Limits of the web's own count as shares of the head's: they grow and shrink with them.
    """
    assert machine.speed_mm_s is not None, "the job room refuses a cutter without a speed"
    assert machine.acceleration_mm_s2 is not None, "nor one without an acceleration"
    assert machine.sensor is not None, "the job room refuses a cutter without a sensor"
    still = {"wind_back_s": 0.0, "lift_s": 0.0, "tool_change_s": 0.0, "window_s": 0.0}
    deaf = machine.sensor.model_copy(update={"read_s": 0.0})
    shares: dict[str, float] = {}
    if machine.web_speed_mm_s is not None:
        shares["web_speed_mm_s"] = machine.web_speed_mm_s / machine.speed_mm_s
    if machine.web_acceleration_mm_s2 is not None:
        share = machine.web_acceleration_mm_s2 / machine.acceleration_mm_s2
        shares["web_acceleration_mm_s2"] = share

    def asked(ratio: float = RATIO_MOST, reads_s: float = 0.0, **keys: float) -> float:
        sensor = deaf.model_copy(update={"read_s": reads_s})
        moving = {"speed_mm_s": 1.0, "acceleration_mm_s2": ratio}
        web = {key: of * moving[key.removeprefix("web_")] for key, of in shares.items()}
        return cut_s(
            machine.model_copy(update={**still, **moving, **web, "sensor": sensor, **keys}),
            marks,
            cut,
        )

    none = asked()
    ratios = np.geomspace(RATIO_LEAST, RATIO_MOST, RATIOS)
    return CutProfile(
        winds=round(asked(wind_back_s=1.0) - none, 6),
        marks=round(asked(reads_s=1.0) - none, 6),
        lifts=round(asked(lift_s=1.0) - none, 6),
        tool_changes=round(asked(tool_change_s=1.0) - none, 6),
        windows=round(asked(window_s=1.0) - none, 6),
        ratio=tuple(float(ratio) for ratio in ratios),
        way_mm=tuple(asked(float(ratio)) for ratio in ratios),
    )
