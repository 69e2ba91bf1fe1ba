"""The command: files all or none, the same bytes as before, and what is wrong named."""

import shutil

import pytest
from click.testing import CliRunner

from nestplan.cli import main
from nestplan.plan_price import Search
from nestplan.plan_quote import quote_job
from nestplan.quote import quote_files
from tests.quote.a_quote import DAY, QUANTITIES, QUICK
from tests.small_job import changed

NAMES = {"quote.pdf", "quote.csv", "quote.json", "inside.pdf", "inside.csv", "inside.json"}


def asked(*words, code=0):
    result = CliRunner().invoke(main, ["quote", *map(str, words)])
    assert result.exit_code == code, result.output + result.stderr
    return result


def test_the_files_are_those_of_the_quote_byte_by_byte(job, quote, tmp_path, monkeypatch):
    """Priced a second time; only whether fuller film is looked for is told apart."""
    out = tmp_path / "out"
    numbers = ",".join(map(str, QUANTITIES))
    said = asked(job, "--quantities", numbers, "--date", DAY, "--steps", QUICK, "--out", out).stdout

    assert {path.name for path in out.iterdir()} == NAMES
    assert {path.name: path.read_bytes() for path in out.iterdir()} == quote_files(quote)
    assert "holds until 2028-03-21" in said and "quote.pdf for the customer" in said


@pytest.mark.parametrize(
    ("change", "words", "what"),
    [
        (None, (), "the quote has no date"),
        (None, ("--date", "20.2.2028"), "'20.2.2028' is not a date"),
        (None, ("--date", "20280220"), "'20280220' is not a date"),
        (None, ("--date", "2027-02-29"), "'2027-02-29' is not a date"),
        (None, ("--date", DAY, "--quantities", "12,6"), "6 comes after 12"),
        (
            None,
            ("--date", DAY, "--quantities", ",".join(map(str, range(1, 20)))),
            "prices at 19 quantities do not fit side by side",
        ),
        (("valid_days = 30", "valid_days = 0"), ("--date", DAY), "valid_days"),
        (("valid_days = 30", "valid_days = 2.5"), ("--date", DAY), "valid_days"),
        (("valid_days = 30\n", ""), ("--date", DAY), "valid_days is missing"),
        (('terms = ["R', 'terms = ["\\u0007R'), ("--date", DAY), "signs that do not print"),
    ],
)
def test_what_is_wrong_is_named_before_anything_is_nested(job, tmp_path, change, words, what):
    for name in ("job.toml", "shop.toml"):
        (tmp_path / name).write_text((job.parent / name).read_text())
    if change:
        changed(tmp_path / "shop.toml", *change)

    wanted = 3 if "do not fit" in what else 2
    result = asked(tmp_path / "job.toml", "--out", tmp_path / "out", *words, code=wanted)

    assert what in result.stderr
    assert "Traceback" not in result.stderr
    assert not (tmp_path / "out").exists()


def test_a_shop_that_says_nothing_of_quotes_is_told_what_to_write(job, tmp_path):
    for name in ("job.toml", "shop.toml"):
        (tmp_path / name).write_text((job.parent / name).read_text().partition("[quote]")[0])

    said = asked(tmp_path / "job.toml", "--date", DAY, code=2).stderr

    assert "add a table [quote] with name" in said


def test_a_rate_changed_in_the_file_gives_the_price_that_was_foretold(job, quote, tmp_path):
    """Hands at 38 an hour, a tenth more is 41.8; film at 6.40 a m², a tenth less 5.76."""
    shutil.copytree(job.parent, tmp_path / "job")
    changed(tmp_path / "job" / "shop.toml", "labour_per_h = 38", "labour_per_h = 41.8")
    dearer = quote_job(
        tmp_path / "job" / "job.toml", QUANTITIES[:1], DAY, Search(steps=QUICK, fuller=False)
    )
    moves = {move.what: move for move in quote.offers[0].moves}

    assert dearer.offers[0].priced.price.net == moves["hands"].more
    changed(tmp_path / "job" / "shop.toml", "labour_per_h = 41.8", "labour_per_h = 38")
    changed(tmp_path / "job" / "shop.toml", "price = 6.40", "price = 5.76")
    cheaper = quote_job(
        tmp_path / "job" / "job.toml", QUANTITIES[:1], DAY, Search(steps=QUICK, fuller=False)
    )
    assert cheaper.offers[0].priced.price.net == moves["film white gloss 600"].less
