"""What a planned run costs, in four parts: the account in short, for summary and proof."""

from dataclasses import dataclass
from decimal import Decimal

from nestplan.cost.account import Account
from nestplan.cost.money import each


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """Parts are sums of lines that were rounded to the cent, and add up to the total.

    film: laminate, tape and parcels too. per_decal: total over copies ordered, four decimals.
    per_decal_by_name: one copy of each decal, four decimals. Copies that nobody ordered are
    printed and cut for it but no one pays for them by the piece. Each price is rounded by
    itself, halves up: price times quantity over all decals is the total but for 0.00005 a copy
    at most.
    """

    currency: str
    film: Decimal
    ink: Decimal
    labour: Decimal
    machine: Decimal
    total: Decimal
    per_decal: Decimal
    per_decal_by_name: tuple[tuple[str, Decimal], ...]


def estimate(account: Account) -> Estimate:
    """Cost of a planned run at the shop's rates, without margin, discount or tax."""
    return Estimate(
        currency=account.currency,
        film=account.of(kind="film") + account.of(kind="other"),
        ink=account.of(kind="ink"),
        labour=account.of(kind="labour"),
        machine=account.of(kind="machine"),
        total=account.total,
        per_decal=each(account.total / account.copies, account.cent),
        per_decal_by_name=tuple(
            (name, each(cost / copies, account.cent))
            for name, cost, copies in zip(
                account.names, account.by_decal, account.ordered, strict=True
            )
        ),
    )
