"""From nothing to what is paid, bar by bar: stages add up to cost, cost and margin to price."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from nestplan.cost.price import Price

BarKind = Literal["stage", "sum", "margin", "discount", "tax"]
ZERO = Decimal(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One bar: it begins where the one before it ends, a sum at nothing. Whole cents."""

    what: str
    kind: BarKind
    begins: Decimal
    ends: Decimal

    @property
    def amount(self) -> Decimal:
        """What it adds; of a sum, all up to there."""
        return self.ends - self.begins


def waterfall(price: Price) -> tuple[Bar, ...]:
    """Stages, cost, margin, discounts, price and, where there is tax, tax and what is paid.

    What adds nothing has no bar.
    """
    return tuple(_bars(price))


def _bars(price: Price) -> Iterator[Bar]:
    at = ZERO
    for stage, amount in price.account.by_stage:
        if amount:
            yield Bar(what=stage, kind="stage", begins=at, ends=at + amount)
            at += amount
    assert at == price.cost, "every line is of a stage"
    yield Bar(what="cost", kind="sum", begins=ZERO, ends=at)
    if price.margin.amount:
        yield Bar(what="margin", kind="margin", begins=at, ends=at + price.margin.amount)
        at += price.margin.amount
    for each in price.discounts:
        if each.amount:
            yield Bar(what="discount", kind="discount", begins=at, ends=at + each.amount)
            at += each.amount
    assert at == price.net, "what is asked is cost, margin and discounts"
    yield Bar(what="price", kind="sum", begins=ZERO, ends=at)
    if price.tax.amount:
        yield Bar(what="tax", kind="tax", begins=at, ends=at + price.tax.amount)
        yield Bar(what="with tax", kind="sum", begins=ZERO, ends=price.gross)
