"""Overs: how many extra copies make it sure enough that the good ones suffice. Exact sums.

A run fails whole, or does not; then each frame is spoiled whole or not; then each copy on a
sound frame is spoiled or not; all of it independently. Copies that are good among m on sound
frames are binomial, and sound frames of one mix are too. Nothing is simulated here.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from functools import lru_cache
from itertools import product
from math import comb, inf, log, prod

from scipy.special import betainc

OVERS_MOST = 20  # times what is ordered: more is no answer


@dataclass(frozen=True, slots=True, kw_only=True)
class Spoilage:
    """Chances from 0 to 1 of losing one copy, one frame, one run; certainty: what is wanted."""

    copy: float
    frame: float
    run: float
    certainty: float

    @property
    def none(self) -> bool:
        """Nothing is ever spoiled."""
        return self.copy == self.frame == self.run == 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Overs:
    """Extra copies by decal, and the chance that then enough of all come out.

    wanted: that chance reaches what was asked. Where it is False no number of extra copies
    does, for the run or all its frames are lost too often; the overs then make it as sure for
    a run in which a frame at least is sound.
    """

    extra: tuple[int, ...]
    chance: float
    wanted: bool


def spoilage_of(
    *, copy_percent: Decimal, frame_percent: Decimal, run_percent: Decimal, certainty: Decimal
) -> Spoilage:
    """From hundredths. These are chances, and no price comes from a float of them."""
    return Spoilage(
        copy=float(copy_percent / 100),
        frame=float(frame_percent / 100),
        run=float(run_percent / 100),
        certainty=float(certainty / 100),
    )


def by_percent(ordered: Sequence[int], percent: Decimal) -> tuple[int, ...]:
    """So many hundredths of every decal's copies more, rounded up."""
    return tuple(int((n * percent / 100).to_integral_value(ROUND_CEILING)) for n in ordered)


def enough(ordered: Sequence[int], frames: Sequence[Sequence[int]], spoilage: Spoilage) -> float:
    """The chance that a run has enough good copies of every decal.

    frames: copies of each decal on each frame, frame by frame.
    """
    lost = spoilage.frame
    if lost == 0:
        made = [sum(frame[k] for frame in frames) for k in range(len(ordered))]
        return (1 - spoilage.run) * _all_enough(ordered, made, spoilage.copy)
    mixes = Counter(tuple(frame) for frame in frames)
    chance = 0.0
    for sound in product(*(range(number + 1) for number in mixes.values())):
        here = prod(
            comb(number, ok) * (1 - lost) ** ok * lost ** (number - ok)
            for number, ok in zip(mixes.values(), sound, strict=True)
        )
        made = [
            sum(ok * mix[k] for ok, mix in zip(sound, mixes, strict=True))
            for k in range(len(ordered))
        ]
        if all(m >= n for m, n in zip(made, ordered, strict=True)):
            chance += here * _all_enough(ordered, made, spoilage.copy)
    return (1 - spoilage.run) * chance


def least_overs(ordered: Sequence[int], spoilage: Spoilage, frames: int = 1) -> Overs:
    """The least number of extra copies, of all decals together, that is sure enough.

    Copies are dealt evenly to so many frames. One copy is added at a time, where it raises the
    chance most: the chance of enough good ones among n is log-concave in n (it is how a
    negative binomial adds up, whose terms are log-concave), and for a product of such chances
    that is the least number (B. Fox, Operations Research 14, 1966, 210-217; both from memory).
    With frames that are lost it is what this way finds; for one decal it is the least again.
    """
    none = (0,) * len(ordered)
    if spoilage.none:
        return Overs(extra=none, chance=1.0, wanted=True)
    whole = 1 - spoilage.frame**frames
    best = (1 - spoilage.run) * whole
    wanted = best > spoilage.certainty and spoilage.copy < 1
    aim = spoilage.certainty * (1.0 if wanted else best)
    if spoilage.copy >= 1:
        return Overs(extra=none, chance=0.0, wanted=False)
    if spoilage.frame == 0:
        extra = _one_by_one(ordered, spoilage, aim)
    else:
        extra = _over_frames(ordered, spoilage, frames, aim)
    chance = enough(ordered, dealt(ordered, extra, frames), spoilage)
    return Overs(extra=extra, chance=chance, wanted=chance >= spoilage.certainty)


def dealt(ordered: Sequence[int], extra: Sequence[int], frames: int) -> tuple[tuple[int, ...], ...]:
    """Copies of each decal on each frame, as evenly as whole copies allow."""
    made = [n + more for n, more in zip(ordered, extra, strict=True)]
    return tuple(tuple(m // frames + (k < m % frames) for m in made) for k in range(frames))


def _one_by_one(ordered: Sequence[int], spoilage: Spoilage, aim: float) -> tuple[int, ...]:
    """Where only copies and runs are spoiled."""
    extra = [0] * len(ordered)
    goal = log(aim / (1 - spoilage.run))
    now = [_log_enough(n, n, spoilage.copy) for n in ordered]
    then = [_log_enough(n, n + 1, spoilage.copy) for n in ordered]
    while sum(now) < goal and sum(extra) < OVERS_MOST * sum(ordered):
        k = max(range(len(ordered)), key=lambda k: (then[k] - now[k], -k))
        extra[k] += 1
        now[k] = then[k]
        then[k] = _log_enough(ordered[k], ordered[k] + extra[k] + 1, spoilage.copy)
    return tuple(extra)


def _over_frames(
    ordered: Sequence[int], spoilage: Spoilage, frames: int, aim: float
) -> tuple[int, ...]:
    """Frames are lost too: enough are on those that are left, then copies one by one.

    For each number of frames that may be lost, what the others must hold; of these the least
    that is sure enough, then less of each decal while it still is.
    """
    found: tuple[int, ...] | None = None
    for lost in range(frames):
        left = frames - lost
        clear = Spoilage(copy=spoilage.copy, frame=0.0, run=0.0, certainty=spoilage.certainty)
        for sure in (0.5, 0.9, 0.99, 0.999, 0.999999):
            on_left = _one_by_one(ordered, clear, sure)
            extra = tuple(
                -(-(n + more) * frames // left) - n
                for n, more in zip(ordered, on_left, strict=True)
            )
            if enough(ordered, dealt(ordered, extra, frames), spoilage) >= aim and (
                found is None or sum(extra) < sum(found)
            ):
                found = extra
    assert found is not None, "all but one frame lost is the worst that is asked for"
    return _pared(ordered, found, spoilage, frames, aim)


def _pared(
    ordered: Sequence[int],
    extra: tuple[int, ...],
    spoilage: Spoilage,
    frames: int,
    aim: float,
) -> tuple[int, ...]:
    """Fewer of each decal in turn, by halving steps, while the chance is still enough."""
    pared = list(extra)
    step = 1 << max(extra).bit_length() if extra else 0
    while step:
        for k in range(len(pared)):
            less = pared[k] - step
            if less < 0:
                continue
            trial = [*pared[:k], less, *pared[k + 1 :]]
            if enough(ordered, dealt(ordered, trial, frames), spoilage) >= aim:
                pared[k] = less
        step //= 2
    return tuple(pared)


def _all_enough(ordered: Sequence[int], made: Sequence[int], spoiled: float) -> float:
    return prod(_enough(n, m, spoiled) for n, m in zip(ordered, made, strict=True))


@lru_cache(maxsize=100_000)
def _enough(needed: int, made: int, spoiled: float) -> float:
    """At least so many good ones of those made: a binomial tail, as an incomplete beta function.

    source: Abramowitz and Stegun, Handbook of Mathematical Functions (1964), 26.5.24; from memory.
    """
    if spoiled == 0 or made < needed:
        return float(made >= needed)
    return float(betainc(needed, made - needed + 1, 1 - spoiled))


def _log_enough(needed: int, made: int, spoiled: float) -> float:
    chance = _enough(needed, made, spoiled)
    return log(chance) if chance > 0 else -inf
