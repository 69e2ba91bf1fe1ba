"""Which roll: rolls and remnants that would do, by money, waste and time.

What a run costs in film is what the shelf loses: what a roll is worth before, less what is left
of it afterwards. What is left may be a roll still, a remnant that is worth less a metre, or too
short for anything.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from nestplan.cost.lines import MM_PER_M, price_per_m
from nestplan.cost.money import cent_of, exact, in_cents
from nestplan.cost.piece import LENGTH_PLACES
from nestplan.job import Cost, Roll


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelved:
    """A roll or remnant on the shelf. id: of the piece where there is a stock, else "".

    roll: what it is made of, with this piece's own width, length left and spoiled stretches.
    """

    id: str
    roll: Roll


@dataclass(frozen=True, slots=True, kw_only=True)
class RollChoice:
    """A run on one roll. film: what the shelf loses; rest: all other costs of the run.

    left_m, left_worth: what is still there afterwards and what it is worth. waste_percent: film
    used that is not under a decal that was ordered.
    """

    shelved: Shelved
    film: Decimal
    rest: Decimal
    used_m: Decimal
    left_m: Decimal
    left_worth: Decimal
    waste_percent: float
    busy_s: float

    @property
    def total(self) -> Decimal:
        """Money, by which rolls are ranked first."""
        return self.film + self.rest


@dataclass(frozen=True, slots=True, kw_only=True)
class NoChoice:
    """A roll on which the run cannot be made, and why."""

    shelved: Shelved
    why: str


def worth(roll: Roll, length_m: Decimal, rates: Cost) -> Decimal:
    """What so much film of a roll is worth on the shelf, in cents.

    Its price when new while it is a roll; a share of that while it is a remnant; nothing when
    it is thrown away.
    """
    new = length_m * price_per_m(roll)
    if length_m >= exact(rates.remnant_below_m, LENGTH_PLACES):
        share = Decimal(100)
    elif length_m >= exact(rates.remnant_least_m, LENGTH_PLACES):
        share = rates.remnant_worth_percent
    else:
        share = Decimal(0)
    return in_cents(new * share / 100, cent_of(rates.currency))


def choice_of(
    shelved: Shelved,
    rates: Cost,
    *,
    used_mm: float,
    rest: Decimal,
    waste_percent: float,
    busy_s: float,
) -> RollChoice:
    """A run that uses so much of a roll from its front."""
    before_m = exact(shelved.roll.left_m, LENGTH_PLACES)
    used_m = exact(used_mm, LENGTH_PLACES) / MM_PER_M
    left_m = max(Decimal(0), before_m - used_m)
    left_worth = worth(shelved.roll, left_m, rates)
    return RollChoice(
        shelved=shelved,
        film=worth(shelved.roll, before_m, rates) - left_worth,
        rest=rest,
        used_m=used_m,
        left_m=left_m,
        left_worth=left_worth,
        waste_percent=waste_percent,
        busy_s=busy_s,
    )


def ranked(choices: Sequence[RollChoice]) -> tuple[RollChoice, ...]:
    """Least money first, then least waste, then least time."""
    return tuple(
        sorted(choices, key=lambda c: (c.total, c.waste_percent, c.busy_s, c.shelved.roll.name))
    )
