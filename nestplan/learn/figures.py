"""The figures of a shop that stopwatch readings can tell, and times as a function of them.

Every figure is positive and looked at by its logarithm: a speed is known by a factor.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import exp

import numpy as np
from numpy.typing import NDArray

from nestplan.clock import CutProfile
from nestplan.job import Machine, Setup, ShopFile, stages_of
from nestplan.learn.runs import TimedRun
from nestplan.learn.timings import Stage

Array = NDArray[np.float64]
# how far a figure of a shop file may be off before anything was measured, standard deviation of
# its natural logarithm: a speed by half as much again, a time by twice; common practice, no source
SPEED_SD, TIME_SD = 0.4, 0.7
UNSET_S = {  # where the file says 0: what is usual, common practice, no source
    "warm_up_s": 60.0,
    "turnaround_s": 0.4,
    "wind_back_s": 30.0,
    "read_s": 1.5,
    "lift_s": 0.08,
    "tool_change_s": 30.0,
    "window_s": 5.0,
    "handling_s": 180.0,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A figure. owner: a machine, or a setup for hands; part: the mode or the stage it is of."""

    owner: str
    part: str
    key: str
    value: float
    sd: float

    @property
    def words(self) -> str:
        """printer, six passes: carriage_mm_s."""
        return f"{self.owner}{f', {self.part}' if self.part else ''}: {self.key}"


def figures_of(shop: ShopFile, runs: Sequence[TimedRun]) -> tuple[Figure, ...]:
    """Every figure that the time of one of these runs depends on, in the order of the file."""
    used: dict[tuple[str, str, str], Figure] = {}
    for machine in shop.machine:
        here = [run for run in runs if machine.name in run.machines.values()]
        for figure in _of_machine(machine, here):
            used[figure.owner, figure.part, figure.key] = figure
    for setup in shop.setup:
        for run in runs:
            if run.setup.name != setup.name:
                continue
            for figure in _of_setup(setup, shop, run.laminated):
                used[figure.owner, figure.part, figure.key] = figure
    return tuple(used.values())


def _of_machine(machine: Machine, runs: Sequence[TimedRun]) -> list[Figure]:
    found: list[Figure] = []

    def add(key: str, value: float | None, part: str = "") -> None:
        known = value or UNSET_S.get(key, 1.0)
        sd = SPEED_SD if value and "mm_s" in key else TIME_SD
        found.append(Figure(owner=machine.name, part=part, key=key, value=known, sd=sd))

    modes = {run.mode for run in runs if run.machines["print"] == machine.name}
    for mode in machine.mode:
        if mode.name in modes:
            for key in ("carriage_mm_s", "turnaround_s", "warm_up_s"):
                add(key, getattr(mode, key), mode.name)
    if any(run.machines.get("laminate") == machine.name for run in runs):
        add("laminate_mm_s", machine.laminate_mm_s)
    cuts = [run.cutting for run in runs if run.machines["cut"] == machine.name]
    if cuts:
        assert machine.sensor is not None, "the job room refuses a cutter without a sensor"
        for key in ("speed_mm_s", "acceleration_mm_s2", "lift_s", "wind_back_s"):
            add(key, getattr(machine, key))
        add("read_s", machine.sensor.read_s, "sensor")
        if any(cut.tool_changes for cut in cuts):
            add("tool_change_s", machine.tool_change_s)
        if any(cut.windows for cut in cuts):
            add("window_s", machine.window_s)
    return found


def _of_setup(setup: Setup, shop: ShopFile, laminated: bool) -> list[Figure]:
    """The hands of each stage."""
    return [
        Figure(
            owner=setup.name,
            part=does,
            key="handling_s",
            value=stage.handling_s or UNSET_S["handling_s"],
            sd=TIME_SD,
        )
        for does, _, stage in stages_of(shop, setup, laminated=laminated)
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeModel:
    """Times of runs as a function of the logarithms of the figures."""

    figures: tuple[Figure, ...]

    @property
    def start(self) -> Array:
        """The shop file's own figures."""
        return np.log([figure.value for figure in self.figures])

    @property
    def spread(self) -> Array:
        """How far each may be off, before anything was measured."""
        return np.array([figure.sd for figure in self.figures])

    def time_s(self, logs: Array, run: TimedRun, stage: Stage) -> float:
        """How long the stage of the run takes; a whole run with its hands and waits."""
        return self._timed(logs, run, stage)[0]

    def slope(self, logs: Array, run: TimedRun, stage: Stage) -> Array:
        """By how much the logarithm of the time changes with each logarithm."""
        seconds, slopes = self._timed(logs, run, stage)
        return slopes / seconds

    def _timed(self, logs: Array, run: TimedRun, stage: Stage) -> tuple[float, Array]:
        """The time and its slope along each logarithm: of each part the part itself, but for
        the moving knife, where two figures bend it.
        """
        index = _index(self.figures)
        slopes = np.zeros(len(logs))
        total = 0.0
        for each in _stages(run) if stage == "run" else [stage]:
            for owner, part, key, times, power in _parts(run, each):
                at = index[owner, part, key]
                seconds = times * exp(power * min(max(logs[at], -20.0), 20.0))
                total += seconds
                slopes[at] += power * seconds
            if each == "cut":
                cutter = run.machines["cut"]
                speed = index[cutter, "", "speed_mm_s"]
                acceleration = index[cutter, "", "acceleration_mm_s2"]
                seconds, bend = _moving(run.cutting, logs[speed], logs[acceleration])
                total += seconds
                slopes[speed] -= seconds * (1 + 2 * bend)
                slopes[acceleration] += seconds * bend
        if stage == "run":
            for does in run.machines:
                at = index[run.setup.name, does, "handling_s"]
                seconds = exp(min(max(logs[at], -20.0), 20.0))
                total += seconds
                slopes[at] += seconds
            total += waits_s(run)
        return total, slopes


@lru_cache(maxsize=64)
def _index(figures: tuple[Figure, ...]) -> dict[tuple[str, str, str], int]:
    return {(each.owner, each.part, each.key): k for k, each in enumerate(figures)}


def _parts(run: TimedRun, stage: Stage) -> list[tuple[str, str, str, float, int]]:
    """Owner, part and key of each figure, how often it counts, and whether it divides."""
    machine = run.machines[stage]
    if stage == "laminate":
        return [(machine, "", "laminate_mm_s", run.film_mm, -1)]
    if stage == "print":
        of = run.printing
        return [
            (machine, run.mode, "carriage_mm_s", of.way_mm, -1),
            (machine, run.mode, "turnaround_s", of.turns, 1),
            (machine, run.mode, "warm_up_s", of.warm_ups, 1),
        ]
    cut = run.cutting
    counted = [
        ("", "wind_back_s", cut.winds),
        ("sensor", "read_s", cut.marks),
        ("", "lift_s", cut.lifts),
        ("", "tool_change_s", cut.tool_changes),
        ("", "window_s", cut.windows),
    ]
    return [(machine, part, key, times, 1) for part, key, times in counted if times]


def _moving(cut: CutProfile, speed: float, acceleration: float) -> tuple[float, float]:
    """Seconds of all moves, and how the logarithm of way bends with that of the ratio."""
    log_way, bend = cut.log_way(acceleration - 2 * speed)
    return exp(min(max(log_way - speed, -40.0), 40.0)), bend


def _stages(run: TimedRun) -> list[Stage]:
    return ["print", "laminate", "cut"] if run.laminated else ["print", "cut"]


def waits_s(run: TimedRun) -> float:
    """Drying and outgassing between the stages, as the shop file has them."""
    names = set(run.machines.values())
    waits = 0.0
    for stage in run.setup.stages:
        if stage.machine in names and not (stage.does == "laminate" and not run.laminated):
            waits += stage.lag_s
    return waits
