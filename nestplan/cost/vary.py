"""What if: one thing of a job changed, and what that does to the price of a decal."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Varied:
    """One change. key: what is changed; was, now: as a person writes them.

    one: price of a decal before tax, difference: to the job as it stands. why_not: why the
    change cannot be made; the prices are None then.
    """

    key: str
    was: str
    now: str
    one: Decimal | None
    difference: Decimal | None
    film_mm: float | None
    why_not: str = ""


def by_price(changes: Sequence[Varied]) -> tuple[Varied, ...]:
    """The change that costs least first; those that cannot be made last."""
    return tuple(
        sorted(
            changes,
            key=lambda v: (v.one is None, v.one if v.one is not None else Decimal(0), v.key, v.now),
        )
    )
