"""What is wrong with prices whose keys are right: two currencies, discounts that fall, no tape."""

from collections.abc import Iterator
from typing import Any

from nestplan.faults import Fault
from nestplan.job.draft import Draft, Row
from nestplan.job.rates import Discount
from nestplan.job.shop_file import Roll
from nestplan.job.shown import shown


def rate_faults(shop: Draft, rolls: list[Row[Roll]]) -> list[Fault]:
    """Faults of a shop's prices."""
    cost = shop.tables.get("cost")
    if not isinstance(cost, dict):
        return []
    return [*_mixed(shop, cost.get("currency"), rolls), *_discounts(shop, cost.get("discount"))]


def _mixed(shop: Draft, currency: Any, rolls: list[Row[Roll]]) -> Iterator[Fault]:
    """Amounts of two currencies cannot be added, and no rate of exchange is guessed."""
    for row in rolls:
        own = None if row.sound is None else row.sound.currency
        if own is not None and isinstance(currency, str) and own != currency:
            yield shop.fault(
                f"the price of {shown(row.name)} is in {own}, the shop reckons in {currency}",
                ("roll", row.at, "currency"),
                f"write the price in {currency}, by the rate you buy at, and delete this currency",
            )


def _discounts(shop: Draft, listed: Any) -> Iterator[Fault]:
    """From more copies on no less is taken off."""
    before: Discount | None = None
    for at, table in enumerate(listed if isinstance(listed, list) else []):
        try:
            each = Discount.model_validate(table)
        except ValueError:
            continue
        if before is not None and each.copies <= before.copies:
            yield shop.fault(
                f"this discount is from {each.copies} copies on, the one in front of it from "
                f"{before.copies}",
                ("cost", "discount", at, "copies"),
                "write the discounts in rising order of copies, each number once",
            )
        elif before is not None and each.percent < before.percent:
            yield shop.fault(
                f"from {each.copies} copies on {shown(each.percent)} % is taken off, from "
                f"{before.copies} on {shown(before.percent)} %: more copies would cost more",
                ("cost", "discount", at, "percent"),
                f"write {shown(before.percent)} or more",
            )
        before = each


def tape_faults(job: Draft, shop: Draft) -> Iterator[Fault]:
    """A job that is masked needs a price for its tape."""
    cost = shop.tables.get("cost")
    if job.tables.get("masked") is True and isinstance(cost, dict) and "tape_per_m2" not in cost:
        yield shop.fault(
            "the job is masked, but the shop says no price of transfer tape",
            ("cost",),
            "add tape_per_m2, the price of a square metre of transfer tape, or delete masked from "
            f"{job.path.name}",
        )
