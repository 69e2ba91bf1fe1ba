"""The price command on a small job: what it says, on which roll, what if, together, bad input."""

import json
from decimal import Decimal

import pytest
from click.testing import CliRunner

from nestplan.cli import main
from tests.small_job import changed, write_small_job

QUICK = ("--steps", "30")
RATES = """
set_up_s = 300
weeding_s_per_m = 4
margin_percent = 30
tax_percent = 20
"""
NARROW = """
[[roll]]
name = "white gloss 450"
width_mm = 450
left_m = 1.4
price = 6.40

[[roll]]
name = "stub"
width_mm = 600
left_m = 0.2
price = 6.40

[[machine]]
name = "printer"
"""


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    """A job and its shop with rates for a price, and two more rolls."""
    job = write_small_job(tmp_path_factory.mktemp("price") / "job")
    shop = job.parent / "shop.toml"
    changed(shop, '\n[[machine]]\nname = "printer"\n', NARROW)
    shop.write_text(shop.read_text() + RATES)
    return job


def asked(*words, code=0):
    result = CliRunner().invoke(main, ["price", *map(str, words)])
    assert result.exit_code == code, result.output + result.stderr
    return result


def test_every_cent_is_on_a_line(shop):
    (price,) = json.loads(asked(shop, *QUICK, "--json").stdout)["prices"]
    costs = [Decimal(line["cost"]) for line in price["lines"]]

    assert sum(costs) == Decimal(price["total"]) > 0
    for line in price["lines"]:
        assert sum(map(Decimal, line["by_decal"])) == Decimal(line["cost"])
    assert Decimal(price["net"]) + Decimal(price["tax"]) == Decimal(price["gross"])
    assert sum(Decimal(decal["net"]) for decal in price["decals"]) == Decimal(price["net"])
    assert abs(Decimal(price["net"]) * Decimal("0.7") - Decimal(price["total"])) < Decimal("0.01")
    said = asked(shop, *QUICK, "--lines").stdout
    for line in price["lines"]:
        assert line["what"] in said


def test_overs_are_laid_down_and_paid(shop, tmp_path):
    plain = json.loads(asked(shop, *QUICK, "--json").stdout)["prices"][0]
    text = shop.read_text()
    try:
        shop.write_text(text.replace("gutter_mm = 4.0", "gutter_mm = 4.0\novers_percent = 25"))
        more = json.loads(asked(shop, *QUICK, "--json").stdout)["prices"][0]
    finally:
        shop.write_text(text)

    assert more["planned"] == {"berth plate": 10, "club burgee": 8}
    assert more["quantities"] == plain["quantities"]
    assert Decimal(more["total"]) > Decimal(plain["total"])


def test_the_quantity_that_costs_no_more_film_costs_no_more_film(shop):
    """For one decal; one copy more than that needs more."""
    text = shop.read_text()
    try:
        cut = text.index('[[decal]]\nname = "club burgee"')
        shop.write_text(text[:cut])
        (first,) = json.loads(asked(shop, "--quantities", "7", *QUICK, "--json").stdout)["prices"]
        more = first["fuller"]["more"]
        same, longer = json.loads(
            asked(shop, "--quantities", f"{7 + more},{8 + more}", *QUICK, "--json").stdout
        )["prices"]
    finally:
        shop.write_text(text)

    assert same["length_used_mm"] <= first["length_used_mm"] + 0.01
    assert longer["length_used_mm"] > first["length_used_mm"] + 0.01


def test_rolls_are_ranked_by_money_and_one_that_is_too_short_is_said(shop):
    found = json.loads(asked(shop, "--rolls", *QUICK, "--json").stdout)

    totals = [Decimal(each["total"]) for each in found["rolls"]]
    assert totals == sorted(totals)
    assert {each["roll"] for each in found["rolls"]} == {"white gloss 600", "white gloss 450"}
    for each in found["rolls"]:
        assert Decimal(each["film"]) + Decimal(each["rest"]) == Decimal(each["total"])
    (without,) = found["without"]
    assert without["roll"] == "stub"
    assert "the run needs" in without["why"]


def test_what_if_names_the_least_price_first(shop):
    found = json.loads(asked(shop, "--vary", *QUICK, "--json").stdout)

    made = [Decimal(each["per_decal"]) for each in found["changes"] if each["per_decal"]]
    assert made == sorted(made)
    keys = {each["key"] for each in found["changes"]}
    assert keys == {"gutter_mm", "bleed_mm", "roll", "rotate", "quantity"}
    for each in found["changes"]:
        if each["per_decal"] is None:
            assert each["why_not"]
        else:
            assert Decimal(found["per_decal"]) + Decimal(each["difference"]) == Decimal(
                each["per_decal"]
            )


def test_a_shared_run_is_paid_by_what_each_would_cost_alone(shop):
    other = shop.with_name("other.toml")
    other.write_text(shop.read_text().replace("pier open day", "night market"))
    found = json.loads(asked(shop, other, *QUICK, "--json").stdout)

    one, two = (Decimal(job["film_together"]) for job in found["jobs"])
    assert abs(one - two) <= Decimal("0.01")
    for job in found["jobs"]:
        assert Decimal(job["film_together"]) <= Decimal(job["film_alone"])
    assert "saved" in asked(shop, other, *QUICK).stdout


def test_jobs_that_cannot_share_a_run_are_named(shop):
    other = shop.with_name("narrow.toml")
    other.write_text(shop.read_text().replace("white gloss 600", "white gloss 450"))
    said = asked(shop, other, *QUICK, code=2).stderr

    assert "cannot be one run: roll is white gloss 600 in one, white gloss 450 in the other" in said


@pytest.mark.parametrize(
    ("words", "what"),
    [
        (("--quantities", "100,50"), "50 comes after 100"),
        (("--quantities", "50,50"), "50 comes after 50"),
        (("--rolls", "--vary"), "--rolls and --vary are two questions"),
        (("--vary", "--quantities", "5,6"), "--vary is asked at one quantity, not at 2"),
    ],
)
def test_a_question_that_has_no_answer_is_named(shop, words, what):
    assert what in asked(shop, *words, code=2).stderr


@pytest.mark.parametrize(
    ("file", "old", "new", "what"),
    [
        ("shop.toml", "labour_per_h = 38\n", "", "labour_per_h is missing"),
        ("shop.toml", 'per = "m2"', 'per = "roll"', "length_m is missing"),
        ("shop.toml", "margin_percent = 30", "margin_percent = -5", "margin_percent"),
        ("shop.toml", "margin_percent = 30", "margin_percent = 100", "margin_percent"),
        (
            "shop.toml",
            'per = "m2"',
            'currency = "USD"',
            'the price of "white gloss 600" is in USD, the shop reckons in EUR',
        ),
        (
            "shop.toml",
            "tax_percent = 20",
            "discount = [{ copies = 50, percent = 3 }, { copies = 20, percent = 5 }]",
            "this discount is from 20 copies on, the one in front of it from 50",
        ),
        (
            "shop.toml",
            "tax_percent = 20",
            "discount = [{ copies = 20, percent = 5 }, { copies = 50, percent = 3 }]",
            "more copies would cost more",
        ),
        ("job.toml", "gutter_mm = 4.0", "masked = true", "says no price of transfer tape"),
    ],
)
def test_bad_rates_are_named(shop, tmp_path, file, old, new, what):
    for name in ("job.toml", "shop.toml"):
        (tmp_path / name).write_text((shop.parent / name).read_text())
    changed(tmp_path / file, old, new)

    result = asked(tmp_path / "job.toml", code=2)

    assert what in result.stderr
    assert "Traceback" not in result.output


def test_the_same_question_has_the_same_answer(shop):
    first, second = (asked(shop, "--quantities", "4,9", *QUICK, "--json").stdout for _ in "ab")
    alone = json.loads(asked(shop, "--quantities", "9", *QUICK, "--json").stdout)["prices"][0]

    assert first == second
    (among,) = (p for p in json.loads(first)["prices"] if p["quantities"]["berth plate"] == 9)
    assert {**among, "fuller": None} == {**alone, "fuller": None}
