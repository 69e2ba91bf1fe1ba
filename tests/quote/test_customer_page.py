"""The customer's page, read back by another library: pictures to scale, sums, nothing of cost."""

from decimal import Decimal

import pytest

from nestplan.faults import Fault, Faults
from nestplan.quote.customer_page import customer_pdf
from nestplan.quote.quote_json import number_of
from tests.quote.a_quote import CUSTOMER, at, ordered, priced_anew, with_terms
from tests.quote.read_page import picture_of, right_ends, scale_of, span_mm, type_sizes, words_of

PLATE = (0x14, 0x37, 0x5E)  # of the artwork
BURGEE = (0xC8, 0x45, 0x2D)
HARBOUR = "港"
NEAR_MM = 0.4  # of a render: a pixel at either end, and half the line round the picture


@pytest.fixture(scope="module")
def page(quote):
    return customer_pdf(quote)


def test_each_picture_is_to_scale_and_cut_out(page):
    """By pixels of a render: the plate's contour is 90 × 60 mm of art that is 98 × 68."""
    scale, pixels = scale_of(words_of(page)[0]), picture_of(page)

    wide, tall = span_mm(pixels, PLATE)
    assert (scale * wide, scale * tall) == pytest.approx((90, 60), abs=NEAR_MM * scale)
    wide, tall = span_mm(pixels, BURGEE)
    assert (scale * wide, scale * tall) == pytest.approx((77, 50), abs=NEAR_MM * scale)


def test_prices_of_one_quantity_add_up_on_the_page(quote):
    one = at(quote, 1)
    lines = words_of(customer_pdf(one))[0].splitlines()
    last = {line.rsplit(" ", 1)[0]: line.rsplit(" ", 1)[-1] for line in lines}

    rows = [line.split() for line in lines if line.startswith(("1 berth", "2 club"))]
    rows = [row for row in rows if len(row) > 4]
    assert [row[3] for row in rows] == ["12", "12"]
    net, tax = Decimal(last["before tax"]), Decimal(last["tax 20 %"])
    assert sum(Decimal(row[-1]) for row in rows) == net
    assert net + tax == Decimal(last["to pay"])
    assert abs(net / 5 - tax) <= Decimal("0.005")
    for row in rows:
        assert abs(Decimal(row[-2]) * 12 - Decimal(row[-1])) <= Decimal("0.0006")


def test_prices_of_two_quantities_add_up_on_the_page(quote, page):
    lines = words_of(page)[0].splitlines()
    found = {}
    for name in ("before tax", "tax 20 %", "to pay"):
        (line,) = [each for each in lines if each.startswith(name)]
        found[name] = list(map(Decimal, line.removeprefix(name).split()))

    for net, tax, paid in zip(*found.values(), strict=True):
        assert net + tax == paid
    assert found["before tax"] == [offer.priced.price.net for offer in quote.offers]


def test_amounts_stand_with_their_right_ends_under_one_another(quote):
    one = at(quote, 1)
    pdf, price = customer_pdf(one), one.offers[0].priced.price
    amounts = [str(each.net) for each in price.decals] + [str(price.net), str(price.gross)]

    ends = [right_ends(pdf, each)[-1] for each in amounts]
    assert max(ends) - min(ends) < 0.3


def test_the_page_says_who_when_and_how_long(quote, page):
    (words,) = words_of(page)

    for each in (CUSTOMER, "2028-02-20", "2028-03-21", number_of(quote), "Slipway Lane Decals"):
        assert each in words.replace("\n", " ")
    for term in quote.terms.terms:
        assert term in words
    assert "90 × 60 mm" in words and "5 % from 20 copies on" in words


def test_the_customer_reads_nothing_of_cost_margin_and_stages(quote, page):
    words = words_of(page)[0].lower()
    prices = [offer.priced.price for offer in quote.offers]

    for word in (
        "cost",
        "margin",
        "weeding",
        "set-up",
        "labour",
        "hands",
        "ink",
        "waste",
        "inside",
    ):
        assert word not in words
    for price in prices:
        secret = {price.cost, price.before, price.margin.amount, *price.account.by_decal}
        secret -= {price.net, price.gross, *(each.net for each in price.decals)}
        assert not [each for each in secret if str(each) in words.split()]


def test_a_currency_without_cents_has_none(quote):
    """ISO 4217: the yen has no minor unit."""
    words = words_of(
        customer_pdf(priced_anew(at(quote, 1), currency="JPY", labour_per_h=Decimal(3800)))
    )[0]
    (paid,) = [line for line in words.splitlines() if line.startswith("to pay")]

    assert "amounts in JPY" in words
    assert paid.removeprefix("to pay").strip().isdecimal()


def test_inches_stand_beside_millimetres_where_the_job_asks(quote):
    """90 mm are 3.543 in, 60 mm 2.362: by 25.4 mm an inch."""
    assert "3.543 × 2.362″" in words_of(customer_pdf(ordered(quote, show="in")))[0]


@pytest.mark.parametrize("many", [1, 3, 7, 16])
def test_it_is_one_page_with_every_decal_on_it(quote, many):
    made = priced_anew(at(quote, 0), many=many)
    (words,) = words_of(customer_pdf(made))

    for decal in made.decals:
        assert words.count(decal.name) >= 2, "under its picture and in the table"


def test_a_full_page_has_the_type_of_an_empty_one(quote):
    empty, full = (customer_pdf(priced_anew(at(quote, 0), many=many)) for many in (2, 16))

    assert type_sizes(full) == type_sizes(empty)
    assert min(type_sizes(full)) > 5


@pytest.mark.parametrize(
    ("change", "what", "do"),
    [
        (lambda q: priced_anew(q, many=40), "40 decals, 2 quantities", "divide the job"),
        (
            lambda q: with_terms(q, terms=["So long as the tide allows. " * 30] * 14),
            "lines of terms do not fit on one page",
            "shorten the terms",
        ),
        (
            lambda q: at(q, *[0, 1] * 7),
            "prices at 14 quantities do not fit side by side",
            "quantities at most",
        ),
        (lambda q: with_terms(q, name="Slip " * 15 + "Way"), "name is too long", "shorter"),
    ],
    ids=["decals", "terms", "quantities", "name"],
)
def test_what_does_not_fit_one_page_is_said_not_shrunk(quote, change, what, do):
    with pytest.raises(Fault) as said:
        customer_pdf(change(quote))

    assert what in said.value.what
    assert do in said.value.do


@pytest.mark.parametrize(
    ("change", "where", "sign"),
    [
        (lambda q: ordered(q, customer=f"school {HARBOUR}"), "customer", HARBOUR),
        (lambda q: ordered(q, name="🙂"), "job.toml, name", "🙂"),
        (lambda q: with_terms(q, terms=["plain", f"{HARBOUR}"]), "[quote], terms 2", HARBOUR),
        (lambda q: with_terms(q, address=["נמל"]), "[quote], address 1", "left to right"),
    ],
    ids=["customer", "emoji", "terms", "leftward"],
)
def test_words_that_cannot_be_set_are_named(quote, change, where, sign):
    with pytest.raises((Fault, Faults)) as said:
        customer_pdf(change(quote))

    assert where in said.value.where
    assert sign in said.value.what


def test_words_of_other_alphabets_that_can_be_set_are_set(quote):
    made = ordered(quote, customer="Łódź, Żeglarze Gdańska, Λιμάνι, Причал № 4")

    assert "Причал № 4" in words_of(customer_pdf(made))[0].replace("\n", " ")


def test_long_values_take_more_lines_and_are_not_cut(quote):
    long = "all that the race office asks for on the morning of the first start, and the flags"
    (words,) = words_of(customer_pdf(ordered(quote, name=long, customer=long)))

    assert words.replace("\n", " ").count(long) == 2


def test_a_long_name_of_a_decal_ends_in_an_ellipsis(quote):
    made = priced_anew(at(quote, 0), many=3, called="a plate whose name goes on and on " * 2)
    (words,) = words_of(customer_pdf(made))

    assert "…" in words and "3 a plate whose" in words
