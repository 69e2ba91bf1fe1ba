"""Setups side by side: at several quantities, for a day's mix, and where the better one changes."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from nestplan.compare.on_setup import OnSetup

Measure = Literal["per_decal", "one_run_s", "first_s"]
RUNS_MOST = 1_000
MEASURES: tuple[Measure, ...] = ("per_decal", "one_run_s", "first_s")


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """Where another setup becomes the better one as copies grow.

    copies: where straight lines between the planned quantities meet; it lies between
    `from_copies` and `to_copies`, which were planned. low, high: the same where the times are
    off by their 90 % intervals, against and for the later setup; None where these are not known
    or the better one does not change within what was planned.
    """

    measure: Measure
    before: str
    after: str
    copies: int
    from_copies: int
    to_copies: int
    low: int | None = None
    high: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Overtake:
    """From so many equal runs on, one after the other, another setup is done with all first."""

    runs: int
    before: str
    after: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Mix:
    """A day's jobs on one setup alone.

    done: by the end of the shift; proven: no order is better.
    """

    setup: str
    jobs: int
    done: int
    end_s: int
    bound_s: int
    late: int
    proven: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """by_copies: for each quantity, in rising order, the setups that can do it.

    ordered: which of them is as ordered. without: setups that cannot, with the reason.
    """

    job: str
    currency: str
    shift_h: float
    by_copies: tuple[tuple[OnSetup, ...], ...]
    ordered: int
    crossings: tuple[Crossing, ...]
    overtakes: tuple[Overtake, ...]
    without: tuple[tuple[str, str], ...]
    mixes: tuple[Mix, ...]
    version: str
    seed: int
    steps: int

    @property
    def here(self) -> tuple[OnSetup, ...]:
        """The setups at the ordered quantity."""
        return self.by_copies[self.ordered]


def compare(
    by_copies: Sequence[tuple[OnSetup, ...]],
    *,
    job: str,
    currency: str,
    shift_h: float,
    ordered: int,
    version: str,
    seed: int,
    steps: int,
    without: Sequence[tuple[str, str]] = (),
    mixes: Sequence[Mix] = (),
) -> Comparison:
    """Put planned runs side by side and find where the better setup changes."""
    return Comparison(
        job=job,
        currency=currency,
        shift_h=shift_h,
        by_copies=tuple(by_copies),
        ordered=ordered,
        crossings=tuple(c for measure in MEASURES for c in crossings(by_copies, measure)),
        overtakes=tuple(overtakes(by_copies[ordered])),
        without=tuple(without),
        mixes=tuple(mixes),
        version=version,
        seed=seed,
        steps=steps,
    )


def crossings(by_copies: Sequence[tuple[OnSetup, ...]], measure: Measure) -> list[Crossing]:
    """Between neighbouring quantities whose best setups differ."""
    found = []
    for few, many in pairwise(by_copies):
        before, after = _best(few, measure), _best(many, measure)
        if before == after:
            continue
        pairs = [_of(few, before), _of(few, after), _of(many, before), _of(many, after)]
        if None in pairs:
            continue
        here, there = few[0].copies, many[0].copies
        at = _meets(pairs, measure, 0.0)
        assert at is not None, "the better one changes between the two"
        low = high = None
        if measure != "per_decal" and all(each and each.spread_s is not None for each in pairs):
            low, high = (_meets(pairs, measure, sign) for sign in (1.0, -1.0))
        found.append(
            Crossing(
                measure=measure,
                before=before,
                after=after,
                copies=round(here + at * (there - here)),
                from_copies=here,
                to_copies=there,
                low=None if low is None else round(here + low * (there - here)),
                high=None if high is None else round(here + high * (there - here)),
            )
        )
    return found


def overtakes(setups: Sequence[OnSetup]) -> list[Overtake]:
    """Which setup is done first with 1, 2, 3 … equal runs, and from where on another one is.

    The n-th run is done after one_run_s + (n - 1) times what a run puts off the next one by.
    """
    found: list[Overtake] = []
    best = _first_done(setups, 1)
    for runs in range(2, RUNS_MOST + 1):
        now = _first_done(setups, runs)
        if now != best:
            found.append(Overtake(runs=runs, before=best, after=now))
            best = now
    return found


def _first_done(setups: Sequence[OnSetup], runs: int) -> str:
    return min(
        setups, key=lambda one: (one.one_run_s + (runs - 1) * one.rush_delay_s, one.setup)
    ).setup


def _best(setups: Sequence[OnSetup], measure: Measure) -> str:
    return min(setups, key=lambda each: (getattr(each, measure), each.setup)).setup


def _of(setups: Sequence[OnSetup], name: str) -> OnSetup | None:
    return next((each for each in setups if each.setup == name), None)


def _meets(pairs: Sequence[OnSetup | None], measure: Measure, off: float) -> float | None:
    """Share of the way where the two lines meet; off: spreads by which the second is better."""
    a0, b0, a1, b1 = (each for each in pairs if each is not None)
    gap0 = float(getattr(b0, measure)) - float(getattr(a0, measure)) - off * _both_s(a0, b0)
    gap1 = float(getattr(b1, measure)) - float(getattr(a1, measure)) - off * _both_s(a1, b1)
    if gap0 * gap1 > 0:
        return None
    return gap0 / (gap0 - gap1) if gap0 != gap1 else 0.5


def _both_s(a: OnSetup, b: OnSetup) -> float:
    """Half the 90 % interval of the difference of two times that are off independently."""
    return float(((a.spread_s or 0.0) ** 2 + (b.spread_s or 0.0) ** 2) ** 0.5)
