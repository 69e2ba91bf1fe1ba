"""From cost to price, by hand and by property. Rates are invented."""

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from nestplan.cost import account_of, price_of
from tests.cost.handmade import a_job, piece, taken


def price(cost=(), order=(), **run):
    job = a_job({"per": "m"}, cost, order)
    return price_of(job, account_of(job, taken(**run)))


def test_margin_discounts_and_tax_by_hand():
    """Film 15.00 and ink 0.60 cost 15.60. A margin of 35 % of the price: 15.60 / 0.65 = 24.00.
    From 50 copies on 5 % off, 1.20; for the job 10 % of 22.80, 2.28. 20.52 and 19 % of it,
    3.8988, are 24.42. A 50th of 20.52 is 0.4104."""
    found = price(
        cost={
            "margin_percent": Decimal(35),
            "discount": [
                {"copies": 25, "percent": Decimal(2)},
                {"copies": 50, "percent": Decimal(5)},
                {"copies": 51, "percent": Decimal(7)},
            ],
            "tax_percent": Decimal(19),
        },
        order={"discount_percent": Decimal(10)},
    )

    assert (found.cost, found.margin.amount, found.before) == tuple(
        map(Decimal, ("15.60", "8.40", "24.00"))
    )
    assert [each.amount for each in found.discounts] == [Decimal("-1.20"), Decimal("-2.28")]
    assert (found.net, found.tax.amount, found.gross) == tuple(
        map(Decimal, ("20.52", "3.90", "24.42"))
    )
    assert found.one == found.decals[0].one == Decimal("0.4104")


def test_without_margin_discount_and_tax_the_price_is_the_cost():
    found = price()

    assert found.cost == found.before == found.net == found.gross == Decimal("15.60")
    assert found.discounts == ()


@given(
    margin=st.decimals(0, Decimal("99.9"), places=2),
    discounts=st.tuples(*[st.decimals(0, 100, places=2)] * 2),
    tax=st.decimals(0, 100, places=2),
    kits=st.lists(st.tuples(st.integers(1, 90_000), st.integers(1, 500)), min_size=1, max_size=6),
)
def test_prices_add_up_to_the_cent(margin, discounts, tax, kits):
    found = price(
        cost={
            "margin_percent": margin,
            "discount": [{"copies": 1, "percent": discounts[0]}],
            "tax_percent": tax,
        },
        order={"discount_percent": discounts[1]},
        pieces=[piece(f"d{k}", mm2=mm2) for k, (mm2, _) in enumerate(kits)],
        ordered=[n for _, n in kits],
    )

    assert found.cost + found.margin.amount == found.before
    assert found.before + sum(each.amount for each in found.discounts) == found.net >= 0
    assert found.net + found.tax.amount == found.gross
    assert sum(decal.cost for decal in found.decals) == found.cost
    assert sum(decal.net for decal in found.decals) == found.net
    amounts = [found.before, found.net, found.gross, found.margin.amount, found.tax.amount]
    assert all(amount == amount.quantize(Decimal("0.01")) for amount in amounts)
    for decal in found.decals:
        assert abs(decal.one * decal.copies - decal.net) <= Decimal("0.00005") * decal.copies
    keep = 1 - margin / 100
    assert abs(found.before * keep - found.cost) <= Decimal("0.005")
