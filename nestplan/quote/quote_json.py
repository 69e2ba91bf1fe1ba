"""A quote for other programs: what the customer may read, and what the estimator does."""

from typing import Any

from nestplan.cost import waterfall
from nestplan.files.plan_id import digest_of
from nestplan.price_words import price_json
from nestplan.quote.quote import Offer, Quote

SIGNS = 6  # of the digest: enough to tell the quotes of one day apart


def quote_json(quote: Quote) -> dict[str, Any]:
    """What the customer may read; money as decimal strings, no cost and no margin."""
    said = _for_customer(quote)
    return {"schema": 1, "quote": number_of(quote), **said}


def number_of(quote: Quote) -> str:
    """The quote's number: its day, and signs of a digest of all that the customer reads."""
    day = quote.day.isoformat().replace("-", "")
    return f"{day}-{digest_of(_for_customer(quote))[:SIGNS].upper()}"


def inside_json(quote: Quote) -> dict[str, Any]:
    """All that the estimator reads: every line, bar and figure; money as decimal strings."""
    prices = price_json([offer.priced for offer in quote.offers])
    for row, offer in zip(prices["prices"], quote.offers, strict=True):
        row["waterfall"] = [
            {
                "what": bar.what,
                "kind": bar.kind,
                "amount": f"{bar.amount:f}",
                "begins": f"{bar.begins:f}",
                "ends": f"{bar.ends:f}",
            }
            for bar in waterfall(offer.priced.price)
        ]
        row["moves"] = _moves(offer)
        row["likely"] = list(offer.likely)
        row["notes"] = [
            {"level": note.level, "where": note.where, "text": note.text}
            for note in dict.fromkeys(offer.priced.notes)
        ]
    return {
        "schema": 1,
        "quote": number_of(quote),
        "date": quote.day.isoformat(),
        "valid_until": quote.last_day.isoformat(),
        "customer": quote.job.order.customer,
        "version": quote.version,
        "seed": quote.seed,
        "steps": quote.steps,
        **{key: value for key, value in prices.items() if key != "schema"},
    }


def _moves(offer: Offer) -> list[dict[str, Any]]:
    return [
        {
            "figure": move.what,
            "now": f"{move.now:f}",
            "unit": move.unit,
            "net_at_nine_tenths": None if move.less is None else f"{move.less:f}",
            "net_at_eleven_tenths": None if move.more is None else f"{move.more:f}",
            "exact": move.exact,
        }
        for move in offer.moves
    ]


def _for_customer(quote: Quote) -> dict[str, Any]:
    return {
        "date": quote.day.isoformat(),
        "valid_until": quote.last_day.isoformat(),
        "shop": {"name": quote.terms.name, "address": quote.terms.address},
        "customer": quote.job.order.customer,
        "job": quote.job.order.name,
        "film": quote.film,
        "currency": quote.currency,
        "decals": [
            {
                "name": decal.name,
                "width_mm": round(decal.footprint.width_mm, 3),
                "height_mm": round(decal.footprint.height_mm, 3),
                "cut": decal.cut,
            }
            for decal in quote.decals
        ],
        "offers": [_offer(offer) for offer in quote.offers],
        "terms": quote.terms.terms,
    }


def _offer(offer: Offer) -> dict[str, Any]:
    price = offer.priced.price
    return {
        "copies": offer.priced.copies,
        "decals": [
            {
                "name": decal.name,
                "copies": decal.copies,
                "each": f"{decal.one:f}",
                "price": f"{decal.net:f}",
            }
            for decal in price.decals
        ],
        "price": f"{price.net:f}",
        "tax_percent": f"{price.tax.percent:f}",
        "tax": f"{price.tax.amount:f}",
        "to_pay": f"{price.gross:f}",
    }
