"""The waterfall adds up to the cent, by hand and by property. Rates are invented."""

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from nestplan.cost import account_of, price_of, waterfall
from tests.cost.handmade import a_job, piece, taken


def bars(cost=(), order=(), **run):
    job = a_job({"per": "m"}, cost, order)
    price = price_of(job, account_of(job, taken(**run)))
    return price, waterfall(price)


def test_a_waterfall_by_hand():
    """Film 15.00 and ink 0.60; margin 8.40 of 24.00; 5 % off, 1.20; tax 19 % of 22.80, 4.33."""
    _, found = bars(
        cost={
            "margin_percent": Decimal(35),
            "discount": [{"copies": 50, "percent": Decimal(5)}],
            "tax_percent": Decimal(19),
        }
    )

    assert [(bar.what, bar.kind, str(bar.begins), str(bar.ends)) for bar in found] == [
        ("film", "stage", "0", "15.00"),
        ("print", "stage", "15.00", "15.60"),
        ("cost", "sum", "0", "15.60"),
        ("margin", "margin", "15.60", "24.00"),
        ("discount", "discount", "24.00", "22.80"),
        ("price", "sum", "0", "22.80"),
        ("tax", "tax", "22.80", "27.13"),
        ("with tax", "sum", "0", "27.13"),
    ]


def test_without_margin_and_tax_the_price_is_the_last_bar():
    assert [bar.what for bar in bars()[1]] == ["film", "print", "cost", "price"]


@given(
    margin=st.decimals(0, Decimal("99.9"), places=2),
    discounts=st.tuples(*[st.decimals(0, 100, places=2)] * 2),
    tax=st.decimals(0, 100, places=2),
    kits=st.lists(st.tuples(st.integers(1, 90_000), st.integers(1, 500)), min_size=1, max_size=4),
    seconds=st.tuples(*[st.integers(0, 9_000)] * 4),
)
def test_bars_stand_on_one_another_and_add_up_to_the_cent(margin, discounts, tax, kits, seconds):
    price, found = bars(
        cost={
            "margin_percent": margin,
            "discount": [{"copies": 1, "percent": discounts[0]}],
            "tax_percent": tax,
            "set_up_s": 300.0,
        },
        order={"discount_percent": discounts[1]},
        pieces=[piece(f"d{k}", mm2=mm2) for k, (mm2, _) in enumerate(kits)],
        ordered=[n for _, n in kits],
        **dict(zip(("print_s", "cut_s", "print_hands_s", "cut_hands_s"), seconds, strict=True)),
    )

    at = Decimal(0)
    for bar in found:
        assert bar.begins == (0 if bar.kind == "sum" else at)
        at = bar.ends if bar.kind != "sum" else at
        assert bar.ends == at, "a sum ends where the bar before it does"
    parts = [bar for bar in found if bar.kind != "sum"]
    assert sum(bar.amount for bar in parts) == price.gross == found[-1].ends
    stages = [bar.amount for bar in found if bar.kind == "stage"]
    assert sum(stages) == price.cost
    assert {bar.what: bar.ends for bar in found if bar.kind == "sum"}["price"] == price.net
    assert all(bar.amount == bar.amount.quantize(Decimal("0.01")) for bar in found)
