"""What a shop has on the shelf comes in; film reserved, used once and accounted for goes out."""

from nestplan.stock.carried import Carried, carried, read_corrections
from nestplan.stock.choose import (
    FromStock,
    film_at_hand,
    film_from_stock,
    on_piece,
    piece_note,
    shortest,
    with_laminate,
)
from nestplan.stock.correction import Correction, correction
from nestplan.stock.history import Outcome, corrections, read_outcomes
from nestplan.stock.plan_run import place_of, plan_run_of
from nestplan.stock.runs import Booked, LostCopy, PlanRun
from nestplan.stock.shelf import OnShelf, shelf
from nestplan.stock.shop import film_of, setup_of
from nestplan.stock.standing import changes_since, refuse_other_plan, standing_plan
from nestplan.stock.store import has_stock, open_book, stock_path

__all__ = [
    "Booked",
    "Carried",
    "Correction",
    "FromStock",
    "LostCopy",
    "OnShelf",
    "Outcome",
    "PlanRun",
    "carried",
    "changes_since",
    "correction",
    "corrections",
    "film_at_hand",
    "film_from_stock",
    "film_of",
    "has_stock",
    "on_piece",
    "open_book",
    "piece_note",
    "place_of",
    "plan_run_of",
    "read_corrections",
    "read_outcomes",
    "refuse_other_plan",
    "setup_of",
    "shelf",
    "shortest",
    "standing_plan",
    "stock_path",
    "with_laminate",
]
