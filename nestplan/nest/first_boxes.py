"""First answers for boxes: rectpack's heuristics, each with every order, into an endless bin.

Runs are paid for at a price set by the number of boxes: how busy the machine is changes
nothing. Runs dearer than a fixed price are left out, whatever the budget.
"""

from collections.abc import Callable, Iterator
from itertools import product
from typing import Any

import numpy as np
import rectpack

from nestplan.nest.engine import Budget
from nestplan.nest.grown_boxes import GrownBoxes, Ints, Packed
from nestplan.nest.skyline import ACROSS, ALONG, LIES, SIDE, TURNS

HEURISTICS: tuple[Any, ...] = (rectpack.SkylineBl, rectpack.MaxRectsBl)
PRICE_MOST_STEPS = 50.0  # of one run
POLLED = 32  # boxes packed between two looks at the budget's stop

Order = tuple[int, ...]  # kinds, or rows

SORTS: tuple[Callable[[int, int], Any], ...] = (
    lambda across, along: across * along,
    lambda across, along: across + along,
    lambda across, along: abs(across - along),
    lambda across, along: (min(across, along), max(across, along)),
    lambda across, along: (max(across, along), min(across, along)),
    lambda across, along: across / along,
)


def orders(boxes: GrownBoxes) -> list[Order]:
    """Rows of the boxes by each key, from the largest down; equal ones as they come."""
    kinds, kind = boxes.kinds.tolist(), boxes.kind.tolist()
    rows = range(len(kind))
    sorted_rows = []
    for key in SORTS:
        keys = [key(across, along) for across, along, *_ in kinds]
        sorted_rows.append(tuple(sorted(rows, key=lambda row: keys[kind[row]], reverse=True)))
    return list(dict.fromkeys(sorted_rows))


def price_steps(heuristic: Any, boxes: int) -> float:
    """What a run costs: as measured, 0.1 ms a step on a core like those the steps were set on."""
    if heuristic.__name__.startswith("MaxRects"):  # compares each free rectangle with each
        return 1e-4 * boxes**3
    return 2e-3 * boxes**2


def first_packed(boxes: GrownBoxes, budget: Budget, most_steps: float) -> Iterator[Packed | None]:
    """What each run packed, None where it could not, as long as most_steps pay for them."""
    spent_steps = 0.0
    for heuristic, order in product(HEURISTICS, orders(boxes)):
        price = price_steps(heuristic, len(order))
        if price > PRICE_MOST_STEPS:
            continue
        spent_steps += price
        if spent_steps > most_steps or budget.stopped():
            return
        yield _run(heuristic, boxes, order, budget)


def _run(heuristic: Any, boxes: GrownBoxes, order: Order, budget: Budget) -> Packed | None:
    """One run; None where the boxes do not fit, or when told to stop."""
    aside = int(boxes.kinds[:, SIDE].max())  # the bin knows one width for all
    wide = boxes.wide - 2 * aside
    if wide <= 0:
        return None
    bin_ = heuristic(wide, boxes.endless, True)
    kinds, kind = boxes.kinds.tolist(), boxes.kind.tolist()
    places: Ints = np.zeros((len(order), 3), dtype=np.int64)
    for number, row in enumerate(order):
        if number % POLLED == 0 and budget.stopped():
            return None
        across, along = kinds[kind[row]][ACROSS], kinds[kind[row]][ALONG]
        bin_.rot = kinds[kind[row]][TURNS] == 1  # looked at by each add_rect
        lying = bin_.add_rect(across, along)
        if lying is None:
            return None
        places[row] = lying.x + aside, lying.y, 0
        places[row, LIES] = lying.width != across
    return boxes.packed(places)
