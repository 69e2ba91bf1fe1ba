"""The film of a run that several jobs share, divided by what each would cost alone.

Everybody pays the same share of what he would pay alone. Where the shared run is no dearer than
the jobs one by one, nobody pays more than alone. source: S. Moriarity, The Accounting Review 50
(1975) 791-795, from memory; it is the proportional rule of bankruptcy problems (O'Neill,
Mathematical Social Sciences 2, 1982, 345-371, from memory) put to costs.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from nestplan.cost.money import CENT, apportioned


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """One job's film: alone, and its part of the shared run's."""

    name: str
    alone: Decimal
    together: Decimal

    @property
    def saved(self) -> Decimal:
        """Less than alone; below 0 where the shared run is dearer."""
        return self.alone - self.together


def divided(
    names: Sequence[str], alone: Sequence[Decimal], together: Decimal, cent: Decimal = CENT
) -> tuple[Share, ...]:
    """The shared cost in cents that add up to it."""
    parts = apportioned(together, alone, cent)
    return tuple(
        Share(name=name, alone=cost, together=part)
        for name, cost, part in zip(names, alone, parts, strict=True)
    )
