"""Money by hand, to the cent. Rates and figures are invented; what follows from them is not."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.cost import account_of, estimate
from tests.cost.handmade import a_job, piece, taken


def account(*, roll=(), cost=(), order=(), **run):
    return account_of(a_job(roll, cost, order), taken(**run))


def said(found, stage):
    """Lines of a stage: what, and its cost."""
    return {line.what: line.cost for line in found.lines if line.stage == stage}


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
    assert account(roll=roll).of(kind="film") == Decimal(film)


def test_film_is_divided_by_area():
    """1.5 m of 0.6 m is 0.9 m²: 50 ordered copies lie on 0.5 of it, 10 extra ones on 0.1."""
    found = said(account(extra=(10,)), "film")

    assert found == {
        "film, under the decals": Decimal("5.00"),
        "film, under extra copies": Decimal("1.00"),
        "film, between and around them": Decimal("3.00"),
    }


def test_ink_by_hand():
    """50 x 0.01 m² = 0.5 m², 5 ml at 0.12; half of it covered: half."""
    assert said(account(), "print") == {"black ink": Decimal("0.60")}
    assert said(account(pieces=[piece(black="0.5")]), "print") == {"black ink": Decimal("0.30")}


def test_ink_that_cleaning_takes_and_an_ink_with_its_own_price():
    """5 ml and a tenth more at 0.20."""
    found = account(
        cost={"ink_lost_percent": Decimal(10), "ink_per_ml_of": {"black": Decimal("0.2")}}
    )

    assert said(found, "print") == {"black ink": Decimal("1.10")}


def test_hands_by_stage():
    """Set-up 300 s, load 240 and 160 s, 50 contours of 0.4 m at 5 s a metre, at 36.00 an hour."""
    found = account(
        cost={"set_up_s": 300.0, "weeding_s_per_m": 5.0}, print_hands_s=240.0, cut_hands_s=160.0
    )

    assert found.of(kind="labour") == Decimal("8.00")
    assert [found.of(stage=stage, kind="labour") for stage in ("set-up", "print", "cut")] == [
        Decimal("3.00"),
        Decimal("2.40"),
        Decimal("1.60"),
    ]
    assert said(found, "weeding") == {"along the contours": Decimal("1.00")}


def test_weeding_takes_longer_where_there_is_detail():
    """50 copies that turn twice, 3 s a turn: 300 s."""
    found = account(pieces=[piece(turns=2)], cost={"weeding_s_per_turn": 3.0})

    assert said(found, "weeding") == {"for their detail": Decimal("3.00")}


def test_masking_and_packing():
    """50 x 0.0121 m² = 0.605 m² of tape at 2.00; 2 s a copy and 100 s a m², 160.5 s; 1 s a copy
    and 25 s for each of 2 parcels at 0.80."""
    found = account(
        parcels=2,
        order={"masked": True},
        cost={
            "tape_per_m2": Decimal(2),
            "masking_s_per_copy": 2.0,
            "masking_s_per_m2": 100.0,
            "packing_s_per_copy": 1.0,
            "packing_s_per_parcel": 25.0,
            "parcel": Decimal("0.80"),
        },
    )

    assert said(found, "masking") == {
        "transfer tape": Decimal("1.21"),
        "lay the tape": Decimal("1.61"),  # 160.5 s
    }
    assert said(found, "packing") == {
        "count and pack": Decimal("0.50"),
        "close the parcels": Decimal("0.50"),
        "parcels": Decimal("1.60"),
    }


def test_machines_are_paid_while_they_print_and_cut_and_not_while_film_dries():
    """600 s and 300 s are a quarter of an hour at 9.00."""
    assert account(print_s=600.0, cut_s=300.0).of(kind="machine") == Decimal("2.25")


def test_a_machine_may_have_its_own_rate():
    job = a_job()
    printer = job.printer.name
    machines = [
        m.model_copy(update={"per_h": Decimal(18)}) if m.name == printer else m
        for m in job.shop.machine
    ]
    shop = job.shop.model_copy(update={"machine": machines})
    found = account_of(replace(job, shop=shop), taken(print_s=600.0, cut_s=300.0))

    assert found.of(stage="print", kind="machine") == Decimal("3.00")
    assert found.of(stage="cut", kind="machine") == Decimal("0.75")


def test_the_whole_of_it_by_hand_and_in_short():
    found = account(
        cost={"set_up_s": 300.0, "weeding_s_per_m": 5.0},
        print_s=600.0,
        cut_s=300.0,
        print_hands_s=240.0,
        cut_hands_s=160.0,
    )
    short = estimate(found)

    assert (short.film, short.ink, short.labour, short.machine) == (
        Decimal("9.00"),
        Decimal("0.60"),
        Decimal("8.00"),
        Decimal("2.25"),
    )
    assert found.total == short.total == Decimal("19.85")
    assert short.per_decal == Decimal("0.3970")
    assert short.per_decal_by_name == (("plate", Decimal("0.3970")),)


def test_each_decal_bears_what_it_takes():
    """Film for 18.00, 16.00 under decals and 2.00 beside, by area: 40 x 1 and 10 x 4 parts;
    weeding by its own contour: 40 x 0.4 m and
    10 x 0.8 m at 45 s a metre, 7.20 and 3.60."""
    pieces = [piece("small"), piece("large", mm2=40_000, contour_mm=800)]
    found = account(
        pieces=pieces,
        ordered=(40, 10),
        roll={"per": "m", "price": Decimal(12)},
        cost={"weeding_s_per_m": 45.0},
    )

    assert found.of(kind="film") == Decimal("18.00")
    assert found.by_decal == (
        Decimal("9.00") + Decimal("0.48") + Decimal("7.20"),
        Decimal("9.00") + Decimal("0.48") + Decimal("3.60"),
    )


def test_copies_that_nobody_ordered_are_made_and_paid_by_those_that_were():
    """Ten more than the 50 ordered: 0.6 m², 6 ml at 0.12, 60 contours of 0.4 m at 5 s a metre and
    300 s of set-up are 420 s at 36.00. With film for 9.00 that is 13.92, a fiftieth each."""
    found = account(cost={"set_up_s": 300.0, "weeding_s_per_m": 5.0}, extra=(10,))

    assert (found.of(kind="ink"), found.of(kind="labour")) == (Decimal("0.72"), Decimal("4.20"))
    assert estimate(found).per_decal == Decimal("0.2784")


def test_a_currency_without_cents_is_paid_in_whole_units():
    found = account(cost={"currency": "JPY"}, roll={"price": Decimal("1111.5"), "per": "m"})

    assert found.of(kind="film") == Decimal(1667)  # 1667.25
    assert all(line.cost == int(line.cost) for line in found.lines)


def test_half_a_cent_is_rounded_up():
    """Banker's rounding would make both even: 0.12 and 0.14."""
    for price, cost in (("0.25", "0.13"), ("0.27", "0.14")):
        found = account(roll={"per": "m", "price": Decimal(price)}, film_mm=500.0)
        assert found.of(kind="film") == Decimal(cost)


def test_a_price_that_no_float_can_hold_stays_itself():
    """0.615 is less than itself to a float, and would lose its cent."""
    found = account(roll={"per": "m", "price": Decimal("0.615")}, film_mm=1000.0)

    assert found.of(kind="film") == Decimal("0.62")


money = st.decimals(0, 1000, places=3)
kit = st.tuples(
    st.integers(1, 90_000), st.integers(0, 2000), st.integers(1, 500), st.integers(0, 9)
)


@given(
    price=money,
    rates=st.tuples(money, money, money, money),
    film_mm=st.floats(1, 50_000),
    seconds=st.tuples(*[st.floats(0, 20_000)] * 4),
    kits=st.lists(kit, min_size=1, max_size=6),
    currency=st.sampled_from(["EUR", "JPY", "KWD"]),
)
def test_costs_add_up_to_the_cent_at_every_level(price, rates, film_mm, seconds, kits, currency):
    keys = ("ink_per_ml", "labour_per_h", "machine_per_h", "tape_per_m2")
    found = account(
        roll={"price": price},
        cost=dict(zip(keys, rates, strict=True))
        | {"currency": currency, "weeding_s_per_m": 3.0, "packing_s_per_copy": 1.5},
        order={"masked": True},
        pieces=[piece(f"d{k}", mm2=mm2, contour_mm=mm) for k, (mm2, mm, _, _) in enumerate(kits)],
        ordered=[n for _, _, n, _ in kits],
        extra=[more for *_, more in kits],
        film_mm=film_mm,
        **dict(zip(("print_s", "cut_s", "print_hands_s", "cut_hands_s"), seconds, strict=True)),
    )

    for line in found.lines:
        assert sum(line.shares) == line.cost
        assert all(share == share.quantize(found.cent) >= 0 for share in line.shares)
    assert sum(cost for _, cost in found.by_stage) == found.total
    kinds = ("film", "ink", "other", "labour", "machine")
    assert sum(found.of(kind=kind) for kind in kinds) == found.total
    for stage, cost in found.by_stage:
        assert sum(found.of(stage=stage, kind=kind) for kind in kinds) == cost
    assert sum(found.by_decal) == found.total
    short = estimate(found)
    assert short.film + short.ink + short.labour + short.machine == short.total == found.total
    shared = sum(
        one * n for (_, one), n in zip(short.per_decal_by_name, found.ordered, strict=True)
    )
    assert abs(shared - found.total) <= found.cent / 200 * found.copies
