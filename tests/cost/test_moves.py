"""Which figures move a price most, by hand. Rates are invented."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.cost import account_of, moves_of, price_of
from tests.cost.handmade import RUN, a_job, piece, taken

ART = replace(RUN.artwork, decals=(replace(RUN.artwork.decals[0], quantity=50),))


def moves(cost=(), order=(), **run):
    """By name, with the price they move; film of 1.5 m at 10.00 a m."""
    job, took = a_job({"per": "m"}, cost, order), taken(**run)
    found = moves_of(job, ART, took, 1)
    return price_of(job, account_of(job, took)).net, {move.what: move for move in found}


def ends(move):
    return str(move.less), str(move.more)


def test_a_tenth_of_each_rate_by_hand():
    """Film 15.00; ink 50 copies of 10 000 mm² at 10 ml a m², 5 ml at 0.12: 0.60; hands 600 s at
    36.00 an hour: 6.00; machines 1200 s at 9.00: 3.00. All: 24.60."""
    net, found = moves(print_s=400.0, cut_s=800.0, print_hands_s=600.0)

    assert net == Decimal("24.60")
    assert list(found) == ["film film", "hands", "loading and carrying", "machine", "ink"]
    assert ends(found["film film"]) == ("23.10", "26.10")
    assert ends(found["hands"]) == ("24.00", "25.20")
    assert ends(found["loading and carrying"]) == ("24.00", "25.20")
    assert ends(found["machine"]) == ("24.30", "24.90")
    assert ends(found["ink"]) == ("24.54", "24.66")
    assert all(move.exact for move in found.values())


def test_margin_and_discounts_by_hand():
    """15.60 at 50 %: 31.20, less 10 % 28.08. Margin 45 %: 28.3636, 28.36 less 2.84; 55 %: 34.67
    less 3.47. Discount 9 %: 31.20 less 2.81; 11 %: less 3.43."""
    net, found = moves(
        cost={
            "margin_percent": Decimal(50),
            "discount": [
                {"copies": 50, "percent": Decimal(10)},
                {"copies": 99, "percent": Decimal(20)},
            ],
        }
    )

    assert net == Decimal("28.08")
    assert ends(found["margin"]) == ("25.52", "31.20")
    assert ends(found["discount from 50 copies on"]) == ("28.39", "27.77")
    assert "discount from 99 copies on" not in found


def test_a_figure_that_cannot_be_a_tenth_more_is_moved_down_alone():
    _, found = moves(cost={"margin_percent": Decimal(95)}, order={"discount_percent": Decimal(95)})

    assert found["margin"].more is None and found["margin"].less is not None
    assert found["discount for this job"].more is None


def test_what_costs_nothing_moves_nothing():
    _, found = moves(cost={"machine_per_h": Decimal(0)}, print_s=400.0)

    assert list(found) == ["film film", "ink"]


@pytest.mark.parametrize(("percent", "less", "more"), [(100, "15.39", "17.01"), (0, None, None)])
def test_overs_that_the_job_asks_for_move_film_and_ink_in_proportion(percent, less, more):
    """50 ordered, 50 overs: film 15.00, ink 1.20. 45 or 55 overs: 0.95 or 1.05 of both."""
    job = a_job({"per": "m"}, order={"overs_percent": Decimal(percent)})
    took = taken([piece()], ordered=(50,), extra=(percent // 2,))
    found = {move.what: move for move in moves_of(job, ART, took, 1)}

    if less is None:
        assert "overs" not in found
    else:
        assert ends(found["overs"]) == (less, more)
        assert not found["overs"].exact


def test_the_job_itself_is_as_it_was():
    job, took = a_job(), taken()
    before = price_of(job, account_of(job, took))
    moves_of(job, ART, took, 1)

    assert price_of(job, account_of(job, took)) == before


def test_more_spoilage_means_more_copies_and_a_higher_price():
    """At 20 % a tenth less or more changes how many overs make it 95 % sure."""
    net, found = moves(cost={"spoiled_copy_percent": Decimal(20)}, ordered=(50,), extra=(19,))
    move = found["spoiled copies"]

    assert not move.exact
    assert move.less < net < move.more


@given(
    cost=st.fixed_dictionaries(
        {
            "ink_per_ml": st.decimals(0, 5, places=2),
            "labour_per_h": st.decimals(0, 90, places=2),
            "machine_per_h": st.decimals(0, 90, places=2),
            "parcel": st.decimals(0, 9, places=2),
            "margin_percent": st.decimals(0, 80, places=1),
            "packing_s_per_copy": st.integers(0, 60),
        }
    ),
    discount=st.decimals(0, 50, places=1),
    film_mm=st.integers(100, 90_000),
    seconds=st.tuples(*[st.integers(0, 9_000)] * 4),
)
def test_a_tenth_more_of_every_rate_is_a_tenth_more_of_the_price(cost, discount, film_mm, seconds):
    """Euler's theorem on homogeneous functions: a price of the first degree in its rates grows by
    the sum of what each of them adds. (Any textbook of analysis; from memory.) Each price is
    rounded line by line, so the sum is off by a few cents, more with a high margin."""
    times = dict(zip(("print_s", "cut_s", "print_hands_s", "cut_hands_s"), seconds, strict=True))
    net, found = moves(cost=cost, order={"discount_percent": discount}, film_mm=film_mm, **times)
    rates = ("film film", "ink", "hands", "machine", "parcel")
    added = sum(found[name].more - net for name in rates if name in found)
    taken_off = sum(net - found[name].less for name in rates if name in found)

    lines = Decimal("0.005") * 12 / (1 - cost["margin_percent"] / 100) + Decimal("0.05")
    assert abs(added - net / 10) <= lines
    assert abs(taken_off - net / 10) <= lines
    ranked = [move.reach(net) for move in found.values()]
    assert ranked == sorted(ranked, reverse=True)


def test_a_machine_with_an_hour_of_its_own_is_moved_by_itself():
    """Film and ink 15.60; 400 s at 9.00 an hour: 1.00; 1200 s at 18.00 an hour: 6.00."""
    job, took = a_job({"per": "m"}), taken(print_s=400.0, cut_s=1200.0)
    machines = [
        machine.model_copy(update={"per_h": Decimal(18)}) if "cut" in machine.does else machine
        for machine in job.shop.machine
    ]
    job = replace(job, shop=job.shop.model_copy(update={"machine": machines}))
    (cutter,) = [machine.name for machine in machines if machine.per_h is not None]
    found = {move.what: move for move in moves_of(job, ART, took, 1)}

    assert ends(found[cutter]) == ("22.00", "23.20")
    assert ends(found["machine"]) == ("22.50", "22.70")
