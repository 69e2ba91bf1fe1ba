"""From what a run costs to what is asked for it: margin, discounts, tax; each line to the cent."""

from dataclasses import dataclass
from decimal import Decimal

from nestplan.cost.account import Account
from nestplan.cost.money import apportioned, each, in_cents
from nestplan.job import Job


@dataclass(frozen=True, slots=True, kw_only=True)
class Taxed:
    """A share that is added or taken off. percent: of what stands before it; amount: signed."""

    what: str
    percent: Decimal
    amount: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class DecalPrice:
    """All ordered copies of one decal, before tax. one: of a copy, to a hundredth of a cent.

    The net price is what is paid; `one` is that divided, rounded by itself.
    """

    name: str
    copies: int
    cost: Decimal
    net: Decimal
    one: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """cost + margin = before; before + discounts = net; net + tax = gross. one: net of a copy."""

    account: Account
    margin: Taxed
    before: Decimal
    discounts: tuple[Taxed, ...]
    net: Decimal
    tax: Taxed
    gross: Decimal
    one: Decimal
    decals: tuple[DecalPrice, ...]

    @property
    def cost(self) -> Decimal:
        """What the run costs the shop."""
        return self.account.total


def price_of(job: Job, account: Account) -> Price:
    """The price of a run at the shop's margin, discounts and tax, and the job's own discount.

    The margin is a share of the price before discounts, so cost = before (1 - margin). A
    discount is a share of what the one before it has left. Every amount is rounded to the cent,
    halves away from zero; what follows is worked out from the rounded ones.
    """
    rates, cent = job.shop.cost, account.cent
    before = in_cents(account.total / (1 - rates.margin_percent / 100), cent)
    margin = Taxed(what="margin", percent=rates.margin_percent, amount=before - account.total)
    net, discounts = before, []
    reached = [d for d in rates.discount if d.copies <= account.copies]
    asked = [(f"from {d.copies} copies on", d.percent) for d in reached[-1:]]
    asked.append(("for this job", job.order.discount_percent))
    for what, percent in asked:
        if percent:
            amount = -in_cents(net * percent / 100, cent)
            discounts.append(Taxed(what=f"discount {what}", percent=percent, amount=amount))
            net += amount
    tax = in_cents(net * rates.tax_percent / 100, cent)
    costs = account.by_decal
    nets = apportioned(net, costs, cent)
    return Price(
        account=account,
        margin=margin,
        before=before,
        discounts=tuple(discounts),
        net=net,
        tax=Taxed(what="tax", percent=rates.tax_percent, amount=tax),
        gross=net + tax,
        one=each(net / account.copies, cent),
        decals=tuple(
            DecalPrice(
                name=name, copies=copies, cost=cost, net=share, one=each(share / copies, cent)
            )
            for name, copies, cost, share in zip(
                account.names, account.ordered, costs, nets, strict=True
            )
        ),
    )
