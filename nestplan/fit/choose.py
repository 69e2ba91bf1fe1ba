"""The simplest fit that the marks justify.

A fit is enough when no richer one takes up significantly more, neither by the F test at 1 %,
F = ((S_a - S_b) / (p_b - p_a)) / (S_b / (2n - p_b)), S the residual squares after whitening,
nor against the scatter that the shop's figures expect (chi-square of S_a - S_b, 1 %, with the
scatter of this print where that is greater): few marks leave the F test little to go by.
Strips are taken only where an affine fit is not enough by either test: they leave least to
check a mark with.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from nestplan.fit.maps import KINDS, Array, Kind, Turn, can_fit, fit_map
from nestplan.fit.noise import Noise, Residuals, residuals

F_LEVEL, EXPECTED_LEVEL = 0.01, 0.01
ROUGH_LEVEL = 1e-3  # residuals rarer than this are no ordinary print


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """One kind of fit. chance: of residuals at least as great from an ordinary print.

    rms_mm: of what plain least squares leave, x and y together.

    beaten_by, f, f_chance: the richer fit that takes up most against it, where there is one.
    """

    kind: Kind
    figures: int
    square: float
    dof: int
    chance: float
    rms_mm: float
    beaten_by: Kind | None = None
    f: float | None = None
    f_chance: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """All that was tried, and what was taken; full: the richest fit that is believed."""

    kind: Kind
    full: Kind
    tried: tuple[Tried, ...]
    factor: float

    def of(self, kind: Kind) -> Tried:
        """What came of one kind."""
        return next(each for each in self.tried if each.kind == kind)


def choose(noise: Noise, planned_mm: Array, seen_mm: Array, turn: Turn) -> Choice:
    """Pick a kind for marks (n, 2) that were matched."""
    printed = turn.back(seen_mm)
    kinds = [kind for kind in KINDS if can_fit(kind, planned_mm)]
    found: dict[Kind, Residuals] = {}
    rms: dict[Kind, float] = {}
    for kind in kinds:
        at = seen_mm if kind == "shift" else printed  # a shift alone leaves the turn
        found[kind] = residuals(kind, noise, planned_mm, at)
        off = at - fit_map(kind, planned_mm, at).at(planned_mm)
        rms[kind] = float(np.sqrt((off**2).sum(axis=1).mean()))
    full: Kind = "affine" if "affine" in kinds else kinds[-1]
    if "strips" in kinds and _needs_strips(found["affine"], found["strips"]):
        full = "strips"
    believed = kinds[: kinds.index(full) + 1]
    tried = tuple(_tried(kind, found, believed, rms[kind]) for kind in kinds)
    last = next(each for each in tried if each.kind == full)
    factor = float(np.sqrt(max(last.square / last.dof, 1.0))) if last.dof else 1.0
    for each in tried:
        beaten = each.f_chance is not None and each.f_chance < F_LEVEL
        if each.kind == full or not (beaten or _outdone(each, tried, believed, factor**2)):
            chosen = each.kind
            break
    return Choice(kind=chosen, full=full, tried=tried, factor=factor)


def _outdone(each: Tried, tried: Sequence[Tried], believed: Sequence[Kind], factor2: float) -> bool:
    """Whether a richer fit takes up more than noise of the expected size would let it."""
    return any(
        stats.chi2.sf((each.square - rich.square) / factor2, each.dof - rich.dof) < F_LEVEL
        for rich in tried
        if rich.kind in believed and rich.dof < each.dof
    )


def f_test(simple: Residuals, rich: Residuals) -> tuple[float, float]:
    """F of a richer fit against a simpler one, and the chance of so great an F by noise alone."""
    more = simple.dof - rich.dof
    if rich.dof <= 0:
        return 0.0, 1.0
    f = max(simple.square - rich.square, 0.0) / more / (max(rich.square, 1e-12) / rich.dof)
    return f, float(stats.f.sf(f, more, rich.dof))


def expected(left: Residuals) -> float:
    """Chance of residuals at least as great, if the shop's figures are right."""
    return float(stats.chi2.sf(left.square, left.dof)) if left.dof > 0 else 1.0


def _needs_strips(affine: Residuals, strips: Residuals) -> bool:
    return (
        strips.dof > 0 and expected(affine) < EXPECTED_LEVEL and f_test(affine, strips)[1] < F_LEVEL
    )


def _tried(
    kind: Kind, found: dict[Kind, Residuals], believed: Sequence[Kind], rms_mm: float
) -> Tried:
    left = found[kind]
    richer = [other for other in believed if found[other].dof < left.dof]
    tests = {other: f_test(left, found[other]) for other in richer}
    by = min(tests, key=lambda other: tests[other][1], default=None)
    return Tried(
        kind=kind,
        figures=len(left.shifts_mm) - left.dof,
        square=left.square,
        dof=left.dof,
        chance=expected(left),
        rms_mm=rms_mm,
        beaten_by=by,
        f=tests[by][0] if by else None,
        f_chance=tests[by][1] if by else None,
    )
