"""All files of a quote, in memory: the customer's and the estimator's, apart by their names."""

import json
from collections.abc import Iterator
from typing import Any

from nestplan.cost import Price
from nestplan.files.tables import Row, csv_bytes, no_formula
from nestplan.quote.customer_page import customer_pdf
from nestplan.quote.inside_pages import inside_pdf
from nestplan.quote.quote import Quote
from nestplan.quote.quote_json import inside_json, number_of, quote_json

INSIDE = "inside.json"


def quote_files(quote: Quote) -> dict[str, bytes]:
    """By name; the customer may have those that begin with "quote". inside.json comes last and
    lists the others. raises: Fault or Faults where the customer's page cannot be set.
    """
    files = {
        "quote.pdf": customer_pdf(quote),
        "quote.csv": csv_bytes(_quote_rows(quote)),
        "quote.json": _json(quote_json(quote)),
        "inside.pdf": inside_pdf(quote),
        "inside.csv": csv_bytes(_inside_rows(quote)),
    }
    return {**files, INSIDE: _json({**inside_json(quote), "files": sorted(files)})}


def _json(said: dict[str, Any]) -> bytes:
    return f"{json.dumps(said, indent=2, ensure_ascii=False)}\n".encode()


def _quote_rows(quote: Quote) -> Iterator[Row]:
    """A line a decal and quantity; prices before tax."""
    yield (
        *("quote", "date", "valid_until", "customer", "job", "decal", "copies", "price_of_one"),
        *("price", "tax_percent", "currency"),
    )
    head = (
        number_of(quote),
        quote.day.isoformat(),
        quote.last_day.isoformat(),
        no_formula(quote.job.order.customer or ""),
        no_formula(quote.job.order.name),
    )
    for offer in quote.offers:
        price = offer.priced.price
        for decal in price.decals:
            yield (
                *head,
                no_formula(decal.name),
                decal.copies,
                f"{decal.one:f}",
                f"{decal.net:f}",
                f"{price.tax.percent:f}",
                quote.currency,
            )


def _inside_rows(quote: Quote) -> Iterator[Row]:
    """A line a cent's origin, quantity by quantity: what adds up to `gross`, no sums."""
    yield "copies", "part", "stage", "kind", "what", "amount", "unit", "rate", "money", "currency"
    for offer in quote.offers:
        for row in _origins(offer.priced.price):
            yield offer.priced.copies, *row, quote.currency


def _origins(price: Price) -> Iterator[Row]:
    for line in price.account.lines:
        yield (
            "cost",
            line.stage,
            line.kind,
            no_formula(line.what),
            f"{line.amount:f}",
            line.unit,
            f"{line.rate:f}",
            f"{line.cost:f}",
        )
    for part, each in (
        ("margin", price.margin),
        *(("discount", each) for each in price.discounts),
        ("tax", price.tax),
    ):
        if each.amount:
            yield part, "", "", each.what, f"{each.percent:f}", "%", "", f"{each.amount:f}"
