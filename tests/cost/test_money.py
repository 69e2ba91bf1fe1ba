"""Rounding, and dividing without losing a cent."""

from decimal import ROUND_HALF_UP, Decimal

from hypothesis import given
from hypothesis import strategies as st

from nestplan.cost.money import CENT, apportioned, cent_of, each, exact, in_cents


def test_halves_are_rounded_away_from_zero():
    assert in_cents(Decimal("-0.125")) == Decimal("-0.13")
    assert each(Decimal("0.00005")) == Decimal("0.0001")


def test_a_measured_figure_is_rounded_to_its_places_before_it_is_priced():
    """3 x 0.1 is not 0.3 to a float; a micrometre less than a metre by its error is a metre."""
    assert exact(0.1, 1) * 3 == Decimal("0.3")
    assert exact(999.9999999, 3) == Decimal("1000.000")
    assert exact(0.0, 2) == 0


def test_cents_by_currency():
    """ISO 4217, minor units; from memory."""
    assert [cent_of(code) for code in ("EUR", "JPY", "KWD")] == [
        Decimal("0.01"),
        Decimal(1),
        Decimal("0.001"),
    ]


@given(st.fractions(0, 1000), st.integers(1, 10**6))
def test_cents_are_the_nearest_cents(amount, scale):
    decimal = Decimal(amount.numerator) / Decimal(amount.denominator) / scale

    assert abs(in_cents(decimal) - decimal) <= Decimal("0.005")
    assert in_cents(decimal) == decimal.quantize(Decimal("0.01"), ROUND_HALF_UP)


def test_the_cent_left_over_goes_to_the_largest_remainder():
    """1.00 by 1 : 1 : 1 is 0.34, 0.33, 0.33. 1.00 by 5 : 3 : 1 is 0.555…, 0.333…, 0.111…: the
    whole cents make 0.99, and the half cent is the largest remainder."""
    ones = [Decimal(1)] * 3
    assert apportioned(Decimal("1.00"), ones) == tuple(map(Decimal, ("0.34", "0.33", "0.33")))
    parts = [Decimal(5), Decimal(3), Decimal(1)]
    assert apportioned(Decimal("1.00"), parts) == tuple(map(Decimal, ("0.56", "0.33", "0.11")))
    assert apportioned(Decimal("-1.00"), ones) == tuple(map(Decimal, ("-0.34", "-0.33", "-0.33")))


def test_nothing_weighs_anything_then_all_bear_alike():
    assert apportioned(Decimal("0.03"), [Decimal(0)] * 2) == (Decimal("0.02"), Decimal("0.01"))


@given(
    st.decimals(-(10**6), 10**6, places=2),
    st.lists(st.decimals(0, 10**6, places=3), min_size=1, max_size=12),
)
def test_shares_add_up_and_none_is_a_cent_off(total, weights):
    shares = apportioned(total, weights)
    whole = sum(weights)

    assert sum(shares) == total
    for share, weight in zip(shares, weights, strict=True):
        meant = total * weight / whole if whole else total / len(weights)
        assert abs(share - meant) < CENT
