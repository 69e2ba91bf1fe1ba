"""What the readings tell: figures with their uncertainty, one misread time left out.

Logarithms of times are taken to scatter alike. The shop file's figures count as known to a
factor, so that what the readings cannot tell stays where it was. The posterior is taken as
normal about its mode (Laplace); the scatter itself is estimated too, so intervals are Student's.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares
from scipy.stats import t as student

from nestplan.job import ShopFile
from nestplan.learn.figures import Array, Figure, TimeModel, figures_of
from nestplan.learn.runs import TimedRun
from nestplan.learn.timings import STAGES, Stage, Timing

SCATTER = 0.02  # of a stopwatch reading, before any: 2 %; common practice, no source
SCATTER_WORTH = 3.0  # readings that this guess counts for
BAD_CHANCE = 0.01  # of calling any of the good readings bad
BAD_SHARE = 6  # of so many readings one may be left out
TOLD_RATIO = 0.5  # a spread that stays above this share of what it was: the readings do not tell
ROUNDS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """A figure after the readings. low, high: its 90 % interval; told: whether they tell it."""

    figure: Figure
    value: float
    low: float
    high: float
    told: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Best:
    """The reading that would tell most. share: of the uncertainty of all times, that it takes."""

    run: str
    stage: Stage
    share: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Learning:
    """Everything the readings tell.

    logs, covariance: of the figures' logarithms; scatter: of a reading, share of its time;
    freedom: degrees for Student's t; bad: readings left out; best: what to time next.
    """

    model: TimeModel
    logs: Array
    covariance: Array
    scatter: float
    freedom: float
    bad: tuple[Timing, ...]
    used: tuple[Timing, ...]
    learned: tuple[Learned, ...]
    best: Best | None

    def time_s(self, run: TimedRun, stage: Stage) -> float:
        """The time now expected."""
        return self.model.time_s(self.logs, run, stage)

    def spread(self, run: TimedRun, stage: Stage) -> float:
        """How far a reading may be from it, standard deviation of the logarithm."""
        slope = self.model.slope(self.logs, run, stage)
        return float(np.sqrt(slope @ self.covariance @ slope + self.scatter**2))

    def interval_s(self, run: TimedRun, stage: Stage) -> tuple[float, float]:
        """90 % of readings lie between."""
        middle = self.time_s(run, stage)
        factor = float(np.exp(student.ppf(0.95, self.freedom) * self.spread(run, stage)))
        return middle / factor, middle * factor


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fit:
    logs: Array
    covariance: Array
    scatter: float
    freedom: float


def learn(model: TimeModel, runs: dict[str, TimedRun], timings: Sequence[Timing]) -> Learning:
    """Fit the figures to the readings; runs: by the name of their plan."""
    good: list[Timing] = list(timings)
    bad: list[Timing] = []
    fit = _fit(model, runs, good)
    while len(bad) < max(1, len(timings) // BAD_SHARE) and len(good) > 3:
        worst = _worst(model, runs, good, fit)
        if worst is None:
            break
        bad.append(good.pop(worst))
        fit = _fit(model, runs, good)
    return Learning(
        model=model,
        logs=fit.logs,
        covariance=fit.covariance,
        scatter=fit.scatter,
        freedom=fit.freedom,
        bad=tuple(bad),
        used=tuple(good),
        learned=tuple(_learned(model, fit)),
        best=_best(model, fit, runs),
    )


def model_of(shop: ShopFile, runs: dict[str, TimedRun]) -> TimeModel:
    """The figures that these runs' times depend on."""
    return TimeModel(figures=figures_of(shop, list(runs.values())))


def _fit(
    model: TimeModel,
    runs: dict[str, TimedRun],
    timings: Sequence[Timing],
    near: Array | None = None,
) -> _Fit:
    start, spread = model.start, model.spread
    observed = np.log([timing.seconds for timing in timings])

    def misfit(logs: Array) -> Array:
        return observed - np.log([model.time_s(logs, runs[t.plan], t.stage) for t in timings])

    def bent(logs: Array) -> Array:
        return np.array([model.slope(logs, runs[t.plan], t.stage) for t in timings])

    logs: Array = start if near is None else near
    scatter, freedom = SCATTER, SCATTER_WORTH
    covariance = np.diag(spread**2)
    for _ in range(ROUNDS):
        found = least_squares(
            lambda x, s=scatter: np.concatenate([misfit(x) / s, (x - start) / spread]),
            logs,
            jac=lambda x, s=scatter: np.vstack([-bent(x) / s, np.diag(1 / spread)]),
            method="lm",
            xtol=1e-9,
            ftol=1e-9,
        )
        logs = np.asarray(found.x, dtype=np.float64)
        slopes = bent(logs)
        precision = slopes.T @ slopes / scatter**2 + np.diag(spread**-2.0)
        covariance = np.asarray(np.linalg.inv(precision), dtype=np.float64)
        taken = float(np.trace(slopes @ covariance @ slopes.T)) / scatter**2
        freedom = SCATTER_WORTH + max(0.0, len(timings) - taken)
        squares = SCATTER_WORTH * SCATTER**2 + float((misfit(logs) ** 2).sum())
        scatter = float(np.sqrt(squares / freedom))
    return _Fit(logs=logs, covariance=covariance, scatter=scatter, freedom=freedom)


def _worst(
    model: TimeModel, runs: dict[str, TimedRun], timings: list[Timing], fit: _Fit
) -> int | None:
    """The reading that the others say is wrong, by its distance from a fit without it."""
    errors = []
    for k, timing in enumerate(timings):
        others = timings[:k] + timings[k + 1 :]
        without = _fit(model, runs, others, fit.logs)
        run = runs[timing.plan]
        slope = model.slope(without.logs, run, timing.stage)
        sd = np.sqrt(slope @ without.covariance @ slope + without.scatter**2)
        off = np.log(timing.seconds / model.time_s(without.logs, run, timing.stage)) / sd
        chance = 2 * student.sf(abs(off), without.freedom)
        errors.append((float(chance), k))
    chance, worst = min(errors)
    return worst if chance < BAD_CHANCE / len(timings) else None


def _learned(model: TimeModel, fit: _Fit) -> list[Learned]:
    factor = student.ppf(0.95, fit.freedom)
    found = []
    for k, figure in enumerate(model.figures):
        sd = float(np.sqrt(fit.covariance[k, k]))
        found.append(
            Learned(
                figure=figure,
                value=float(np.exp(fit.logs[k])),
                low=float(np.exp(fit.logs[k] - factor * sd)),
                high=float(np.exp(fit.logs[k] + factor * sd)),
                told=sd <= TOLD_RATIO * figure.sd,
            )
        )
    return found


def _best(model: TimeModel, fit: _Fit, runs: dict[str, TimedRun]) -> Best | None:
    """The reading after which all stages of all runs are known best."""
    kinds = [
        (name, stage)
        for name, run in runs.items()
        for stage in STAGES
        if stage == "run" or stage in run.machines
    ]
    slopes = {kind: model.slope(fit.logs, runs[kind[0]], kind[1]) for kind in kinds}
    spread = {kind: fit.covariance @ slope for kind, slope in slopes.items()}
    before = sum(float(slopes[kind] @ spread[kind]) for kind in kinds)
    best: Best | None = None
    for kind in kinds:
        own = float(slopes[kind] @ spread[kind]) + fit.scatter**2
        taken = sum(float(slopes[other] @ spread[kind]) ** 2 / own for other in kinds)
        share = taken / before if before > 0 else 0.0
        if best is None or share > best.share + 1e-9:
            best = Best(run=kind[0], stage=kind[1], share=share)
    return best
