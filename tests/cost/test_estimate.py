"""Money by hand, to the cent. Rates and figures are invented; what follows from them is not."""

from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal
from math import pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.clock import SetupTimes, Times
from nestplan.cost import estimate
from nestplan.cost.money import each, exact, in_cents
from nestplan.job import Cost, Roll
from tests.cut.handmade import decal, hole, square
from tests.files.handmade import a_run

RUN = a_run()
# 100 mm square, no bleed: 10 000 mm², 0.4 m of contour
PLATE = decal("plate", (square(0, 0, 100),), bleed_mm=0.0, n=50)


def job(roll=(), cost=()):
    """600 mm film at 10.00 a m²; ink 10 ml a m² at 0.12; hands 36.00 and machines 9.00 an hour."""
    keys = {
        "currency": "EUR",
        "ink_per_ml": Decimal("0.12"),
        "ink_ml_per_m2": Decimal(10),
        "labour_per_h": Decimal(36),
        "machine_per_h": Decimal(9),
    }
    film = {"name": "film", "width_mm": 600.0, "left_m": 40.0, "price": Decimal(10), "per": "m2"}
    shop = RUN.job.shop.model_copy(update={"cost": Cost.model_validate(keys | dict(cost))})
    return replace(RUN.job, shop=shop, roll=Roll.model_validate(film | dict(roll)))


def times(print_s=0.0, cut_s=0.0, handling_s=0.0):
    own = SetupTimes(
        name="pair",
        print_s=print_s,
        handling_s=handling_s,
        lag_s=3600.0,
        cut_s=cut_s,
        one_run_s=0.0,
        runs_per_shift=0,
    )
    slower = replace(own, name="other", print_s=9999.0, cut_s=9999.0, handling_s=9999.0)
    return Times(print_s=print_s, print_mode="fine", cut_s=cut_s, setups=(own, slower))


def priced(*, roll=(), cost=(), decals=(PLATE,), used_mm=1500.0, extra=0, **seconds):
    marks = replace(RUN.marks, length_used_mm=used_mm)
    planned = tuple(decal.quantity + extra for decal in decals)
    return estimate(job(roll, cost), decals, marks, times(**seconds), planned)


@pytest.mark.parametrize(
    ("roll", "film"),
    [
        ({"per": "m2"}, "9.00"),  # 1.5 m x 0.6 m x 10.00
        ({"per": "m"}, "15.00"),  # 1.5 m x 10.00
        ({"per": "roll", "length_m": 50.0, "price": Decimal("222.00")}, "6.66"),  # 1.5 / 50
        ({"per": "m2", "width_mm": 1370.0, "price": Decimal("4.35")}, "8.94"),  # 8.939 25
    ],
)
def test_film_by_its_unit_of_price(roll, film):
    assert priced(roll=roll).film == Decimal(film)


def test_ink_by_hand():
    """50 x 0.01 m² = 0.5 m², 5 ml at 0.12."""
    assert priced().ink == Decimal("0.60")


def test_ink_goes_as_far_as_the_bleed():
    """A 100 mm square grown by 10 mm is 10 000 + 4 000 + pi 100 mm² = 14 314.16, its 40 mm hole
    shrinks to 20 mm: 13 914.16 mm². 1000 of them take 139.1416 ml at 1.00. The round corners
    are chords 0.01 mm short at most, so pi 100 is up to 0.3 mm² less."""
    plate = decal("plate", (square(0, 0, 100), hole(0, 0, 40)), bleed_mm=10.0, n=1000)
    exact_ml = 10 * (10_000 + 4_000 + pi * 100 - 400) / 1000

    found = priced(decals=(plate,), cost={"ink_per_ml": Decimal(1)})

    assert 0 <= Decimal(exact_ml) - found.ink < Decimal("0.01")


def test_labour_by_hand():
    """Set-up 300 s, handling 400 s, 50 contours of 0.4 m at 5 s a metre: 800 s at 36.00 an hour."""
    found = priced(cost={"set_up_s": 300.0, "weeding_s_per_m": 5.0}, handling_s=400.0)

    assert found.labour == Decimal("8.00")


def test_weeding_goes_round_holes_too():
    """0.4 m and 0.16 m of hole, 100 copies: 56 m at 10 s, 560 s at 36.00 an hour."""
    plate = decal("plate", (square(0, 0, 100), hole(0, 0, 40)), n=100)

    assert priced(decals=(plate,), cost={"weeding_s_per_m": 10.0}).labour == Decimal("5.60")


def test_machines_are_paid_while_they_print_and_cut_and_not_while_film_dries():
    """600 s and 300 s are a quarter of an hour at 9.00."""
    assert priced(print_s=600.0, cut_s=300.0).machine == Decimal("2.25")


def test_the_whole_of_it_by_hand():
    found = priced(
        cost={"set_up_s": 300.0, "weeding_s_per_m": 5.0},
        print_s=600.0,
        cut_s=300.0,
        handling_s=400.0,
    )

    assert found.currency == "EUR"
    assert (found.film, found.ink, found.labour, found.machine) == (
        Decimal("9.00"),
        Decimal("0.60"),
        Decimal("8.00"),
        Decimal("2.25"),
    )
    assert found.total == Decimal("19.85")
    assert found.per_decal == Decimal("0.3970")
    assert found.per_decal_by_name == (("plate", Decimal("0.3970")),)


def test_the_total_is_shared_by_area():
    """40 x 10 000 mm² and 10 x 40 000 mm²: half the total each. 15.00 + 0.96 = 15.96."""
    small = replace(PLATE, name="small", quantity=40)
    large = decal("large", (square(0, 0, 200),), bleed_mm=0.0, n=10)

    found = priced(decals=(small, large), roll={"per": "m"})

    assert found.total == Decimal("15.96")
    assert found.per_decal == Decimal("0.3192")
    assert found.per_decal_by_name == (("small", Decimal("0.1995")), ("large", Decimal("0.7980")))


def test_copies_that_nobody_ordered_are_made_and_paid_by_those_that_were():
    """Ten more than the 50 ordered: 0.6 m², 6 ml at 0.12, 60 contours of 0.4 m at 5 s a metre and
    300 s of set-up are 420 s at 36.00. With film for 9.00 that is 13.92, a fiftieth each."""
    found = priced(cost={"set_up_s": 300.0, "weeding_s_per_m": 5.0}, extra=10)

    assert (found.ink, found.labour) == (Decimal("0.72"), Decimal("4.20"))
    assert found.per_decal == Decimal("0.2784")
    assert found.per_decal_by_name == (("plate", Decimal("0.2784")),)


def test_half_a_cent_is_rounded_up():
    """Banker's rounding would make both even: 0.12 and 0.14."""
    assert priced(roll={"per": "m", "price": Decimal("0.25")}, used_mm=500.0).film == Decimal(
        "0.13"
    )
    assert priced(roll={"per": "m", "price": Decimal("0.27")}, used_mm=500.0).film == Decimal(
        "0.14"
    )
    assert in_cents(Decimal("-0.125")) == Decimal("-0.13")
    assert each(Decimal("0.00005")) == Decimal("0.0001")


def test_a_price_that_no_float_can_hold_stays_itself():
    """3 x 0.1 is not 0.3 to a float; 0.615 is less than itself, and would lose its cent."""
    assert exact(0.1, 1) * 3 == Decimal("0.3")
    assert priced(roll={"per": "m", "price": Decimal("0.615")}, used_mm=1000.0).film == Decimal(
        "0.62"
    )


def test_a_measured_figure_is_rounded_to_its_places_before_it_is_priced():
    """A micrometre less than a metre by a float's error is a metre."""
    assert exact(999.9999999, 3) == Decimal("1000.000")
    assert exact(0.0, 2) == 0


money = st.decimals(0, 1000, places=3)


@given(
    price=money,
    rates=st.tuples(money, money, money),
    used_mm=st.floats(1, 50_000),
    seconds=st.tuples(*[st.floats(0, 20_000)] * 3),
    kits=st.lists(
        st.tuples(st.integers(5, 300), st.integers(0, 500), st.integers(1, 2000)),
        min_size=1,
        max_size=6,
    ),
)
def test_parts_add_up_to_the_cent_and_shares_to_the_total(price, rates, used_mm, seconds, kits):
    decals = tuple(
        decal(f"d{k}", (square(0, 0, float(side)),), bleed_mm=bleed / 100, n=n)
        for k, (side, bleed, n) in enumerate(kits)
    )
    cost = dict(zip(("ink_per_ml", "labour_per_h", "machine_per_h"), rates, strict=True))
    found = priced(
        roll={"price": price},
        cost=cost | {"weeding_s_per_m": 3.0},
        decals=decals,
        used_mm=used_mm,
        **dict(zip(("print_s", "cut_s", "handling_s"), seconds, strict=True)),
    )
    copies = sum(n for _, _, n in kits)

    parts = (found.film, found.ink, found.labour, found.machine)
    assert sum(parts) == found.total
    assert all(part == part.quantize(Decimal("0.01")) >= 0 for part in (*parts, found.total))
    assert abs(found.per_decal * copies - found.total) <= Decimal("0.00005") * copies
    shared = sum(
        share * one.quantity
        for (name, share), one in zip(found.per_decal_by_name, decals, strict=True)
        if name == one.name
    )
    assert abs(shared - found.total) <= Decimal("0.00005") * copies


@given(st.fractions(0, 1000), st.integers(1, 10**6))
def test_cents_are_the_nearest_cents(amount, scale):
    decimal = Decimal(amount.numerator) / Decimal(amount.denominator) / scale

    assert abs(in_cents(decimal) - decimal) <= Decimal("0.005")
    assert in_cents(decimal) == decimal.quantize(Decimal("0.01"), ROUND_HALF_UP)


def test_no_float_reaches_a_price():
    """Every figure of an estimate is a decimal with two places, or four for one decal."""
    run = a_run()
    found = estimate(run.job, run.artwork.decals, run.marks, run.times, run.nest.planned)

    cents = [found.film, found.ink, found.labour, found.machine, found.total]
    ones = [found.per_decal, *(share for _, share in found.per_decal_by_name)]
    assert [figure.as_tuple().exponent for figure in cents] == [-2] * 5
    assert [figure.as_tuple().exponent for figure in ones] == [-4] * 3


def test_where_the_art_stands_on_the_film_costs_nothing():
    """The same contour elsewhere about the origin has the same ink and weeding."""
    shifted = replace(PLATE, contour=PLATE.contour.moved(1234.5, -987.6))

    assert priced(decals=(shifted,)) == priced()
    assert np.isclose(shifted.contour.area_mm2, 10_000)
