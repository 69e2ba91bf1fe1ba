"""What the estimator reads: pages, JSON and CSV, all to the cent, and the same bytes each time."""

import csv
import io
import json
from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.faults import Fault, Note
from nestplan.quote import last_day, quote_files
from nestplan.quote.inside_pages import inside_pdf
from tests.quote.a_quote import CUSTOMER, QUANTITIES, at, ordered, priced_anew
from tests.quote.read_page import words_of


@pytest.fixture(scope="module")
def files(quote):
    return quote_files(quote)


def rows_of(data):
    return list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"))))


def test_a_page_a_quantity_with_every_line_and_the_three_that_move_it_most(quote, files):
    pages = words_of(files["inside.pdf"])

    assert len(pages) == len(QUANTITIES)
    for page, offer in zip(pages, quote.offers, strict=True):
        price, top = offer.priced.price, offer.moves[:3]
        for line in price.account.lines:
            assert line.what in page
        for amount in (price.cost, price.margin.amount, price.net, price.tax.amount, price.gross):
            assert str(amount) in page
        for move in top:
            assert move.what in page
            assert str(move.less) in page and str(move.more) in page
        assert "Not for the customer" in page


def test_moves_fall_from_the_first_on(quote):
    for offer in quote.offers:
        reach = [move.reach(offer.priced.price.net) for move in offer.moves]
        assert len(reach) > 3
        assert reach == sorted(reach, reverse=True) and reach[-1] > 0


def test_the_csv_of_every_cent_adds_up_to_what_is_paid(quote, files):
    rows = rows_of(files["inside.csv"])

    for offer in quote.offers:
        own = [row for row in rows if row["copies"] == str(offer.priced.copies)]
        assert sum(Decimal(row["money"]) for row in own) == offer.priced.price.gross
        costs = [Decimal(row["money"]) for row in own if row["part"] == "cost"]
        assert sum(costs) == offer.priced.price.cost
    assert {row["currency"] for row in rows} == {"EUR"}


def test_json_and_csv_for_the_customer_agree_and_say_nothing_of_cost(quote, files):
    said = json.loads(files["quote.json"])
    rows = rows_of(files["quote.csv"])

    for offer in said["offers"]:
        nets = [Decimal(decal["price"]) for decal in offer["decals"]]
        assert sum(nets) == Decimal(offer["price"])
        assert Decimal(offer["price"]) + Decimal(offer["tax"]) == Decimal(offer["to_pay"])
    assert [row["price"] for row in rows] == [
        decal["price"] for offer in said["offers"] for decal in offer["decals"]
    ]
    assert {row["valid_until"] for row in rows} == {"2028-03-21"} == {said["valid_until"]}
    for name in ("quote.json", "quote.csv"):
        assert b"margin" not in files[name] and b"cost" not in files[name]


def test_the_json_inside_lists_the_files_and_its_bars_add_up(files):
    said = json.loads(files["inside.json"])

    assert said["files"] == sorted(set(files) - {"inside.json"})
    for price in said["prices"]:
        bars = [bar for bar in price["waterfall"] if bar["kind"] != "sum"]
        assert sum(Decimal(bar["amount"]) for bar in bars) == Decimal(price["gross"])


def test_a_name_is_never_a_formula(quote):
    files = quote_files(ordered(at(quote, 0), customer="=HYPERLINK(1)"))

    assert {row["customer"] for row in rows_of(files["quote.csv"])} == {"'=HYPERLINK(1)"}


def test_the_same_quote_is_the_same_bytes_and_another_has_another_number(quote, files):
    assert quote_files(quote) == files
    other = json.loads(quote_files(ordered(quote, customer="somebody else"))["quote.json"])

    assert other["quote"] != json.loads(files["quote.json"])["quote"]
    assert other["quote"].startswith("20280220-")


def test_what_finds_no_room_goes_to_another_page(quote):
    pages = words_of(inside_pdf(priced_anew(at(quote, 0), many=70)))

    assert len(pages) > 1
    assert all(f"berth plate {k}" in "".join(pages) for k in range(0, 70, 2))


def test_what_needs_a_person_stands_inside_and_not_before_the_customer(quote):
    note = Note(level="look", where="art", text="the lighthouse has no lamp")
    first = at(quote, 0).offers[0]
    offer = replace(first, priced=replace(first.priced, notes=(*first.priced.notes, note)))
    files = quote_files(replace(quote, offers=(offer,)))

    assert note.text in words_of(files["inside.pdf"])[0]
    assert note.text.encode() in files["inside.json"]
    assert note.text not in words_of(files["quote.pdf"])[0]


def test_a_quote_holds_over_a_leap_day():
    """By hand: February 2028 has 29 days, so 30 days from the 20th on are 21 March."""
    assert last_day(date(2028, 2, 20), 30) == date(2028, 3, 21)


@given(day=st.dates(date(1900, 1, 1), date(9000, 1, 1)), days=st.integers(1, 3650))
def test_how_long_it_holds_agrees_with_another_calendar(day, days):
    """numpy counts days since 1970 by the proleptic Gregorian calendar of ISO 8601."""
    assert last_day(day, days).isoformat() == str(np.datetime64(day) + days)


def test_a_quote_beyond_the_calendar_is_refused():
    with pytest.raises(Fault, match="beyond the year 9999"):
        last_day(date(9999, 12, 20), 30)


def test_the_customer_is_named_inside_too(files):
    assert all(CUSTOMER in page for page in words_of(files["inside.pdf"]))
