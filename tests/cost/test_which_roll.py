"""What a shelf loses by a run, and how a shared film is divided; by hand and by property."""

from decimal import Decimal
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from nestplan.cost import Shelved, choice_of, divided, ranked, worth
from nestplan.job import Roll
from tests.cost.handmade import rates

RATES = rates(remnant_below_m=10.0, remnant_least_m=1.0, remnant_worth_percent=Decimal(50))


def roll(left_m, price="4.00"):
    keys = {"name": "film", "width_mm": 600.0, "left_m": left_m, "price": Decimal(price)}
    return Roll.model_validate(keys | {"per": "m"})


def choice(left_m, used_m, price="4.00"):
    return choice_of(
        Shelved(id="", roll=roll(left_m, price)),
        RATES,
        used_mm=1000.0 * used_m,
        rest=Decimal(20),
        waste_percent=40.0,
        busy_s=60.0,
    )


def test_a_long_roll_loses_what_is_used():
    """30 m at 4.00, 28 are left: 8.00."""
    found = choice(30.0, 2.0)

    assert (found.film, found.left_worth, found.total) == tuple(
        map(Decimal, ("8.00", "112.00", "28.00"))
    )


def test_a_remnant_was_worth_half_before_and_is_after():
    """6 m at half of 4.00: 2 m of it are 4.00."""
    assert choice(6.0, 2.0).film == Decimal("4.00")


def test_a_roll_that_becomes_a_remnant_loses_that_too():
    """11 m at 4.00 are 44.00, 9 m at half of it 18.00: 2 m cost 26.00."""
    assert choice(11.0, 2.0).film == Decimal("26.00")


def test_what_is_too_short_for_anything_is_paid_by_the_run():
    """2.5 m at half of 4.00 are 5.00; half a metre left is thrown away."""
    found = choice(2.5, 2.0)

    assert (found.film, found.left_m, found.left_worth) == (
        Decimal("5.00"),
        Decimal("0.500"),
        Decimal("0.00"),
    )


def test_the_cheapest_comes_first_whatever_its_metre_costs():
    dear, cheap = choice(6.0, 2.0), choice(11.0, 2.0, price="3.00")

    assert ranked([cheap, dear]) == (dear, cheap)


@given(st.floats(0.2, 60), st.floats(0, 1))
def test_no_run_earns_money_and_none_costs_more_than_the_roll(left_m, share):
    found = choice(left_m, share * left_m)
    whole = worth(found.shelved.roll, Decimal(f"{left_m:.3f}"), RATES)

    assert 0 <= found.film <= whole
    assert found.film + found.left_worth == whole


def test_a_shared_film_by_hand():
    """12.00 of 15.00 alone: everybody pays four fifths of 9.00 and 6.00."""
    shares = divided(["flags", "plates"], [Decimal(9), Decimal(6)], Decimal("12.00"))

    assert [share.together for share in shares] == [Decimal("7.20"), Decimal("4.80")]
    assert [share.saved for share in shares] == [Decimal("1.80"), Decimal("1.20")]


cents = st.decimals(0, 10_000, places=2)


@given(st.lists(cents, min_size=1, max_size=8), cents)
def test_shares_add_up_and_nobody_pays_more_than_alone(alone, together):
    names = [f"job {k}" for k in range(len(alone))]
    shares = divided(names, alone, min(together, sum(alone)))

    assert sum(share.together for share in shares) == min(together, sum(alone))
    for share in shares:
        assert share.together < share.alone + Decimal("0.01")
    pairs = sorted((share.alone, share.together) for share in shares)
    assert all(b[1] >= a[1] - Decimal("0.01") for a, b in pairwise(pairs))
