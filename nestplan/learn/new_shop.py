"""A new shop file beside the old one with what was learned; comments and order are kept.

Figures that the readings tell only together move together, so that times come out right; the
old file is never touched.
"""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import tomlkit
from tomlkit.items import InlineTable

from nestplan.job import ShopFile, stages_of
from nestplan.job.shop_text import free_name, read_shop_text, shop_tables, shop_text
from nestplan.learn.runs import TimedRun
from nestplan.learn.solve import Learned, Learning

MOVED = 0.002  # less is no change that a stopwatch could show
DIGITS = 4  # more than any stopwatch tells


def learned_shop(
    path: Path, shop: ShopFile, learning: Learning, runs: Sequence[TimedRun]
) -> tuple[str, bytes]:
    """Name and text of the new file. raises: Fault where the old one cannot be read any more."""
    document = read_shop_text(path)
    for each in learning.learned:
        if abs(each.value / each.figure.value - 1) > MOVED:
            _write(document, shop, each)
    for machine, spreads in spreads_of(learning, runs).items():
        table = next(t for t in shop_tables(document, "machine") if str(t["name"]) == machine)
        _merge(table, "time_sd_percent", spreads)
    return free_name(path, "timed"), shop_text(document).encode()


def spreads_of(learning: Learning, runs: Sequence[TimedRun]) -> dict[str, dict[str, float]]:
    """By machine and by what it does: how far its times are off, %, over the runs given."""
    found: dict[str, dict[str, list[float]]] = {}
    for run in runs:
        for does, machine in run.machines.items():
            spread = learning.spread(run, does)  # type: ignore[arg-type]  # what a stage does
            found.setdefault(machine, {}).setdefault(does, []).append(spread)
    return {
        machine: {
            does: min(10.0, round(100 * float(np.sqrt(np.mean(np.square(each)))), 2))
            for does, each in by_kind.items()
        }
        for machine, by_kind in found.items()
    }


def _write(document: Any, shop: ShopFile, learned: Learned) -> None:
    figure, value = learned.figure, float(f"{learned.value:.{DIGITS}g}")
    if figure.key == "handling_s":
        _write_hands(document, shop, figure.owner, figure.part, value)
        return
    table = next(t for t in shop_tables(document, "machine") if str(t["name"]) == figure.owner)
    if figure.part == "sensor":
        table = table["sensor"]
    elif figure.part:
        table = next(mode for mode in table["mode"] if str(mode["name"]) == figure.part)
    web = f"web_{figure.key}"
    if web in table:  # the web's own limit is known as a share of the head's
        table[web] = float(f"{float(table[web]) * learned.value / figure.value:.{DIGITS}g}")
    table[figure.key] = value


def _write_hands(document: Any, shop: ShopFile, setup: str, does: str, value: float) -> None:
    """The stage of that setup that does it."""
    own = next(each for each in shop.setup if each.name == setup)
    stages = [stage for stage, _, _ in stages_of(shop, own)]
    table = next(t for t in shop_tables(document, "setup") if str(t["name"]) == setup)
    at = stages.index(does)  # type: ignore[arg-type]  # what a stage does
    stage = table["stages"][at]
    stage["handling_s"] = value


def _merge(table: Any, key: str, known: dict[str, float]) -> None:
    old = table.get(key, {})
    fresh = tomlkit.inline_table()
    fresh.update(old.unwrap() if isinstance(old, InlineTable) else dict(old))
    fresh.update(known)
    table[key] = fresh
