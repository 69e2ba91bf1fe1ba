"""The best set of marks for mark noise alone, and what no set can beat."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from nestplan.marks.aim import Aim, noise_aim
from nestplan.marks.design import Design
from nestplan.marks.exchange import Chosen, judged, rounded, shaken, swapped
from nestplan.marks.field import Field
from nestplan.marks.parcels import whole_in_parcels
from nestplan.marks.relax import Relaxed, relaxed

NEAR = 0.975  # of the bound, as a standard deviation: nearer is not asked
NEAR_STRIPS = 0.92  # so many figures make whole numbers dear
SHAKES = 24
AFFINE = 6  # figures; strips have more


@dataclass(frozen=True, slots=True, kw_only=True)
class BestNoise:
    """bound: no set of this many marks has a smaller greatest f_r. best: the best one found."""

    bound: float
    best: Chosen

    @property
    def near(self) -> float:
        """Share of the best possible, in standard deviations."""
        return sqrt(self.bound / self.best.greatest)


def best_noise(
    field: Field, design: Design, number: int, known: Sequence[int] | None = None
) -> BestNoise | None:
    """By the relaxation and swaps; where they lie apart, with whole numbers in every parcel.

    known: a set that is looked at as well. None where the rules leave no set at all.
    """
    loose = relaxed(field, design, number)
    if loose is None:
        return None
    aim = noise_aim(design)
    sets = [judged(aim, known)] if known is not None else []
    sets += _from(field, aim, loose, number)
    found = BestNoise(bound=loose.bound, best=min(sets, key=lambda each: each.greatest))
    strips = design.marks.shape[2] > AFFINE
    if found.near >= (NEAR_STRIPS if strips else NEAR):
        return found
    tight = whole_in_parcels(field, design, number, loose)
    sets += _from(field, aim, tight, number)
    return BestNoise(bound=tight.bound, best=min(sets, key=lambda each: each.greatest))


def _from(field: Field, aim: Aim, weights: Relaxed, number: int) -> list[Chosen]:
    begin = rounded(field, weights.weights, number)
    if begin is None:
        return []
    return [shaken(field, aim, swapped(field, aim, begin), times=SHAKES)]
