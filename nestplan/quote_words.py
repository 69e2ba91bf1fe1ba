"""What `quote` says: its number, how long it holds, prices, what moves them most."""

from decimal import Decimal
from pathlib import Path

from nestplan.cost import Move
from nestplan.price_words import price_words
from nestplan.quote import Quote
from nestplan.quote.moves_plot import SHOWN
from nestplan.quote.quote import Offer
from nestplan.quote.quote_json import number_of


def quote_words(quote: Quote, folder: Path | None) -> str:
    """For a person at a terminal."""
    customer = f" for {quote.job.order.customer}" if quote.job.order.customer else ""
    head = f"quote {number_of(quote)}{customer}, {quote.day}, holds until {quote.last_day}"
    lines = [head, "", price_words([offer.priced for offer in quote.offers]), ""]
    lines += [_moves(offer) for offer in quote.offers]
    if folder is not None:
        lines += ["", f"{folder}: quote.pdf for the customer, inside.pdf for you"]
    return "\n".join(lines)


def _moves(offer: Offer) -> str:
    net = offer.priced.price.net
    said = "; ".join(f"{move.what} {_range(move, net)}" for move in offer.moves[:SHOWN])
    return f"  {offer.priced.copies} copies, a tenth less and more of: {said or 'nothing'}"


def _range(move: Move, net: Decimal) -> str:
    ends = [each for each in (move.less, move.more) if each is not None]
    return " and ".join(f"{each - net:+f}" for each in ends)
