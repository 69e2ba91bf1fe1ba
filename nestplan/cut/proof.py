"""How closely the least travel is worked out: as closely as the rest of a plan is searched."""

from collections.abc import Callable
from dataclasses import dataclass
from math import log2

from nestplan.nest import never

PIECES, LEAST_PIECES = 16, 4
OF_SHARE = ((0.5, PIECES), (1 / 16, 8))  # pieces of a ring, from so much of a whole search on


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """pieces: of each ring. halvings: how often pieces that a way would enter are halved.

    stopped: asked before each halving and after; True ends the work with the best so far.
    """

    pieces: int = PIECES
    halvings: int = 0
    stopped: Callable[[], bool] = never


A_PLANS = Proof()  # as close as a whole search deserves


def proof_within(share: float, stopped: Callable[[], bool] = never) -> Proof:
    """As close as goes with so many times a whole search: a halving for each time it is doubled."""
    return Proof(
        pieces=next((pieces for least, pieces in OF_SHARE if share >= least), LEAST_PIECES),
        halvings=max(0, int(log2(share))),
        stopped=stopped,
    )
