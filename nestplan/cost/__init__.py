"""Film, times, ink and rates come in; what a run costs, line by line, and its price go out."""

from nestplan.cost.account import Account, Kind, Line, Stage
from nestplan.cost.estimate import Estimate, estimate
from nestplan.cost.lines import Taken, account_of, film_cost, metres
from nestplan.cost.moves import Move, moves_of
from nestplan.cost.overs import (
    Overs,
    Spoilage,
    by_percent,
    dealt,
    enough,
    least_overs,
    spoilage_of,
)
from nestplan.cost.overs_of import overs_for, overs_notes, spoilage_for, with_overs
from nestplan.cost.piece import Piece, pieces_of
from nestplan.cost.price import DecalPrice, Price, Taxed, price_of
from nestplan.cost.shared import Share, divided
from nestplan.cost.vary import Varied, by_price
from nestplan.cost.waterfall import Bar, waterfall
from nestplan.cost.which_roll import NoChoice, RollChoice, Shelved, choice_of, ranked, worth

__all__ = [
    "Account",
    "Bar",
    "DecalPrice",
    "Estimate",
    "Kind",
    "Line",
    "Move",
    "NoChoice",
    "Overs",
    "Piece",
    "Price",
    "RollChoice",
    "Share",
    "Shelved",
    "Spoilage",
    "Stage",
    "Taken",
    "Taxed",
    "Varied",
    "account_of",
    "by_percent",
    "by_price",
    "choice_of",
    "dealt",
    "divided",
    "enough",
    "estimate",
    "film_cost",
    "least_overs",
    "metres",
    "moves_of",
    "overs_for",
    "overs_notes",
    "pieces_of",
    "price_of",
    "ranked",
    "spoilage_for",
    "spoilage_of",
    "waterfall",
    "with_overs",
    "worth",
]
