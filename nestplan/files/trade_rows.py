"""The plans that could be chosen as rows of words: the same at the terminal and on the proof."""

from decimal import ROUND_FLOOR, Decimal
from math import floor

from nestplan import figures
from nestplan.trade import Trade

HEAD = ("print wide", "mode", "frames", "film", "print", "door to door", "cost")
CENT = Decimal("0.01")


def trade_rows(trade: Trade, currency: str) -> list[tuple[str, ...]]:
    """Names of the columns, then a row a plan, by rising film."""
    rows = [
        (
            str(figures.length(one.width_mm)),
            one.mode,
            str(one.frames),
            str(figures.film(one.film_mm)),
            str(figures.duration(one.print_s)),
            str(figures.duration_full(one.run_s)),
            str(figures.money(one.total, currency)),
        )
        for one in trade.options
    ]
    return [HEAD, *rows]


def trade_words(trade: Trade, currency: str) -> str:
    """What no plan beats, rounded down, and how many were looked at."""
    least = trade.least
    film = figures.Figure(figures.fixed(floor(least.film_mm / 10) / 100, 2), "m")
    time = figures.duration_full(floor(least.run_s))
    money = figures.money(least.total.quantize(CENT, rounding=ROUND_FLOOR), currency)
    alone = "it is best in all three" if len(trade.options) == 1 else "none beats another in all"
    tried = figures.count(trade.widths, "width")
    made = figures.count(trade.planned, "plan")
    return (
        f"{tried} tried, {made} made in full: {alone}. No plan of this job takes less than {film} "
        f"of film, {time}, {money}"
    )
