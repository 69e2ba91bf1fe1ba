"""Film, times, ink and rates come in; what a run costs, line by line, and its price go out."""

from nestplan.cost.account import Account, Kind, Line, Stage
from nestplan.cost.estimate import Estimate, estimate
from nestplan.cost.lines import Taken, account_of, film_cost, metres
from nestplan.cost.overs import (
    Overs,
    Spoilage,
    by_percent,
    dealt,
    enough,
    least_overs,
    spoilage_of,
)
from nestplan.cost.piece import Piece, pieces_of
from nestplan.cost.price import DecalPrice, Price, Taxed, price_of

__all__ = [
    "Account",
    "DecalPrice",
    "Estimate",
    "Kind",
    "Line",
    "Overs",
    "Piece",
    "Price",
    "Spoilage",
    "Stage",
    "Taken",
    "Taxed",
    "account_of",
    "by_percent",
    "dealt",
    "enough",
    "estimate",
    "film_cost",
    "least_overs",
    "metres",
    "pieces_of",
    "price_of",
    "spoilage_of",
]
