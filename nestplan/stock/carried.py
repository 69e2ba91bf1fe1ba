"""An estimate with what earlier runs taught about such estimates."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from nestplan.stock.correction import Correction
from nestplan.stock.history import Stage, corrections, read_outcomes
from nestplan.stock.store import has_stock, stock_path


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """A stage of a run: what is planned, what it likely takes, and between what; in one unit."""

    stage: Stage
    planned: float
    likely: float
    low: float
    high: float
    by: Correction


def carried(
    planned: Mapping[Stage, float], found: Mapping[Stage, Correction]
) -> tuple[Carried, ...]:
    """The stages of which enough runs are known. planned: film in mm, times in seconds. Pure."""
    return tuple(
        Carried(
            stage=stage,
            planned=amount,
            likely=amount * by.factor,
            low=amount * by.low,
            high=amount * by.high,
            by=by,
        )
        for stage, amount in planned.items()
        if amount > 0
        and (by := found.get(stage)) is not None
        and by.low is not None
        and by.high is not None
    )


def read_corrections(shop: Path, setup: str, level: float = 0.90) -> dict[Stage, Correction]:
    """What the runs of a shop teach about this setup; nothing where it keeps no stock.

    raises: Fault where the stock cannot be read.
    """
    if not has_stock(shop):
        return {}
    return corrections(read_outcomes(stock_path(shop)), setup=setup, level=level)
